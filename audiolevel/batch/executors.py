"""Workers that a batch runs on: processes of this computer, or a Dask cluster.

All hand out futures in the manner of `concurrent.futures`, and all can tell of a task whether the
process that was at it has died, and how.

Entry points: `Workers`, `processes`, `cluster`, `cores`.
"""

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from multiprocessing.process import BaseProcess
from typing import Any, Protocol

from audiolevel.errors import SettingError

# a scheduler on the same network answers in milliseconds; a wrong address should not be waited for
_ANSWER_WITHIN = "3s"
_NEEDS_BATCH = "needs the extra: pip install 'audiolevel[batch]'"


class Workers(Protocol):
    """Processes that tasks are handed to.

    Attributes
    ----------
    in_flight : int
        Tasks to hand out at a time; what waits costs no memory.
    """

    in_flight: int

    def submit(self, call: Callable[[Any], Any], task: Any) -> Future[Any]:
        """Have a task done; a worker that died before is replaced."""

    def death(self, error: BaseException) -> str | None:
        """How the worker of a task died, by the task's error; None where it did not."""

    def end(self, *, at_once: bool) -> None:
        """Let the workers go; `at_once` with what they are at."""


def cores() -> int:
    """Cores that this process may run on; 2 where the system does not say."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2


@contextmanager
def processes(jobs: int | None = None) -> Iterator[Workers]:
    """Processes of this computer, for as long as the block lasts.

    Parameters
    ----------
    jobs : int, optional
        Processes at a time. By default one a core, or one alone without the extra `batch`.

    Raises
    ------
    SettingError
        Several are asked for, and the extra is not installed.
    """
    try:
        # only here: an extra that one process does without
        import pebble
    except ImportError as error:
        if jobs is not None and jobs > 1:
            raise SettingError(f"--jobs {jobs} {_NEEDS_BATCH}") from error
        workers: Workers = OneProcess()
    else:
        # a fresh interpreter a worker: forking one with threads would be asking for trouble
        context = multiprocessing.get_context("spawn")
        count = jobs or cores()
        pool = pebble.ProcessPool(count, context=context, initializer=_ignore_interrupt)
        workers = _Pool(pool, count)
    # at once, unless the block ends well: who breaks off does not want to wait
    broken_off = True
    try:
        yield workers
        broken_off = False
    finally:
        workers.end(at_once=broken_off)


def _ignore_interrupt() -> None:
    """Leave Ctrl-C to the parent, which ends the workers itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


class _Pool:
    """A pool that says which task's worker died (pebble), and goes on with the others."""

    def __init__(self, pool: Any, count: int) -> None:
        self._pool = pool
        # enough to keep every process busy
        self.in_flight = 4 * max(count, 4)

    def submit(self, call: Callable[[Any], Any], task: Any) -> Future[Any]:
        future: Future[Any] = self._pool.schedule(call, args=(task,))
        return future

    def death(self, error: BaseException) -> str | None:
        from pebble import ProcessExpired

        return ended_by(error.exitcode) if isinstance(error, ProcessExpired) else None

    def end(self, *, at_once: bool) -> None:
        if at_once:
            self._pool.stop()
        else:
            self._pool.close()
        self._pool.join()


class OneProcess:
    """One process of the standard library's pool: with one task at a time, it is known who died."""

    in_flight = 1

    def __init__(self) -> None:
        self._executor: ProcessPoolExecutor | None = None
        self._own: list[BaseProcess] = []

    def submit(self, call: Callable[[Any], Any], task: Any) -> Future[Any]:
        """Have a task done."""
        others = set(multiprocessing.active_children())
        if self._executor is None:
            context = multiprocessing.get_context("spawn")
            self._executor = ProcessPoolExecutor(
                1, mp_context=context, initializer=_ignore_interrupt
            )
        try:
            future = self._executor.submit(call, task)
        except BrokenExecutor:
            # it died between two tasks, so no task is to blame
            self._let_go()
            return self.submit(call, task)
        # the pool begins its process with its first task
        self._own += set(multiprocessing.active_children()) - others
        return future

    def death(self, error: BaseException) -> str | None:
        """How the process died; another takes its place."""
        if not isinstance(error, BrokenExecutor):
            return None
        self._let_go()
        return "its process ended"

    def _let_go(self) -> None:
        if self._executor is not None:
            # its process is gone, so waiting takes no time, and nothing of it is left open
            self._executor.shutdown(wait=True)
            self._executor = None
            self._own = []

    def end(self, *, at_once: bool) -> None:
        """Let the process go, `at_once` with what it is at."""
        if at_once:
            for process in self._own:
                process.terminate()
        self._let_go()


class Borrowed:
    """Somebody's executor in the manner of `concurrent.futures`, which they end themselves.

    Parameters
    ----------
    executor : Executor
    in_flight : int
    """

    def __init__(self, executor: Executor, in_flight: int) -> None:
        self._executor, self.in_flight = executor, in_flight

    def submit(self, call: Callable[[Any], Any], task: Any) -> Future[Any]:
        """Have a task done."""
        return self._executor.submit(call, task)

    def death(self, error: BaseException) -> str | None:
        """How a worker died: a cluster tries elsewhere by itself, and tells when it gives up."""
        died = type(error).__name__ == "KilledWorker"
        return "its workers died on the cluster" if died else None

    def end(self, *, at_once: bool) -> None:
        """Drop what has not begun, where that can be dropped."""
        if at_once:
            # a cluster's executor knows no cancelling
            with suppress(TypeError):
                self._executor.shutdown(wait=False, cancel_futures=True)


def ended_by(exit_code: int) -> str:
    """How a process ended, by its exit code: negative ones are signals."""
    if exit_code >= 0:
        return f"its process ended with status {exit_code}"
    with suppress(ValueError):
        return f"its process was ended by {signal.Signals(-exit_code).name}"
    return f"its process was ended by signal {-exit_code}"


@contextmanager
def cluster(address: str) -> Iterator[Workers]:
    """Workers of a Dask cluster, for as long as the connection is open.

    Parameters
    ----------
    address : str
        Of the scheduler, `tcp://host:port`.

    Raises
    ------
    SettingError
        `distributed` is not installed, or no scheduler answers within 3 s.
    """
    try:
        # only where a cluster is asked for: it is an extra that few install
        from distributed import Client
    except ImportError as error:
        raise SettingError(
            "--scheduler needs the extra: pip install 'audiolevel[cluster]'"
        ) from error
    try:
        client = Client(address, timeout=_ANSWER_WITHIN)  # type: ignore[no-untyped-call]
    except (OSError, TimeoutError, ValueError) as error:
        raise SettingError(f"{address}: no scheduler answers there; check the address") from error
    try:
        # the runner counts the tries itself, each alone
        executor = client.get_executor(retries=0)  # type: ignore[no-untyped-call]
        yield Borrowed(executor, in_flight=64)
    finally:
        client.close(timeout=5)  # type: ignore[no-untyped-call]
