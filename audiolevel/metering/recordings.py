"""Recordings, handed on in blocks without holding all of a file in memory.

A recording knows its rate, channels and length (`sound_files` looks them up) and is read in blocks
of whole seconds (`Recording.blocks`), so that every block but the last starts and ends on the same
grid of milliseconds. Full scale is an amplitude of 1.

Entry points: `Recording`, `recording_of_array`.
"""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import datetime
from numbers import Real
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import ArrayLike

from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.metering.parts import ALL, Part
from audiolevel.metering.readers import (
    ArrayReader,
    Block,
    Opened,
    SequenceReader,
    SoundFileReader,
    opened_file,
)
from audiolevel.metering.sound_formats import LOSSY, bytes_of, format_floor_db
from audiolevel.metering.video import VideoFile

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000
# what is listened to on a site has a few; blocks of more channels, or of more values a second,
# would not fit into 1 GB with what is made of them
_MOST_CHANNELS, _FULL_BLOCK_CHANNELS = 64, 8
_MOST_VALUES_PER_S = _MOST_CHANNELS * 96_000
_MOST_BITS = 32
# 60 dB above full scale
_HIGHEST_AMPLITUDE = 1000.0
# the meter runs in on the beginning of the first block, and the sooner it ends the less it knows
_LEAST_BLOCK_S = 2
# a stream of unknown length announces as much as its header can: two or four gigabytes, less what
# some recorders leave for the header itself
_UNKNOWN_BYTES = 2**31 - 2**16


@dataclass(frozen=True)
class Recording:
    """A sound file that can be read.

    Attributes
    ----------
    path : Path
    rate_hz : int
        Sampling rate, 8,000 to 192,000 Hz.
    channels : int
    frames : int
        Length by the file's own account; a damaged file may hold fewer.
    clip_amplitude : float
        Samples at or beyond this amplitude are counted as clipped.
    format_floor_db : float
        Level of the format's own quantising noise, dB FS.
    truncated : bool
        The header announces more than the file holds.
    video : bool
        It is the sound track of a video.
    files : tuple of Recording
        Where a recorder has split it: the files, in time order.
    stream : SoundFile or None
        It comes by standard input, and can be heard once.
    start : datetime or None
        When it began, where its name or its metadata say so.
    start_by : str
        "name" or "metadata" (then in UTC): who says so.
    jumps : list of (float, float)
        Gaps and jumps of its time stamps, as far as it was read: seconds of sound before each, and
        seconds left out (negative where stamps go back).
    first_frame : int or None
        Of a part, as if it had been cut out into a file of its own: where its `frames` begin.
    samples : array of float32, shape (frames, channels), or None
        Where it is in memory and not in a file.
    """

    path: Path
    rate_hz: int
    channels: int
    frames: int
    clip_amplitude: float
    format_floor_db: float
    truncated: bool
    subtype: str
    video: bool = field(default=False, kw_only=True)
    files: tuple["Recording", ...] = field(default=(), kw_only=True)
    stream: sf.SoundFile | None = field(default=None, kw_only=True, compare=False)
    start: datetime | None = field(default=None, kw_only=True)
    start_by: str = field(default="", kw_only=True)
    jumps: list[tuple[float, float]] = field(default_factory=list, kw_only=True, compare=False)
    first_frame: int | None = field(default=None, kw_only=True)
    samples: Block | None = field(default=None, kw_only=True, compare=False)

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate_hz

    @property
    def seeks_exactly(self) -> bool:
        """Whether a reading may begin anywhere and give the very samples of a reading from 0."""
        lossy = self.subtype in LOSSY or self.video
        return not (lossy or self.truncated or self.files or self.stream)

    def breaks_off(self, heard: int) -> bool:
        """Whether so many frames are less than it announces."""
        width = self.channels * bytes_of(self.subtype)
        if self.stream is not None and self.frames * width >= _UNKNOWN_BYTES:
            return False
        # a video rounds its length
        slack = self.rate_hz if self.video else 0
        return heard < self.frames - slack

    def _opened(self) -> Opened:
        """The file or files behind it, to be read and closed."""
        if self.samples is not None:
            return ArrayReader(self.samples)
        if self.stream is not None:
            return SoundFileReader(self.stream, keep_open=True)
        if self.files:
            return SequenceReader(
                [one._opened for one in self.files], [one.frames for one in self.files]
            )
        if self.video:
            return VideoFile(self.path, self.jumps)
        return SoundFileReader(opened_file(self.path))

    def blocks(
        self, about_frames: int = 960_000, *, first_s: int = 0, stop_s: int | None = None
    ) -> Iterator[Block]:
        """Hand on the samples, shape (frames, channels), in blocks of whole seconds.

        The last block may be shorter. A file that breaks off is handed on as far as it goes;
        compare the frames received with `frames`.

        Parameters
        ----------
        about_frames : int
            Length of a block, rounded up to whole seconds, two at least.
        first_s, stop_s : int
            Where reading begins and stops; None is the end.

        Yields
        ------
        array of float32, shape (frames, channels)

        Raises
        ------
        RecordingError
            A sample is not a finite number.
        """
        size, begin = self._block_frames(about_frames), self.first_frame or 0
        # a whole file may hold more than it announces, and is read to its end
        ends = [] if self.first_frame is None else [self.frames]
        ends += [] if stop_s is None else [stop_s * self.rate_hz]
        position, stop = begin + first_s * self.rate_hz, begin + min(ends) if ends else None
        with closing(self._opened()) as file:
            # not for 0: a pipe or an odd format need not be able to seek
            if position:
                file.seek(position)
            while stop is None or position < stop:
                wanted = size if stop is None else min(size, stop - position)
                block = file.read(wanted)
                # before anyone measures it: one NaN would spoil every level after it
                self._refuse_not_finite(block, position)
                if len(block):
                    yield block
                position += len(block)
                # fewer than asked for is the end, whatever the header announces
                if len(block) < wanted:
                    return

    def _block_frames(self, about_frames: int) -> int:
        """Length of a block of about so many frames: whole seconds, two at least."""
        # of many channels fewer frames, so that a block takes no more memory
        about_frames = (
            about_frames * _FULL_BLOCK_CHANNELS // max(self.channels, _FULL_BLOCK_CHANNELS)
        )
        # −(−a // b) rounds up
        return max(_LEAST_BLOCK_S, -(-about_frames // self.rate_hz)) * self.rate_hz

    def part(self, part: Part) -> "Recording":
        """A part of it, as if it had been cut out into a file of its own.

        Raises
        ------
        SettingError
            It begins after the end.
        """
        if part == ALL:
            return self
        # to the nearest frame, so that two parts on end neither overlap nor gap
        first = round(part.begin_s * self.rate_hz)
        stop = self.frames if part.to_s is None else round(part.to_s * self.rate_hz)
        if first >= self.frames:
            raise SettingError(
                f"{self.path}: the part from {part.begin_s:g} s on lies beyond its end at "
                f"{self.duration_s:.1f} s"
            )
        begin = (self.first_frame or 0) + first
        return replace(self, frames=min(stop, self.frames) - first, first_frame=begin)

    def _refuse_not_finite(self, block: Block, position: int) -> None:
        # only floating-point files can hold one; an array was looked at
        if self.samples is not None or self.subtype not in ("FLOAT", "DOUBLE") or not len(block):
            return
        # nothing is 60 dB above full scale: such samples are of another scale, or no sound at all
        highest = max(float(block.max()), -float(block.min()))
        if _HIGHEST_AMPLITUDE < highest < np.inf:
            raise RecordingError(
                f"{self.path}: holds a sample of {highest:.3g} times full scale; export it again "
                "with samples from -1 to 1"
            )
        if np.isfinite(highest):
            return
        row = _first_not_finite(block)
        at_s = (position + row) / self.rate_hz
        raise RecordingError(
            f"{self.path}: sample {position + row} (at {at_s:.3f} s) is not a number; "
            "export the recording again without it"
        )


def recording_of_array(samples: ArrayLike, rate_hz: int, name: str = "array") -> Recording:
    """A recording of samples in memory.

    Parameters
    ----------
    samples : array_like, shape (frames,) or (frames, channels)
        Full scale is 1; whole numbers are taken for PCM of their width, 8 to 32 bits.
    rate_hz : int
        8,000 to 192,000 Hz.
    name : str
        What it is called in results.

    Raises
    ------
    RecordingError
        No samples, one that is not a finite number, another shape, or a rate out of range.
    """
    given = np.asarray(samples)
    _refuse_shape(given, name)
    if not isinstance(rate_hz, Real) or rate_hz != rate_hz // 1:
        raise RecordingError(f"{name}: rate_hz = {rate_hz!r} is no whole number of Hz")
    bits = 24
    # looked at before anything is made of it: a copy of a wrong array may not fit into memory
    refuse_form(name, rate_hz, 1 if given.ndim == 1 else given.shape[1])
    if given.dtype.kind in "iu":
        bits = 8 * given.dtype.itemsize
        # no recorder writes so many: Python's and numpy's usual whole numbers, of an unknown scale
        if bits > _MOST_BITS:
            raise RecordingError(
                f"{name}: whole numbers of {bits} bits have no full scale; convert them to the "
                "width they were recorded in, like samples.astype(np.int16)"
            )
        # two's complement: the lowest number is -2^(bits - 1), full scale; unsigned ones are
        # that much higher, as in WAV files of 8 bits
        half = 2.0 ** (bits - 1)
        given = given / half - (1.0 if given.dtype.kind == "u" else 0.0)
    # (frames,) becomes (frames, 1); two dimensions come out of both transposes as they were
    wave = np.atleast_2d(given.astype(np.float32).T).T
    if not np.isfinite(wave).all():
        raise RecordingError(f"{name}: sample {_first_not_finite(wave)} is not a number")
    return Recording(
        path=Path(name),
        rate_hz=int(rate_hz),
        channels=wave.shape[1],
        frames=len(wave),
        # the highest number is a step below 1; half a step below that is surely it
        clip_amplitude=1.0 if bits == 24 else 1.0 - 1.5 / 2 ** (bits - 1),
        format_floor_db=format_floor_db(bits),
        truncated=False,
        subtype="FLOAT",
        samples=wave,
    )


def _refuse_shape(given: np.ndarray, name: str) -> None:
    """Refuse what is no samples, and channels in rows."""
    if given.dtype.kind not in "iuf":
        raise RecordingError(f"{name}: samples are numbers, not {given.dtype}")
    if given.ndim not in (1, 2) or not given.size:
        raise RecordingError(f"{name}: give samples of shape (frames,) or (frames, channels)")
    if given.ndim == 2 and given.shape[1] > given.shape[0]:
        rows, columns = given.shape
        raise RecordingError(
            f"{name}: has {rows:,} frames of {columns:,} channels; a row is a frame, a column a "
            "channel: give its transpose, .T"
        )


def _first_not_finite(wave: Block) -> int:
    return int(np.flatnonzero(~np.isfinite(wave).all(axis=1))[0])


def refuse_form(where: object, rate_hz: int, channels: int) -> None:
    """Refuse a sampling rate outside 8 to 192 kHz, and more than 64 channels, 32 at 192 kHz.

    Raises
    ------
    RecordingError
        Naming `where`.
    """
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise RecordingError(
            f"{where}: sampling rate {rate_hz} Hz is not supported; "
            f"export it at {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz"
        )
    if channels * rate_hz > _MOST_VALUES_PER_S and channels <= _MOST_CHANNELS:
        most = _MOST_VALUES_PER_S // rate_hz
        raise RecordingError(
            f"{where}: has {channels} channels, and at most {most} are read at {rate_hz} Hz; "
            "export fewer"
        )
    if channels > _MOST_CHANNELS:
        raise RecordingError(
            f"{where}: has {channels:,} channels, and at most {_MOST_CHANNELS} are read; export "
            "fewer (of an array a row is a frame: give its transpose, .T)"
        )
