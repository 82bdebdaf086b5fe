"""Sound files and arrays, handed on in blocks without holding all of a file in memory.

A recording is opened once to learn its rate, channels and length (`open_recording`) and then
read in blocks of whole seconds (`Recording.blocks`), so that every block but the last starts
and ends on the same grid of milliseconds. Full scale is an amplitude of 1.
"""

import os
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import ArrayLike

from audiolevel.arrays import Array
from audiolevel.errors import PassingError, RecordingError, SettingError
from audiolevel.files import draft_of
from audiolevel.metering.endings import mp3_is_whole, ogg_is_whole, riff_is_whole
from audiolevel.metering.parts import ALL, Part
from audiolevel.metering.readers import (
    Block,
    Opened,
    SequenceReader,
    SoundFileReader,
    quiet_decoder,
)
from audiolevel.metering.sound_formats import LOSSY, bits_of, clip_amplitude, format_floor_db
from audiolevel.metering.video import VideoFile, is_video

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 192_000
_LONGEST_SOUND_S = 60
# 60 dB above full scale
_HIGHEST_AMPLITUDE = 1000.0
# the meter runs in on the beginning of the first block, and the sooner it ends the less it knows
_LEAST_BLOCK_S = 2
# a stream of unknown length announces as much as its header can, two or four gigabytes
_UNKNOWN_FRAMES = 2**31 // 32 - 1


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
        if self.stream is not None and self.frames >= _UNKNOWN_FRAMES:
            return False
        # a video rounds its length; what else it lacks its reader knows
        slack = self.rate_hz if self.video else 0
        return heard < self.frames - slack

    def _opened(self) -> Opened:
        """The file or files behind it, to be read and closed."""
        if self.stream is not None:
            return SoundFileReader(self.stream, keep_open=True)
        if self.files:
            return SequenceReader(
                [one._opened for one in self.files], [one.frames for one in self.files]
            )
        return VideoFile(self.path, self.jumps) if self.video else SoundFileReader(_open(self.path))

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
        stop = None if stop_s is None else stop_s * self.rate_hz
        size = self._block_frames(about_frames)
        yield from self._between(first_s * self.rate_hz, stop, size)

    def _block_frames(self, about_frames: int) -> int:
        """Length of a block of about so many frames: whole seconds, two at least."""
        # −(−a // b) rounds up
        return max(_LEAST_BLOCK_S, -(-about_frames // self.rate_hz)) * self.rate_hz

    def _between(self, position: int, stop: int | None, size: int) -> Iterator[Block]:
        """The frames of the file from `position` on, in blocks of `size`."""
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

    def part(self, part: Part) -> "Recording":
        """A part of it, as if it had been cut out into a file of its own.

        Raises
        ------
        SettingError
            It begins after the end.
        """
        if part == ALL:
            return self
        first, stop = self._frames_of(part)
        values = {one.name: getattr(self, one.name) for one in fields(self)}
        return RecordingPart(**{**values, "frames": stop - first}, first_frame=first)

    def _frames_of(self, part: Part) -> tuple[int, int]:
        # to the nearest frame, so that two parts on end neither overlap nor gap
        first = round(part.begin_s * self.rate_hz)
        stop = self.frames if part.to_s is None else round(part.to_s * self.rate_hz)
        if first >= self.frames:
            raise SettingError(
                f"{self.path}: the part from {part.begin_s:g} s on lies beyond its end at "
                f"{self.duration_s:.1f} s"
            )
        return first, min(stop, self.frames)

    def _refuse_not_finite(self, block: Block, position: int) -> None:
        # only floating-point files can hold one
        if self.subtype not in ("FLOAT", "DOUBLE") or not len(block):
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


@dataclass(frozen=True, eq=False)
class RecordingPart(Recording):
    """The `frames` of a sound file from `first_frame` on."""

    first_frame: int

    def blocks(
        self, about_frames: int = 960_000, *, first_s: int = 0, stop_s: int | None = None
    ) -> Iterator[Block]:
        """Hand on the samples as `Recording.blocks` does."""
        size = self._block_frames(about_frames)
        position = self.first_frame + first_s * self.rate_hz
        stop = self.frames if stop_s is None else min(stop_s * self.rate_hz, self.frames)
        yield from self._between(position, self.first_frame + stop, size)


@dataclass(frozen=True, eq=False)
class ArrayRecording(Recording):
    """A recording whose samples are in memory, shape (frames, channels), full scale 1."""

    samples: Block

    def blocks(
        self, about_frames: int = 960_000, *, first_s: int = 0, stop_s: int | None = None
    ) -> Iterator[Block]:
        """Hand on the samples as `Recording.blocks` does."""
        size = self._block_frames(about_frames)
        stop = self.frames if stop_s is None else min(stop_s * self.rate_hz, self.frames)
        for first in range(first_s * self.rate_hz, stop, size):
            # a copy: who measures a block may write over it
            yield self.samples[first : min(first + size, stop)].copy()

    def part(self, part: Part) -> "Recording":
        """A part of it, as `Recording.part`."""
        first, stop = self._frames_of(part)
        return replace(self, frames=stop - first, samples=self.samples[first:stop])


class StretchReader:
    """Read any stretch of a recording, for the few places that need the waveform again."""

    def __init__(self, recording: Recording) -> None:
        self.rate_hz = recording.rate_hz
        self._shape = (recording.frames, recording.channels)
        # in memory a part is a cut of its own and begins at 0
        self._first = recording.first_frame if isinstance(recording, RecordingPart) else 0
        in_memory = isinstance(recording, ArrayRecording)
        self._samples = recording.samples if isinstance(recording, ArrayRecording) else None
        self._file = None if in_memory else recording._opened()

    def read(self, first_frame: int, frames: int) -> Block:
        """Samples, shape (frames, channels); silence where the recording has none."""
        out = np.zeros((frames, self._shape[1]), np.float32)
        # frames before the beginning stay silence
        begin = max(0, first_frame)
        wanted = min(first_frame + frames, self._shape[0]) - begin
        if wanted > 0:
            samples = self._stretch(begin, wanted)
            out[begin - first_frame : begin - first_frame + len(samples)] = samples
        return out

    def _stretch(self, begin: int, frames: int) -> Block:
        if self._file is None:
            assert self._samples is not None  # one of the two is there
            return self._samples[begin : begin + frames]
        self._file.seek(self._first + begin)
        return self._file.read(frames)


def recording_of_array(samples: ArrayLike, rate_hz: int, name: str = "array") -> ArrayRecording:
    """A recording of samples in memory.

    Parameters
    ----------
    samples : array_like, shape (frames,) or (frames, channels)
        Full scale is 1; whole numbers are taken for PCM of their width.
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
    bits = 24
    if given.dtype.kind == "i":
        bits = 8 * given.dtype.itemsize
        # two's complement: the lowest number is -2^(bits - 1), full scale
        given = given / 2.0 ** (bits - 1)
    # (frames,) becomes (frames, 1); two dimensions come out of both transposes as they were
    wave = np.atleast_2d(given.astype(np.float32).T).T
    if given.ndim not in (1, 2) or not wave.size:
        raise RecordingError(f"{name}: give samples of shape (frames,) or (frames, channels)")
    if not np.isfinite(wave).all():
        raise RecordingError(f"{name}: sample {_first_not_finite(wave)} is not a number")
    _refuse_rate(name, rate_hz)
    return ArrayRecording(
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


def _first_not_finite(wave: Block) -> int:
    return int(np.flatnonzero(~np.isfinite(wave).all(axis=1))[0])


def _refuse_rate(where: object, rate_hz: int) -> None:
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise RecordingError(
            f"{where}: sampling rate {rate_hz} Hz is not supported; "
            f"export it at {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz"
        )


def open_recording(path: str | os.PathLike[str]) -> Recording:
    """Look at a sound file: WAV, RF64, FLAC, Ogg Vorbis, Opus, MP3 and whatever else is readable.

    Parameters
    ----------
    path : path
        Of a sound file, or of a video (MP4, MOV, MKV, AVI, TS …) where the extra is installed; `-`
        is a WAV stream on standard input.

    Returns
    -------
    Recording

    Raises
    ------
    RecordingError
        The file is missing, empty, a folder, not a sound file, holds no samples, or has a
        sampling rate outside 8 to 192 kHz.
    """
    if os.fspath(path) == "-":
        return _standard_input()
    where = Path(path)
    _refuse_no_file(where)
    if is_video(where):
        return _video(where)
    with _open(where) as file:
        rate_hz, frames, subtype = int(file.samplerate), int(file.frames), str(file.subtype)
        channels, log = int(file.channels), str(file.extra_info)
    if frames == 0:
        raise RecordingError(f"{where}: holds no samples; record again")
    _refuse_rate(where, rate_hz)
    return Recording(
        path=where,
        rate_hz=rate_hz,
        channels=channels,
        frames=frames,
        clip_amplitude=clip_amplitude(subtype),
        format_floor_db=format_floor_db(bits_of(subtype)),
        # libsndfile's log has this where a chunk announces more than there is
        truncated="(should be" in log or not _is_whole(where, subtype, frames),
        subtype=subtype,
    )


def _is_whole(where: Path, subtype: str, frames: int) -> bool:
    """Whether a file is all there, of those kinds whose reader does not say."""
    if subtype.startswith("MPEG_LAYER"):
        return mp3_is_whole(where, frames)
    return subtype not in ("VORBIS", "OPUS") or ogg_is_whole(where)


def _video(where: Path) -> Recording:
    with VideoFile(where) as file:
        _refuse_rate(where, file.samplerate)
        start, by = file.start()
        return Recording(
            path=where,
            rate_hz=file.samplerate,
            channels=file.channels,
            frames=file.frames,
            clip_amplitude=file.clip_amplitude,
            format_floor_db=format_floor_db(file.bits),
            # AVI has no time stamps that would end early
            truncated=not riff_is_whole(where),
            subtype="VIDEO",
            video=True,
            start=start,
            start_by=by,
        )


def _standard_input() -> Recording:
    """The WAV stream on standard input, whose header may not know how long it will be."""
    try:
        file = sf.SoundFile(sys.stdin.fileno(), closefd=False)
    except (sf.LibsndfileError, OSError, ValueError) as error:
        raise RecordingError("-: standard input is no WAV stream; pipe one in") from error
    _refuse_rate("-", file.samplerate)
    subtype = str(file.subtype)
    return Recording(
        path=Path("standard input"),
        rate_hz=int(file.samplerate),
        channels=int(file.channels),
        frames=int(file.frames),
        clip_amplitude=clip_amplitude(subtype),
        format_floor_db=format_floor_db(bits_of(subtype)),
        truncated=False,
        subtype=subtype,
        stream=file,
    )


def _refuse_no_file(where: Path) -> None:
    if where.is_dir():
        raise RecordingError(f"{where}: is a folder; name a sound file, or use `audiolevel batch`")
    if not where.exists():
        raise RecordingError(f"{where}: no such file; check the name")
    # told apart from a broken file, since the cure is another
    if where.is_file() and where.stat().st_size == 0:
        raise RecordingError(f"{where}: the file is empty; copy or record it again")


def _open(where: Path) -> sf.SoundFile:
    try:
        with quiet_decoder(where):
            return sf.SoundFile(str(where))
    except (sf.LibsndfileError, OSError) as error:
        if not os.access(where, os.R_OK):
            raise PassingError(f"{where}: may not be read; check its permissions") from error
        raise RecordingError(
            f"{where}: is not a sound file that can be read; export it as WAV, FLAC, Ogg or MP3"
        ) from error


def read_whole(path: str | os.PathLike[str]) -> tuple[Array, int]:
    """All samples of a short sound, mean of its channels, shape (frames,), and its rate.

    Raises
    ------
    RecordingError
        As `open_recording`, or the sound is longer than a minute.
    """
    recording = open_recording(path)
    # it is read whole into memory, which a recording of a site never is
    if recording.duration_s > _LONGEST_SOUND_S:
        raise RecordingError(
            f"{recording.path}: is longer than {_LONGEST_SOUND_S} s; cut out one occurrence"
        )
    samples = np.concatenate(list(recording.blocks())).astype(np.float64)
    return samples.mean(axis=1), recording.rate_hz


def write_sound(path: str | os.PathLike[str], samples: Array, rate_hz: int) -> None:
    """Write one channel, shape (frames,), full scale 1, as 24-bit WAV, all of it or nothing.

    Raises
    ------
    AudioLevelError
        The place cannot be written to, or a file is there: no sound is ever replaced.
    """
    where = Path(path)
    try:
        with draft_of(where, None) as draft:
            sf.write(str(draft), samples, rate_hz, subtype="PCM_24", format="WAV")
    except sf.LibsndfileError as error:
        raise RecordingError(f"{where}: cannot be written; choose another place") from error
