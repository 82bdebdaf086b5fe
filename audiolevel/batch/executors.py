"""Executors that a batch runs on: processes of this computer, or a Dask cluster.

Both hand out a function that makes an executor in the manner of `concurrent.futures`, because a
worker's death breaks one and another is asked for.

Entry points: `processes`, `cluster`, `cores`, `end_processes`.
"""

import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager

from audiolevel.errors import SettingError

MakeExecutor = Callable[[], Executor]
# a scheduler on the same network answers in milliseconds; a wrong address should not be waited for
_ANSWER_WITHIN = "3s"
_WORKER_RETRIES = 3


def cores() -> int:
    """Cores that this process may run on; 2 where the system does not say."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2


def processes(workers: int) -> MakeExecutor:
    """A function that makes a pool of processes on this computer.

    Parameters
    ----------
    workers : int
        Processes at a time.
    """
    # a fresh interpreter a worker: forking one that has threads would be asking for trouble
    context = multiprocessing.get_context("spawn")
    return lambda: ProcessPoolExecutor(workers, mp_context=context, initializer=_ignore_interrupt)


def _ignore_interrupt() -> None:
    """Leave Ctrl-C to the parent, which ends the workers itself."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def end_processes() -> None:
    """End the processes of every pool of this program, with what they are at."""
    for process in multiprocessing.active_children():
        process.terminate()


@contextmanager
def cluster(address: str) -> Iterator[MakeExecutor]:
    """A function that makes executors on a Dask cluster, for as long as the connection is open.

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
        yield lambda: client.get_executor(retries=_WORKER_RETRIES)  # type: ignore[no-untyped-call]
    finally:
        client.close(timeout=5)  # type: ignore[no-untyped-call]
