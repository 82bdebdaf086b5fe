"""Executors: a worker that dies, a real cluster, an address without one."""

import os
import signal
import threading
import time
from collections.abc import Iterator
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest

from audiolevel.batch.executors import cores, end_processes, processes
from tests.batch.made_folder import bytes_in, make_folder, run_command


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("undisturbed")
    run = run_command(folder, "--out", out, "--jobs", 1)
    assert run.exit_code == 1  # one bad file
    assert "12 recordings: 11 measured (12 now), 1 failed" in run.stdout
    assert "bad.wav: is not a sound file" in run.stdout
    return bytes_in(out)


@pytest.fixture
def cluster() -> Iterator[Any]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as local:
        yield local


@pytest.mark.filterwarnings("ignore")  # the cluster's own farewell to its killed worker
def test_a_cluster_gives_the_same_results_even_if_a_worker_is_killed(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes], cluster: Any
) -> None:
    """A real scheduler and two real worker processes on this machine; one is killed in mid-run."""
    worker = next(iter(cluster.workers.values()))

    def kill() -> None:
        journal = tmp_path / ".journal.jsonl"
        while not (journal.exists() and journal.stat().st_size):
            time.sleep(0.01)
        os.kill(worker.pid, signal.SIGKILL)

    killer = threading.Thread(target=kill)
    killer.start()
    run = run_command(folder, "--out", tmp_path, "--scheduler", cluster.scheduler_address)
    killer.join()
    assert isinstance(run.exception, SystemExit), run.exception
    assert run.exit_code == 1, run.output
    assert bytes_in(tmp_path) == undisturbed


def test_no_scheduler_is_said_in_one_line(folder: Path, tmp_path: Path) -> None:
    run = run_command(folder, "--out", tmp_path, "--scheduler", "tcp://127.0.0.1:1")
    assert run.exit_code == 1
    assert "no scheduler answers there" in run.stderr


def test_each_call_makes_another_pool() -> None:
    make = processes(1)
    first, second = make(), make()
    try:
        assert first is not second
        assert first.submit(abs, -3).result(timeout=60) == 3
        end_processes()  # of the first: the second has begun none
        with pytest.raises(BrokenProcessPool):
            first.submit(abs, -3).result(timeout=60)
        assert second.submit(abs, -4).result(timeout=60) == 4
    finally:
        first.shutdown()
        second.shutdown()


def test_there_is_a_core() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)
