"""Workers: who died is known, several or one; a real cluster, an address without one."""

import os
import signal
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audiolevel.batch.executors import OneProcess, cores, ended_by, processes
from audiolevel.batch.journal import Journal
from audiolevel.errors import SettingError
from tests.batch.made_folder import bytes_in, make_folder, run_command


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("undisturbed")
    run = run_command(folder, "--out", out, "--jobs", 1)
    assert run.exit_code == 1  # one bad file
    assert "12 recordings: 11 measured (11 now), 1 failed" in run.stdout
    return bytes_in(out)


def end_self(how: int) -> int:
    """A task: ends its own process by a signal, or gives the number back where it is 0."""
    if how:
        os.kill(os.getpid(), how)
    return how


@pytest.mark.parametrize("extra", [True, False])
def test_the_task_that_died_is_known_and_the_others_go_on(
    extra: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not extra:
        monkeypatch.setitem(sys.modules, "pebble", None)
    with processes(2 if extra else None) as workers:
        assert isinstance(workers, OneProcess) is not extra
        tasks = [0, signal.SIGKILL, 0, signal.SIGSEGV, 0]
        if workers.in_flight > 1:
            futures = [workers.submit(end_self, how) for how in tasks]
            errors = [future.exception(timeout=120) for future in futures]
            deaths = [None if one is None else workers.death(one) for one in errors]
        else:
            deaths = []
            for how in tasks:
                error = workers.submit(end_self, how).exception(timeout=120)
                deaths.append(None if error is None else workers.death(error))
        assert [death is not None for death in deaths] == [bool(how) for how in tasks]
        if extra:
            assert deaths[1] == "its process was ended by SIGKILL"
            assert deaths[3] == "its process was ended by SIGSEGV"
        failed = workers.submit(int, "x").exception(timeout=120)
        assert failed is not None
        assert workers.death(failed) is None  # an error of the task itself


def test_several_processes_need_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pebble", None)
    needed = r"--jobs 3 needs the extra: pip install 'audiolevel\[batch\]'"
    with pytest.raises(SettingError, match=needed), processes(3):
        pass


def test_an_end_in_words() -> None:
    assert ended_by(-9) == "its process was ended by SIGKILL"
    assert ended_by(3) == "its process ended with status 3"
    assert ended_by(-200) == "its process was ended by signal 200"


@pytest.fixture
def cluster() -> Iterator[Any]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as local:
        yield local


@pytest.mark.filterwarnings("ignore")  # the cluster's own farewell to its killed worker
def test_a_cluster_gives_the_same_results_even_if_a_worker_is_killed(
    folder: Path,
    tmp_path: Path,
    undisturbed: dict[str, bytes],
    cluster: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A real scheduler and two real worker processes on this machine; one dies in mid-run."""
    worker = next(iter(cluster.workers.values()))
    kept, whole = threading.Event(), Journal.add

    def add(journal: Journal, key: str, result: dict[str, Any]) -> None:
        whole(journal, key, result)
        if not kept.is_set():
            kept.set()
            os.kill(worker.pid, signal.SIGKILL)

    monkeypatch.setattr(Journal, "add", add)
    run = run_command(folder, "--out", tmp_path, "--scheduler", cluster.scheduler_address)
    assert kept.is_set()
    assert isinstance(run.exception, SystemExit), run.exception
    assert run.exit_code == 1, run.output
    assert bytes_in(tmp_path) == undisturbed


def test_no_scheduler_is_said_in_one_line(folder: Path, tmp_path: Path) -> None:
    run = run_command(folder, "--out", tmp_path, "--scheduler", "tcp://127.0.0.1:1")
    assert run.exit_code == 1
    assert "no scheduler answers there" in run.stderr


def test_there_is_a_core() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)
