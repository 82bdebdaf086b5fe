"""The run over a folder of recordings: in parallel, resumable, and the same every time.

Every recording is a task; one longer than an hour is a task an hour, joined exactly. Tasks run on
any executor in the manner of `concurrent.futures`. Results are kept in a journal by path, size,
modification time and settings, so a second run does only what is new or changed.

Entry points: `run_batch`, `Batch`, `Progress`.
"""

import hashlib
import json
import os
from collections import deque
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audiolevel.batch.discovery import Item
from audiolevel.batch.executors import MakeExecutor
from audiolevel.batch.journal import Journal
from audiolevel.errors import AudioLevelError
from audiolevel.version import __version__

if TYPE_CHECKING:
    from audiolevel.metering.measurement import Measurement

PIECE_S = 3600
# below this a file cannot be an hour of anything that seeks exactly: 8 kHz, 8 bit, packed by half
_LONG_BYTES = 12_000_000
_TRIES = 3  # of a recording whose worker died, before it is called a failure

Record = dict[str, Any]
MakeRecord = Callable[[Item, "Measurement"], Record]


@dataclass(frozen=True)
class Task:
    """What one worker does in one go: a recording, or one piece of it.

    Attributes
    ----------
    folder : str
    item : Item
    make_record : callable
        Turns the measurement into what is kept; it travels to the worker with the task.
    piece, pieces : int
        Which of how many hours of the recording.
    """

    folder: str
    item: Item
    make_record: MakeRecord
    piece: int = 0
    pieces: int = 1


@dataclass
class Progress:
    """How far a batch has come: files done, and seconds of sound measured in this run."""

    files: int = 0
    measured_s: float = 0.0


@dataclass(frozen=True)
class Batch:
    """A batch that has run: its items, and where the results are.

    Attributes
    ----------
    items : tuple of Item
    keys : tuple of str
        Of the journal, in the order of the items.
    failed : int
        Recordings that could not be measured.
    measured : int
        Recordings that this run measured; the others were in the journal.
    """

    items: tuple[Item, ...]
    keys: tuple[str, ...]
    failed: int
    measured: int


def run_batch(
    folder: str | os.PathLike[str],
    items: Sequence[Item],
    journal: Journal,
    make_executor: MakeExecutor,
    make_record: MakeRecord,
    *,
    in_flight: int,
    progress: Callable[[Progress], None] | None = None,
) -> Batch:
    """Measure every item that the journal does not know yet.

    Parameters
    ----------
    folder : path
        That the items' paths are relative to.
    items : sequence of Item
    journal : Journal
        Open; it receives a result as soon as there is one.
    make_executor : callable
        Gives an executor; asked again when a worker's death has broken it.
    make_record : callable
        Turns an item and its `Measurement` into the record that is kept; a function of a module,
        so that it reaches other processes.
    in_flight : int
        Tasks handed out at a time; what is waiting costs no memory.
    progress : callable or None
        Called with a `Progress` after each result.

    Returns
    -------
    Batch

    Notes
    -----
    A recording that cannot be measured is a result too: its reason is kept.
    """
    keys = [key_of(Path(folder), item) for item in items]
    todo = [(key, item) for key, item in zip(keys, items, strict=True) if key not in journal]
    done = Progress(files=len(items) - len(todo))
    tasks = _tasks(str(folder), todo, make_record)
    _Runner(journal, make_executor, in_flight, done, progress).run(tasks)
    # read from the journal, so that failures of earlier runs count too
    failed = sum("reason" in result for result in journal.results(keys))
    return Batch(tuple(items), tuple(keys), failed, len(todo))


def key_of(folder: Path, item: Item) -> str:
    """Key of a result, from all it depends on: version, path, size, modification time, settings.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    try:
        status = (folder / item.path).stat()
        size, changed = status.st_size, status.st_mtime_ns
    except OSError:
        # it is tried all the same, and the reason why it fails is kept
        size, changed = -1, -1
    # whatever of these changes makes another key, and the recording is measured again
    facts = [
        __version__,
        item.path,
        size,
        changed,
        item.channel,
        item.start.isoformat() if item.start else None,
        item.gain_setting,
        item.site,
        _site_text(item.site_file),
    ]
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()[:32]


# read once for a site and not once for each of its recordings
@lru_cache(maxsize=256)
def _site_text(site_file: str | None) -> str:
    with suppress(OSError):
        return Path(site_file).read_text(encoding="utf-8") if site_file else ""
    return ""


class _Runner:
    """Keeps the executor fed, and the journal."""

    def __init__(
        self,
        journal: Journal,
        make_executor: MakeExecutor,
        in_flight: int,
        done: Progress,
        progress: Callable[[Progress], None] | None,
    ) -> None:
        self._journal, self._make, self._in_flight = journal, make_executor, in_flight
        self._done, self._report = done, progress
        self._pieces: dict[str, list[Any]] = {}
        self._tries: dict[tuple[str, int], int] = {}

    def run(self, tasks: Iterator[tuple[str, Task]]) -> None:
        waiting = deque[tuple[str, Task]]()
        running: dict[Future[Any], tuple[str, Task]] = {}
        executor = self._make()
        try:
            while True:
                broken = self._submit(executor, running, waiting, tasks)
                if not running and not broken:
                    return
                if not broken:
                    finished, _ = wait(running, return_when=FIRST_COMPLETED)
                    broken = self._collect(finished, running, waiting)
                if broken:
                    # what was under way is tried again on new workers
                    waiting.extendleft(running.values())
                    running.clear()
                    # its workers are gone, so there is nothing to wait for
                    executor.shutdown(wait=False)
                    executor = self._make()
        finally:
            _leave(executor, running)

    def _submit(
        self,
        executor: Executor,
        running: dict[Future[Any], tuple[str, Task]],
        waiting: deque[tuple[str, Task]],
        tasks: Iterator[tuple[str, Task]],
    ) -> bool:
        """Hand out tasks up to the limit; True if the executor has broken."""
        while len(running) < self._in_flight:
            job = waiting.popleft() if waiting else next(tasks, None)
            if job is None:
                return False
            try:
                running[executor.submit(measure_task, job[1])] = job
            except BrokenProcessPool:
                # not begun, so it is no failed try and goes first
                waiting.appendleft(job)
                return True
        return False

    def _collect(
        self,
        finished: set[Future[Any]],
        running: dict[Future[Any], tuple[str, Task]],
        waiting: deque[tuple[str, Task]],
    ) -> bool:
        broken = False
        for future in finished:
            key, task = running.pop(future)
            try:
                result = future.result()
            except Exception as error:  # a worker died, or cannot even be asked
                broken |= isinstance(error, BrokenProcessPool)
                tries = self._tries[key, task.piece] = self._tries.get((key, task.piece), 0) + 1
                if tries < _TRIES:
                    waiting.append((key, task))
                    continue
                result = {"path": task.item.path, "reason": f"its worker died: {error!r}"}
            self._keep(key, task, result)
        return broken

    def _keep(self, key: str, task: Task, result: Any) -> None:
        """Journal a result, or wait for the other pieces of its recording."""
        if task.pieces > 1 and not isinstance(result, dict):
            parts = self._pieces.setdefault(key, [None] * task.pieces)
            parts[task.piece] = result
            # pieces come in any order; the last one there joins them
            if any(part is None for part in parts):
                return
            result = _joined_record(task, self._pieces.pop(key))
        if key in self._journal:
            return  # another piece has failed before
        self._journal.add(key, result)
        self._done.files += 1
        self._done.measured_s += result.get("record", {}).get("duration_s") or 0.0
        if self._report is not None:
            self._report(self._done)


def _tasks(
    folder: str, todo: Sequence[tuple[str, Item]], make_record: MakeRecord
) -> Iterator[tuple[str, Task]]:
    for key, item in todo:
        pieces = _pieces(Path(folder) / item.path)
        # made one at a time: a long list waits as items, not as tasks
        for piece in range(pieces):
            yield key, Task(folder, item, make_record, piece, pieces)


def _leave(executor: Executor, running: Collection[Future[Any]]) -> None:
    """Let go of an executor: at once, with what has not begun dropped, when a run is broken off."""
    try:
        executor.shutdown(wait=not running, cancel_futures=True)
    except TypeError:  # a cluster's executor cannot drop what it holds
        for future in running:
            future.cancel()
        executor.shutdown(wait=False)


def _pieces(path: Path) -> int:
    """How many tasks a recording is; more than one only for long files that seek exactly."""
    with suppress(OSError, AudioLevelError):
        if path.stat().st_size >= _LONG_BYTES:
            # kept out of start-up, and short files do without it
            from audiolevel.metering.recordings import open_recording

            recording = open_recording(path)
            if recording.seeks_exactly:
                # −(−a // b) rounds up
                return max(1, -(-int(recording.duration_s) // PIECE_S))
    return 1


def measure_task(task: Task) -> Any:
    """Measure one task: `{"path", "record"}`, `{"path", "reason"}`, or a piece to be joined."""
    # kept out of start-up: it is the workers that measure
    from audiolevel.metering.measurement import Span, measure

    item = task.item
    path = Path(task.folder) / item.path
    try:
        span = None
        if task.pieces > 1:
            first = task.piece * PIECE_S
            last = task.piece == task.pieces - 1
            # the length was cut to whole seconds: the last piece can be longer by part of one
            span = Span(first, first + (2 * PIECE_S if last else PIECE_S))
        # one recording a core is the whole plan here; a second thread would only be in the way
        measurement = measure(
            path, channel=item.channel, start=item.start, span=span, second_core=False
        )
        return measurement if task.pieces > 1 else _kept(task, measurement)
    except AudioLevelError as error:
        return {"path": item.path, "reason": _plain(str(error), path, item.path)}
    except Exception as error:  # one bad file never stops the run
        return {"path": item.path, "reason": f"{item.path}: unexpected: {error!r}"}


def _plain(reason: str, path: Path, name: str) -> str:
    # the folder's own path would differ from computer to computer
    return reason.replace(str(path), name)


def _joined_record(task: Task, pieces: Sequence[Any]) -> Record:
    # here, since most batches have nothing to join
    from audiolevel.metering.measurement import joined

    return _kept(task, joined(pieces))


def _kept(task: Task, measurement: "Measurement") -> Record:
    return {"path": task.item.path, "record": task.make_record(task.item, measurement)}
