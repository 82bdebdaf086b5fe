"""Sound open for reading: in memory, what libsndfile reads, and several files as one.

Entry points: `opened_file`, `Opened`, `ArrayReader`, `SoundFileReader`, `SequenceReader`.
"""

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Protocol

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from audiolevel.ground.errors import PassingError, RecordingError
from audiolevel.ground.names import printable

Block = NDArray[np.float32]
_PCM_16_STEP = np.float32(1 / 32768)


@contextmanager
def quiet_decoder(path: object, subtype: str = "") -> Iterator[None]:
    """Keep the MPEG decoder's own words, which it writes past Python, off standard error.

    Parameters
    ----------
    path : path
        What no other decoder knows by its name may come to this one.
    subtype : str
        Of a file that is open.
    """
    mpeg = subtype.startswith("MPEG") or (not subtype and not _has_own_decoder(str(path)))
    if not mpeg:
        yield
        return
    sys.stderr.flush()
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def _has_own_decoder(name: str) -> bool:
    with suppress(OSError), open(name, "rb") as file:
        return file.read(4) in (b"RIFF", b"RF64", b"OggS", b"fLaC", b"FORM", b".snd", b"caff")
    return True


def opened_file(where: Path) -> sf.SoundFile:
    """A sound file, open for reading by libsndfile.

    Raises
    ------
    RecordingError
        It may not be read, or is not a sound file.
    """
    try:
        with quiet_decoder(where):
            # bytes, where a name is no text: soundfile takes no other
            name = os.fspath(where)
            return sf.SoundFile(name if printable(name) == name else os.fsencode(name))
    except (sf.LibsndfileError, OSError) as error:
        if not os.access(where, os.R_OK):
            raise PassingError(f"{where}: may not be read; check its permissions") from error
        raise RecordingError(
            f"{where}: is not a sound file that can be read; export it as WAV, FLAC, Ogg or MP3"
        ) from error


class Opened(Protocol):
    """What is behind a recording, open for reading."""

    def read(self, frames: int) -> Block:
        """The next frames, shape (frames, channels); fewer at the end, or where it breaks off."""

    def seek(self, frame: int) -> None:
        """Go to a frame."""

    def close(self) -> None:
        """Let go of it."""


class ArrayReader:
    """Samples in memory, shape (frames, channels)."""

    def __init__(self, samples: Block) -> None:
        self._samples, self._at = samples, 0

    def seek(self, frame: int) -> None:
        """Go to a frame."""
        self._at = frame

    def read(self, frames: int) -> Block:
        """The next frames, shape (frames, channels)."""
        first, self._at = self._at, self._at + frames
        # a copy: who measures a block may write over it
        return self._samples[first : self._at].copy()

    def close(self) -> None:
        """Nothing is open."""


class SoundFileReader:
    """A sound file that libsndfile reads; one that breaks off is read as far as it goes.

    Parameters
    ----------
    file : SoundFile
    keep_open : bool
        It is a stream, which goes one way only and is not closed.
    """

    def __init__(self, file: sf.SoundFile, *, keep_open: bool = False) -> None:
        self._file, self._keep_open, self._at = file, keep_open, 0

    def seek(self, frame: int) -> None:
        """Go to a frame; a stream goes one way only."""
        if self._keep_open:
            # a stream goes one way only, a minute or so at a time
            while self._at < frame and len(self.read(min(frame - self._at, 1 << 20))):
                pass
            return
        try:
            with quiet_decoder("", self._file.subtype):
                self._file.seek(frame)
        except sf.LibsndfileError as error:
            name = os.fsdecode(self._file.name)
            raise RecordingError(
                f"{name}: cannot be read from {frame} samples on; export it again"
            ) from error
        self._at = frame

    def read(self, frames: int) -> Block:
        """The next frames, shape (frames, channels)."""
        try:
            with quiet_decoder("", self._file.subtype):
                block = self._whole(frames)
        except sf.LibsndfileError:
            block = self._up_to_the_break(frames)
        self._at += len(block)
        return block

    def _whole(self, frames: int) -> Block:
        if self._file.subtype == "PCM_16":
            # the same numbers at a quarter of the time that libsndfile takes to scale them
            pcm = self._file.read(frames, dtype="int16", always_2d=True)
            return np.asarray(pcm * _PCM_16_STEP)
        return np.asarray(self._file.read(frames, dtype="float32", always_2d=True))

    def _up_to_the_break(self, frames: int) -> Block:
        # an empty first part, so that a break at once still has the right shape
        parts = [np.zeros((0, self._file.channels), np.float32)]
        # what is decoded at the end of what can be
        with suppress(sf.LibsndfileError), quiet_decoder("", self._file.subtype):
            self._file.seek(self._at)
            # in small pieces, so that no more than one of them is lost before the break
            for _ in range(0, frames, 1024):
                parts.append(self._file.read(1024, dtype="float32", always_2d=True))
        return np.concatenate(parts)

    def close(self) -> None:
        """Let go of it, unless it is a stream."""
        if not self._keep_open:
            self._file.close()


class SequenceReader:
    """The files of a sequence, one after the other; one is open at a time.

    Parameters
    ----------
    openers : sequence of callable
        Each opens a file.
    frames : sequence of int
        Length of each, by its own account.
    """

    def __init__(self, openers: Sequence[Callable[[], Opened]], frames: Sequence[int]) -> None:
        self._openers, self._frames = openers, frames
        self._number, self._open = 0, openers[0]()

    def read(self, frames: int) -> Block:
        """The next frames, across the files."""
        parts = [self._open.read(frames)]
        while (missing := frames - sum(map(len, parts))) and self._number + 1 < len(self._openers):
            self._go_on(self._number + 1)
            parts.append(self._open.read(missing))
        return np.concatenate(parts)

    def seek(self, frame: int) -> None:
        """Go to a frame of all files together."""
        number = 0
        while number + 1 < len(self._openers) and frame >= self._frames[number]:
            frame -= self._frames[number]
            number += 1
        self._go_on(number)
        self._open.seek(frame)

    def _go_on(self, number: int) -> None:
        self._open.close()
        self._number, self._open = number, self._openers[number]()

    def close(self) -> None:
        """Let go of the file that is open."""
        self._open.close()
