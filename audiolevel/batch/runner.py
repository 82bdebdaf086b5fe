"""The run over a folder of recordings: in parallel, resumable, and the same every time.

Every recording is a task; one longer than an hour is a task an hour, joined exactly. Results are
kept in a journal by path, size, modification time and settings, so a second run does only what is
new or changed. A recording whose worker dies is tried again alone, when all others are done; what
dies three times is told as a crash and not kept as a result, so that the next run tries it again.

Entry points: `run_batch`, `Batch`, `Progress`.
"""

import hashlib
import json
import os
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audiolevel.batch.discovery import Item
from audiolevel.batch.executors import Workers
from audiolevel.batch.journal import Journal
from audiolevel.ground.errors import AudioLevelError, PassingError
from audiolevel.ground.names import printable
from audiolevel.ground.texts import read_bytes
from audiolevel.metering.parts import Part
from audiolevel.version import __version__

if TYPE_CHECKING:
    from audiolevel.metering.measurement import Measurement

PIECE_S = 3600
# a second of what seeks exactly takes more: 8 kHz, 8 bit, packed by half; a shorter file is never
# opened to learn its length
_LEAST_BYTES_S = 3_300
_TRIES = 3  # of a recording whose worker died: once among others, then alone

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
        Which of how many pieces of the recording.
    piece_s : int
        Their length; the last can be longer by part of a second.
    """

    folder: str
    item: Item
    make_record: MakeRecord
    piece: int = 0
    pieces: int = 1
    piece_s: int = PIECE_S


@dataclass(frozen=True)
class _Piece:
    """A piece of a long recording, measured; the first has what the samples told."""

    measurement: "Measurement"
    facts: Record | None


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
        Items that could not be measured, passing ones among them.
    measured : int
        Recordings that this run measured; those of earlier runs were in the journal.
    passing : mapping of str to str
        Of recordings that failed for now, their worker's death among the reasons: the key, and
        why. The journal has none of them, so that the next run tries them again.
    """

    items: tuple[Item, ...]
    keys: tuple[str, ...]
    failed: int
    measured: int
    passing: Mapping[str, str] = field(default_factory=dict)


def run_batch(
    folder: str | os.PathLike[str],
    items: Sequence[Item],
    journal: Journal,
    workers: Workers,
    make_record: MakeRecord,
    *,
    progress: Callable[[Progress], None] | None = None,
    piece_s: int = PIECE_S,
) -> Batch:
    """Measure every item that the journal does not know yet.

    Parameters
    ----------
    folder : path
        That the items' paths are relative to.
    items : sequence of Item
    journal : Journal
        Open; it receives a result as soon as there is one.
    workers : Workers
    make_record : callable
        Turns an item and its `Measurement` into the record that is kept; a function of a module,
        so that it reaches other processes.
    progress : callable or None
        Called with a `Progress` at the beginning and after each result.
    piece_s : int
        Whole seconds; a longer recording is measured in pieces of this length, and joined.

    Returns
    -------
    Batch

    Notes
    -----
    A recording that cannot be measured is a result too: its reason is kept.
    """
    keys = [key_of(Path(folder), item) for item in items]
    new = [(key, item) for key, item in zip(keys, items, strict=True) if key not in journal]
    todo = [(key, item) for key, item in new if not item.closed]
    runner = _Runner(journal, workers, Progress(files=len(items) - len(new)), progress)
    for key, item in new:
        if item.closed:
            # nothing is known of what lies in it, so no worker can try
            runner.leave(key, f"{item.path}: the folder cannot be read ({item.closed})")
    runner.run(_tasks(str(folder), todo, make_record, piece_s))
    # read from the journal, so that failures of earlier runs count too
    failed = sum("reason" in result for result in journal.results(keys)) + len(runner.passing)
    return Batch(tuple(items), tuple(keys), failed, runner.measured, runner.passing)


def key_of(folder: Path, item: Item) -> str:
    """Key of a result, from all it depends on: version, path, size, modification time, settings.

    Returns
    -------
    str
        32 hexadecimal digits.
    """
    try:
        status = item.within(folder).stat()
        size, changed = status.st_size, status.st_mtime_ns
    except OSError:
        # it is tried all the same, and the reason why it fails is kept
        size, changed = -1, -1
    # whatever of these changes makes another key, and the recording is measured again
    facts = [
        __version__,
        item.file or item.path,
        size,
        changed,
        item.channel,
        item.start.isoformat() if item.start else None,
        item.gain_setting,
        item.site,
        item.part.from_s,
        item.part.to_s,
        _site_text(item.site_file),
    ]
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()[:32]


# read once for a site and not once for each of its recordings
@lru_cache(maxsize=256)
def _site_text(site_file: str | None) -> str:
    with suppress(AudioLevelError):
        # one that is no text is a key all the same; who reads it says what is wrong with it
        return read_bytes(site_file).decode("utf-8", "backslashreplace") if site_file else ""
    return ""


class _Runner:
    """Keeps the workers busy, and the journal."""

    def __init__(
        self,
        journal: Journal,
        workers: Workers,
        done: Progress,
        progress: Callable[[Progress], None] | None,
    ) -> None:
        self._journal, self._workers = journal, workers
        self._done, self._report = done, progress
        self._pieces: dict[str, list[Any]] = {}
        self._tries: dict[tuple[str, int], int] = {}
        self._suspects = deque[tuple[str, Task]]()
        self.passing: dict[str, str] = {}
        self.measured = 0

    def run(self, tasks: Iterator[tuple[str, Task]]) -> None:
        self._tell()
        running: dict[Future[Any], tuple[str, Task]] = {}
        while True:
            while len(running) < self._workers.in_flight:
                job = next(tasks, None)
                if job is None and not running and self._suspects:
                    # alone and last: it disturbs nobody, and nobody else can be to blame
                    job = self._suspects.popleft()
                if job is None:
                    break
                if job[0] not in self.passing:
                    running[self._workers.submit(measure_task, job[1])] = job
            if not running:
                return
            finished, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in finished:
                self._collect(future, *running.pop(future))

    def _collect(self, future: Future[Any], key: str, task: Task) -> None:
        try:
            result = future.result()
        except AudioLevelError:
            # no recording's fault: those come as results
            raise
        except CancelledError as error:
            # nobody here cancels: a cluster does, when its scheduler is gone
            raise AudioLevelError(
                "the cluster is gone; start it again: the same command goes on from here"
            ) from error
        except Exception as error:
            death = self._workers.death(error)
            if death is None:
                # the task never began: what it was given cannot travel, say
                self.leave(key, f"{task.item.path}: unexpected: {error!r}")
            else:
                self._died(key, task, death)
            return
        if isinstance(result, dict) and result.get("passing"):
            self.leave(key, result["reason"])
        else:
            self._keep(key, task, result)

    def _died(self, key: str, task: Task, death: str) -> None:
        tries = self._tries[key, task.piece] = self._tries.get((key, task.piece), 0) + 1
        if tries < _TRIES:
            self._suspects.append((key, task))
        else:
            self.leave(key, f"{task.item.path}: {death}, {_TRIES} times, alone too")

    def leave(self, key: str, reason: str) -> None:
        """A failure that is told and not kept."""
        if key not in self.passing:
            self.passing[key] = f"{reason}; the next run tries it again"
            self._pieces.pop(key, None)
            self._done.files += 1
            self._tell()

    def _tell(self) -> None:
        if self._report is not None:
            self._report(self._done)

    def _keep(self, key: str, task: Task, result: Any) -> None:
        """Journal a result, or wait for the other pieces of its recording."""
        if task.pieces > 1 and not isinstance(result, dict):
            parts = self._pieces.setdefault(key, [None] * task.pieces)
            parts[task.piece] = result
            # pieces come in any order; the last one there joins them
            if any(part is None for part in parts):
                return
            result = _joined_record(task, self._pieces.pop(key))
        if key in self._journal or key in self.passing:
            return  # another piece has failed before
        self._journal.add(key, result)
        self.measured += "record" in result
        self._done.files += 1
        self._done.measured_s += result.get("record", {}).get("duration_s") or 0.0
        self._tell()


def _tasks(
    folder: str, todo: Sequence[tuple[str, Item]], make_record: MakeRecord, piece_s: int
) -> Iterator[tuple[str, Task]]:
    # a worker may stand in another folder
    folder = os.path.abspath(folder)
    for key, item in todo:
        if item.site_file:
            item = replace(item, site_file=os.path.abspath(item.site_file))
        pieces = _pieces(item.within(folder), item.part, piece_s)
        # made one at a time: a long list waits as items, not as tasks
        for piece in range(pieces):
            yield key, Task(folder, item, make_record, piece, pieces, piece_s)


def _pieces(path: Path, part: Part, piece_s: int) -> int:
    """How many tasks a part is; more than one only for long files that seek exactly."""
    with suppress(OSError, AudioLevelError):
        if path.stat().st_size >= piece_s * _LEAST_BYTES_S:
            # kept out of start-up, and short files do without it
            from audiolevel.metering.sound_files import open_recording

            recording = open_recording(path).part(part)
            if recording.seeks_exactly:
                # −(−a // b) rounds up
                return max(1, -(-int(recording.duration_s) // piece_s))
    return 1


def measure_task(task: Task) -> Any:
    """Measure one task: `{"path", "record"}`, `{"path", "reason"}`, or a piece to be joined."""
    # kept out of start-up: it is the workers that measure
    from audiolevel.batch.sound_check import SoundCheck
    from audiolevel.metering.measurement import measure
    from audiolevel.metering.row_gatherer import Span
    from audiolevel.metering.sound_files import open_recording

    item = task.item
    path = item.within(task.folder)
    try:
        span = None
        if task.pieces > 1:
            first = task.piece * task.piece_s
            last = task.piece == task.pieces - 1
            # the length was cut to whole seconds: the last piece can be longer by part of one
            span = Span(first, first + (2 if last else 1) * task.piece_s)
        sound = open_recording(path)
        # the first hour tells what the samples have to tell
        check = SoundCheck(sound.rate_hz) if task.piece == 0 else None
        measurement = measure(
            replace(item.visit(task.folder), recording=sound),
            span=span,
            # one recording a core is the whole plan here; a second thread would be in the way
            second_core=False,
            on_block=None if check is None else check.add,
        )
        facts = None if check is None else asdict(check.result())
        if task.pieces > 1:
            return _Piece(measurement, facts)
        return _kept(task, measurement, facts)
    except AudioLevelError as error:
        passing = isinstance(error, PassingError)
        return _failure(item, _plain(str(error), path, item.path), passing=passing)
    except Exception as error:  # one bad file never stops the run
        # out of memory, or a fault of the program: the next version may know better
        return _failure(item, printable(f"{item.path}: unexpected: {error!r}"), passing=True)


def _failure(item: Item, reason: str, *, passing: bool) -> Record:
    return {"path": item.path, "reason": reason, **({"passing": True} if passing else {})}


def _plain(reason: str, path: Path, name: str) -> str:
    # the folder's own path would differ from computer to computer
    return reason.replace(printable(path), name)


def _joined_record(task: Task, pieces: Sequence[_Piece]) -> Record:
    # here, since most batches have nothing to join
    from audiolevel.metering.measurement import joined

    return _kept(task, joined([one.measurement for one in pieces]), pieces[0].facts)


def _kept(task: Task, measurement: "Measurement", facts: Record | None) -> Record:
    met = measurement.irregularities
    return {
        "path": task.item.path,
        "record": task.make_record(task.item, measurement),
        "sound": {**(facts or {}), "dropouts": met.dropouts, "repeats": met.repeats},
    }
