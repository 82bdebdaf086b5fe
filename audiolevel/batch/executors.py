"""Workers that a batch runs on: processes of this computer, or a Dask cluster.

All hand out futures in the manner of `concurrent.futures`, and all can tell of a task whether the
process that was at it has died, and how.

Entry points: `Workers`, `processes`, `worth_starting`, `cluster`, `cores`.
"""

import logging
import multiprocessing
import os
import pickle
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any, Protocol

from audiolevel.ground.errors import AudioLevelError, SettingError

# a scheduler on the same network answers in milliseconds; a wrong address should not be waited for
_ANSWER_WITHIN = 3.0
# workers may still be on their way up
_WORKERS_WITHIN = 30.0
# workers that may die in a row, none of them at a task: more, and it is the computer that ends them
_STARTS = 20
# EX_USAGE of sysexits.h: how a process ends that a script without a main guard began
_NO_GUARD = 64


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
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 2


# A process takes a second to begin, and measures so many bytes of 16-bit samples in three (measured
# on two cores); files that are packed hold two to ten times as many samples
_WORTH_BYTES = 100e6
_PACKED = {".wav": 1.0, ".flac": 2.0}


def worth_starting(files: Iterable[Path]) -> int:
    """How many processes pay for themselves with these files, at most one a core."""
    work = 0.0
    for path in files:
        with suppress(OSError):
            work += path.stat().st_size * _PACKED.get(path.suffix.lower(), 8.0)
    return min(cores(), 1 + int(work // _WORTH_BYTES))


@contextmanager
def processes(jobs: int | None = None) -> Iterator[Workers]:
    """Processes of this computer, for as long as the block lasts.

    Parameters
    ----------
    jobs : int, optional
        Processes at a time. By default one a core.
    """
    workers = _Processes(jobs or cores())
    # at once, unless the block ends well: who breaks off does not want to wait
    broken_off = True
    try:
        yield workers
        broken_off = False
    finally:
        workers.end(at_once=broken_off)


def refuse_unguarded() -> None:
    """End a process that was begun to measure and came by a script's call to measure again.

    A script without a main guard calls again from each process that is begun for it. It would
    begin processes of its own; the process that called first says what to do.
    """
    # set by `multiprocessing` while a process runs the script of the one that began it
    if getattr(multiprocessing.current_process(), "_inheriting", False):
        os._exit(_NO_GUARD)


class _DiedError(Exception):
    """The process that was at a task has ended; how, is its exit code."""

    def __init__(self, exit_code: int) -> None:
        super().__init__(exit_code)
        self.exit_code = exit_code


@dataclass(frozen=True, eq=False)
class _Worker:
    """A process, and the pipe to it: nobody else has the other end, so that both end together."""

    process: BaseProcess
    pipe: Connection


class _Processes:
    """Processes, each with a thread that waits for it: who dies takes one task along, or none.

    What processes share, a queue or a lock, is left locked or half written by one that is killed;
    these share nothing.
    """

    def __init__(self, count: int) -> None:
        # enough to keep every process busy
        self.in_flight = 4 * max(count, 4)
        self._threads = ThreadPoolExecutor(count, initializer=_leave_interrupt)
        self._mine = threading.local()
        self._all: set[_Worker] = set()
        # processes are begun and waited for by one thread at a time
        self._lock = threading.Lock()
        self._broken_off = False
        self._stillborn = 0

    def submit(self, call: Callable[[Any], Any], task: Any) -> Future[Any]:
        try:
            return self._threads.submit(self._do, call, task)
        except RuntimeError as error:  # the system gives no thread
            raise _no_worker(str(error)) from error

    def _do(self, call: Callable[[Any], Any], task: Any) -> Any:
        while True:
            begun = False
            worker = self._worker()
            try:
                worker.pipe.send((call, task))
                begun = worker.pipe.recv()
                result, error = worker.pipe.recv()
            except (EOFError, OSError) as end:
                died = _DiedError(self._let_go(worker))
                if not begun and died.exit_code == _NO_GUARD:
                    raise SettingError(
                        "measure_folder: each process runs the script that calls it, so call it "
                        'below: if __name__ == "__main__":'
                    ) from None
                self._stillborn = 0 if begun else self._stillborn + 1
                if begun:
                    raise died from end
                # it died at its start or between two tasks, so no task is to blame
                if self._stillborn >= _STARTS:
                    raise _no_worker(f"{_STARTS} in a row: {ended_by(died.exit_code)}") from end
                continue
            self._stillborn = 0
            if error is not None:
                raise error
            return result

    def _worker(self) -> _Worker:
        """The process of this thread, begun where there is none."""
        worker: _Worker | None = getattr(self._mine, "worker", None)
        if worker is None:
            with self._lock:
                if self._broken_off:
                    raise _DiedError(0)
                worker = self._mine.worker = _begun()
                self._all.add(worker)
        return worker

    def _let_go(self, worker: _Worker) -> int:
        """Wait for the end of a process, which the closed pipe brings if nothing else has."""
        self._mine.worker = None
        worker.pipe.close()
        with self._lock:
            self._all.discard(worker)
            worker.process.join()
        return worker.process.exitcode or 0

    def death(self, error: BaseException) -> str | None:
        return ended_by(error.exit_code) if isinstance(error, _DiedError) else None

    def end(self, *, at_once: bool) -> None:
        with self._lock:
            self._broken_off = at_once
            for worker in self._all if at_once else ():
                worker.process.kill()
        self._threads.shutdown(cancel_futures=at_once)
        for worker in list(self._all):
            self._let_go(worker)


def _begun() -> _Worker:
    # a fresh interpreter: forking one with threads would be asking for trouble
    context = multiprocessing.get_context("spawn")
    try:
        ours, theirs = context.Pipe()
        with theirs:
            process = context.Process(target=_work, args=(theirs,), daemon=True)
            process.start()
    except OSError as error:
        raise _no_worker(error.strerror or str(error)) from error
    return _Worker(process, ours)


def _no_worker(why: str) -> AudioLevelError:
    return AudioLevelError(
        f"no process can be begun to measure in ({why}); end other programs, or ask for fewer "
        "with --jobs"
    )


def _leave_interrupt() -> None:
    """Leave Ctrl-C to the main thread; the processes that this thread begins never see it."""
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})


def _work(pipe: Connection) -> None:
    """What a process does: say that a task has begun, then what came of it, until nobody asks."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(EOFError, OSError):
        while True:
            given = pipe.recv_bytes()
            pipe.send(True)
            pipe.send_bytes(_done(given))


def _done(given: bytes) -> bytes:
    try:
        call, task = pickle.loads(given)
        return pickle.dumps((call(task), None))
    except Exception as error:
        # an error need not travel either
        with suppress(Exception):
            return pickle.dumps((None, error))
        return pickle.dumps((None, RuntimeError(repr(error))))


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
    with _hushed():
        try:
            client = Client(address, timeout=_ANSWER_WITHIN)  # type: ignore[no-untyped-call]
        except (OSError, TimeoutError, ValueError) as error:
            raise SettingError(
                f"{address}: no scheduler answers there; check the address"
            ) from error
        try:
            # the runner counts the tries itself, each alone
            executor = client.get_executor(retries=0)  # type: ignore[no-untyped-call]
            # without any, tasks would wait for ever
            client.wait_for_workers(1, timeout=_WORKERS_WITHIN)
            yield Borrowed(executor, in_flight=64)
        except TimeoutError as error:
            raise SettingError(
                f"{address}: the scheduler has no workers within {_WORKERS_WITHIN:g} s; start one"
            ) from error
        finally:
            client.close(timeout=5)  # type: ignore[no-untyped-call]


@contextmanager
def _hushed() -> Iterator[None]:
    """Dask without its tracebacks: what goes wrong is told in one line."""
    loud = [logging.getLogger(f"distributed.{name}") for name in ("client", "core", "utils")]
    levels = [one.level for one in loud]
    for one in loud:
        one.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for one, level in zip(loud, levels, strict=True):
            one.setLevel(level)
