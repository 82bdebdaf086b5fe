"""Workers: who died is known, several or one; a real cluster, an address without one."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from audiolevel.batch import executors
from audiolevel.batch.executors import cores, ended_by, processes
from audiolevel.batch.journal import Journal
from tests.batch.made_folder import bytes_in, make_folder, run_command


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("undisturbed")
    run = run_command(folder, "--out", out, "--jobs", 1)
    assert run.exit_code == 4  # one bad file
    assert "12 recordings: 11 measured (11 now), 1 failed" in run.stdout
    return bytes_in(out)


def own_number(_: object) -> int:
    """A task: the number of its process."""
    return os.getpid()


def end_self(how: int) -> int:
    """A task: ends its own process by a signal, or gives the number back where it is 0."""
    if how:
        os.kill(os.getpid(), how)
    return how


@pytest.mark.parametrize("jobs", [1, 2])
def test_the_task_that_died_is_known_and_the_others_go_on(jobs: int) -> None:
    with processes(jobs) as workers:
        tasks = [0, signal.SIGKILL, 0, signal.SIGSEGV, 0]
        futures = [workers.submit(end_self, how) for how in tasks]
        errors = [future.exception(timeout=120) for future in futures]
        deaths = [None if one is None else workers.death(one) for one in errors]
        killed = "its process was ended by SIG"
        assert deaths == [None, f"{killed}KILL", None, f"{killed}SEGV", None]
        # errors of the tasks themselves: one that fails, and one that cannot travel
        for call, task in ((int, "x"), (abs, threading.Lock())):
            failed = workers.submit(call, task).exception(timeout=120)
            assert failed is not None
            assert workers.death(failed) is None


def die_at_birth(monkeypatch: pytest.MonkeyPatch, times: int) -> list[int | None]:
    """Kill the next workers before their first instruction; the list grows by each."""
    begun, killed = executors._begun, list[int | None]()

    def stillborn() -> Any:
        worker = begun()
        if len(killed) < times:
            killed.append(worker.process.pid)
            worker.process.kill()
        return worker

    monkeypatch.setattr(executors, "_begun", stillborn)
    return killed


def test_workers_that_die_at_birth_one_after_another_cost_no_task(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    killed = die_at_birth(monkeypatch, executors._STARTS - 1)
    run = run_command(folder, "--out", tmp_path, "--jobs", 2)
    assert len(killed) == executors._STARTS - 1
    assert run.exit_code == 4, run.output
    assert bytes_in(tmp_path) == undisturbed


def test_where_no_worker_lives_the_run_ends_with_one_line(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    die_at_birth(monkeypatch, 10_000)
    run = run_command(folder, "--out", tmp_path, "--jobs", 2)
    assert run.exit_code == 1
    assert run.stderr.startswith("audiolevel: no process can be begun to measure in (20 in a row: ")
    assert run.stderr.count("\n") == 1


def test_a_worker_that_dies_between_two_tasks_costs_neither() -> None:
    with processes(1) as workers:
        first = workers.submit(own_number, None).result(timeout=120)
        os.kill(first, signal.SIGKILL)
        assert workers.submit(own_number, None).result(timeout=120) != first


def test_breaking_off_ends_a_worker_in_the_midst_of_its_task() -> None:
    futures = []
    with suppress(KeyboardInterrupt), processes(1) as workers:
        futures += [workers.submit(time.sleep, 3600), workers.submit(abs, -1)]
        while not futures[0].running():
            pass
        raise KeyboardInterrupt
    assert futures[0].exception() is not None
    assert futures[1].cancelled()


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
    assert run.exit_code == 4, run.output
    assert bytes_in(tmp_path) == undisturbed


def test_no_scheduler_is_said_in_one_line(folder: Path, tmp_path: Path) -> None:
    run = run_command(folder, "--out", tmp_path, "--scheduler", "tcp://127.0.0.1:1")
    assert run.exit_code == 1
    assert "no scheduler answers there" in run.stderr


@pytest.mark.filterwarnings("ignore")
def test_a_scheduler_without_workers_is_said_in_one_line(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distributed import LocalCluster

    monkeypatch.setattr(executors, "_WORKERS_WITHIN", 1.0)
    with LocalCluster(n_workers=0, dashboard_address=None) as local:
        run = run_command(folder, "--out", tmp_path, "--scheduler", local.scheduler_address)
    assert run.exit_code == 1
    assert "the scheduler has no workers within 1 s; start one" in run.stderr


def test_a_scheduler_that_is_lost_is_told_and_another_goes_on(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A scheduler and a worker of their own processes; the first is killed in mid-run."""
    pytest.importorskip("distributed", reason="distributed is not installed (extra: cluster)")
    kept, whole = threading.Event(), Journal.add
    processes: list[subprocess.Popen[bytes]] = []

    def start(what: str, *words: object) -> None:
        # elsewhere, so that a relative path leads nowhere
        command = [sys.executable, "-m", f"distributed.cli.dask_{what}", *map(str, words)]
        quiet = subprocess.DEVNULL
        processes.append(subprocess.Popen(command, stdout=quiet, stderr=quiet, cwd=tmp_path))

    def add(journal: Journal, key: str, result: dict[str, Any]) -> None:
        whole(journal, key, result)
        if not kept.is_set():
            kept.set()
            processes[0].kill()

    monkeypatch.setattr(Journal, "add", add)
    monkeypatch.setattr(executors, "_ANSWER_WITHIN", 30.0)
    monkeypatch.chdir(folder.parent)
    out = tmp_path / "out"
    try:
        for lost in (True, False):
            with socket.socket() as free:
                free.bind(("127.0.0.1", 0))
                port = free.getsockname()[1]
            start("scheduler", "--host", "127.0.0.1", "--port", port, "--no-dashboard")
            start("worker", f"tcp://127.0.0.1:{port}", "--nthreads", 1, "--no-dashboard")
            address = f"tcp://127.0.0.1:{port}"
            run = run_command(folder.name, "--out", out, "--scheduler", address)
            # the one that is no sound file is a failure of the second run
            assert run.exit_code == (1 if lost else 4), run.output
            assert ("the cluster is gone; start it again" in run.stderr) == lost
    finally:
        for one in processes:
            one.kill()
            one.wait()
    assert bytes_in(out) == undisturbed


def test_there_is_a_core() -> None:
    assert 1 <= cores() <= (os.cpu_count() or 1)


def test_a_small_folder_starts_one_process_and_an_hour_one_a_core(tmp_path: Path) -> None:
    for name, size in (("a.wav", 2_000_000), ("hour.wav", 350_000_000), ("hour.ogg", 50_000_000)):
        with (tmp_path / name).open("wb") as file:
            file.truncate(size)
    assert executors.worth_starting([tmp_path / "a.wav"] * 30) == 1
    assert executors.worth_starting([tmp_path / "gone.wav"]) == 1
    for hour in ("hour.wav", "hour.ogg"):
        assert executors.worth_starting([tmp_path / hour]) == min(executors.cores(), 4)
