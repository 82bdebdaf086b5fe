"""Files written beside their name: nobody finds half of one, and none that matters is lost.

A run says what it reads (`writing`); no file that it writes may be one of those, under whatever
name or link. A sound file is never replaced. A report is replaced only where it carries the mark of
the command that writes it, or by force.

Entry points: `writing`, `Run`, `draft_of`, `text_file`, `write_text`.
"""

import os
import platform
import secrets
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from pathlib import Path
from typing import TextIO

from audiolevel.ground.errors import AudioLevelError

AnyPath = str | os.PathLike[str]

SOUND_ENDINGS = frozenset(
    {".wav", ".wave", ".rf64", ".w64", ".flac", ".ogg", ".oga", ".opus", ".mp3"}
    | {".aif", ".aiff", ".au", ".caf"}
)
VIDEO_ENDINGS = frozenset(
    {".mp4", ".m4v", ".m4a", ".mov", ".mkv", ".mka", ".webm", ".avi", ".ts", ".m2ts", ".mts"}
    | {".3gp", ".aac", ".asf", ".wmv", ".flv", ".mpg", ".mpeg"}
)
# what the containers of sound begin with, at the first or the fifth byte
_SOUND_STARTS = (
    *(b"RIFF", b"RIFX", b"RF64", b"riff", b"OggS", b"fLaC", b"FORM", b"ID3", b".snd", b"caff"),
    *(b"\x1aE\xdf\xa3", b"\xff\xfb", b"\xff\xf3", b"\xff\xf1"),
)
# a picture's words stand before its mark and may be long; a text has its mark in its last line
_HEAD, _TAIL = 65_536, 512


class Run:
    """What one run reads, and what it has written.

    Attributes
    ----------
    force : bool
        Reports may be replaced whoever made them.
    written : list of Path
        In the order of writing, each once.
    """

    def __init__(self, inputs: Iterable[AnyPath] = (), *, force: bool = False) -> None:
        self.inputs = [Path(one) for one in inputs]
        self.force = force
        self.written: list[Path] = []

    def check(self, path: AnyPath, mark: str | None) -> None:
        """Refuse to write a file over something that must not be lost.

        Parameters
        ----------
        path : path
        mark : str or None
            What a file of the same command carries; None where no existing file is replaced.

        Raises
        ------
        AudioLevelError
            It is an input of the run, a sound file or named like one, somebody else's report, no
            ordinary file, or in no folder that can be written.
        """
        where = Path(path)
        for one in self.inputs:
            if _same(where, one):
                raise AudioLevelError(
                    f"{where}: is read by this command; write to another file, or the input is lost"
                )
        # not Path's own, which fail where they may not look: writing says that
        if not os.path.isdir(where.parent):
            raise AudioLevelError(
                f"{where}: cannot be written (no such folder); choose another place"
            )
        if not os.path.exists(where):
            # what carries a mark is text, and would pass for a sound that nothing can read
            if mark is not None and where.suffix.lower() in SOUND_ENDINGS | VIDEO_ENDINGS:
                raise AudioLevelError(
                    f"{where}: is a sound or video file by its name, and text is to be written; "
                    "choose another ending"
                )
            return
        if not os.path.isfile(where):
            raise AudioLevelError(f"{where}: is no ordinary file; name one, or - for the output")
        if is_sound(where):
            raise AudioLevelError(
                f"{where}: is a sound or video file, and those are never replaced; choose another "
                "name"
            )
        if not self.force and (mark is None or not _carries(where, mark)):
            raise AudioLevelError(
                f"{where}: is there and was not made by this command; choose another name, or "
                "--force replaces it"
            )

    def clear(self, path: AnyPath, mark: str) -> bool:
        """Remove a report that an earlier run left and this one has not written.

        Returns
        -------
        bool
            Whether it was there. What lacks the mark is somebody else's, and stays; so does what
            the run reads.

        Raises
        ------
        AudioLevelError
            It cannot be removed.
        """
        where = Path(path)
        if where in self.written or any(_same(where, one) for one in self.inputs):
            return False
        # an empty file bears no mark: nobody knows whose it is
        if not os.path.isfile(where) or not where.stat().st_size or not _carries(where, mark):
            return False
        try:
            where.unlink()
        except OSError as error:
            raise AudioLevelError(
                f"{where}: is of an earlier run and cannot be removed ({error.strerror}); remove it"
            ) from error
        return True


_RUN: ContextVar[Run | None] = ContextVar("run", default=None)


@contextmanager
def writing(inputs: Iterable[AnyPath] = (), *, force: bool = False) -> Iterator[Run]:
    """A run that reads these files; what is written within it spares them.

    Within another run it adds to that one, so a whole command has one list of what it wrote.
    """
    outer = _RUN.get()
    run = Run(inputs, force=force)
    if outer is not None:
        run.inputs += outer.inputs
        run.force |= outer.force
        run.written = outer.written
    token = _RUN.set(run)
    try:
        yield run
    finally:
        _RUN.reset(token)


def _current() -> Run:
    return _RUN.get() or Run()


def _same(one: Path, other: Path) -> bool:
    """Whether two paths are one file: by name, by a link of either kind."""
    with suppress(OSError):
        # follows symbolic links and compares the file itself, so that hard links are one too
        if one.samefile(other):
            return True
    # what is not there yet has only its name
    return os.path.normcase(os.path.realpath(one)) == os.path.normcase(os.path.realpath(other))


def is_sound(path: AnyPath) -> bool:
    """Whether a file is, by its name or by its first bytes, one of sound or video."""
    where = Path(path)
    if where.suffix.lower() in SOUND_ENDINGS | VIDEO_ENDINGS:
        return True
    with suppress(OSError), where.open("rb") as file:
        start = file.read(12)
        return start.startswith(_SOUND_STARTS) or start[4:8] == b"ftyp"
    return False


def _carries(path: Path, mark: str) -> bool:
    """Whether a file has a mark near its beginning or its end; an empty one has nothing to lose."""
    with suppress(OSError), path.open("rb") as file:
        size = path.stat().st_size
        head = file.read(_HEAD)
        file.seek(max(0, size - _TAIL))
        return not size or mark.encode() in head or mark.encode() in file.read()
    return False


def text_mark(command: str) -> str:
    """The last line of a text, a sheet or a page that a command has made."""
    return f"made by audiolevel {command}"


def json_mark(command: str) -> str:
    """What a JSON object of a command holds among its first keys."""
    return f'"command": "{command}"'


def _begun(where: Path) -> Path:
    """An empty draft beside a path."""
    draft = where.parent / f"{_prefix(where)}{secrets.token_hex(4)}.part"
    # made anew, with the permissions of an ordinary file, which the system itself works out
    os.close(os.open(draft, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    return draft


@contextmanager
def draft_of(path: AnyPath, mark: str | None) -> Iterator[Path]:
    """A file beside a path, to be written; it takes the path's place when the block has ended well.

    Parameters
    ----------
    path : path
        A link is followed: what it leads to is replaced, not the link.
    mark : str or None
        As in `Run.check`.

    Raises
    ------
    AudioLevelError
        As `Run.check`; or the folder may not be written, or has no room.
    """
    run, named = _current(), Path(path)
    run.check(named, mark)
    where = Path(os.path.realpath(named))
    draft: Path | None = None
    try:
        _sweep(where)
        draft = _begun(where)
        yield draft
        _to_disk(draft)
        os.replace(draft, where)
    except OSError as error:
        # no room, no right, a folder that went away: whatever the system says
        raise AudioLevelError(
            f"{named}: cannot be written ({error.strerror or error}); choose another place"
        ) from error
    finally:
        if draft is not None:
            draft.unlink(missing_ok=True)
    if named not in run.written:
        run.written.append(named)


@contextmanager
def text_file(path: AnyPath, mark: str | None) -> Iterator[TextIO]:
    """A text file to be written as `draft_of` says: its name is given to it when it is complete."""
    # closed within the draft: what is buffered may find the disk full only then
    with draft_of(path, mark) as draft, draft.open("w", encoding="utf-8", newline="") as file:
        yield file


def write_text(path: AnyPath, text: str, mark: str | None) -> None:
    """Write a whole text file, all of it or nothing."""
    with text_file(path, mark) as file:
        file.write(text)


def _prefix(where: Path) -> str:
    """Of the drafts that this process makes for a file: the computer and the process are in it."""
    return f".{where.name[:80]}.{_computer()}-{os.getpid()}-"


def _computer() -> str:
    return f"{zlib.crc32(platform.node().encode()):08x}"


def _sweep(where: Path) -> None:
    """Remove the drafts of runs that were killed; a live process keeps its own."""
    beginning = f".{where.name[:80]}.{_computer()}-"
    for one in where.parent.iterdir():
        if one.name.startswith(beginning) and one.name.endswith(".part"):
            process = one.name.removeprefix(beginning).split("-")[0]
            if process.isdecimal() and not _alive(int(process)):
                one.unlink(missing_ok=True)


def _alive(process: int) -> bool:
    if os.name != "posix":
        # elsewhere signal 0 is no question but an end
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


def _to_disk(draft: Path) -> None:
    """Have the system write it out, so that the name never stands for an empty file."""
    handle = os.open(draft, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
