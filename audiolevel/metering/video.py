"""The sound track of a camera's own file (MP4, MOV, MKV, AVI, TS …), read as a stream.

Decoding is PyAV's, an extra. The track is handed on as it was recorded, sample after sample; where
its time stamps jump, the jump is noted and nothing is put in its place.

Entry points: `VideoFile`, `is_video`.
"""

from collections import deque
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from audiolevel.ground.errors import AudioLevelError, PassingError, RecordingError
from audiolevel.ground.files import VIDEO_ENDINGS
from audiolevel.metering.file_times import time_in_name
from audiolevel.metering.readers import Block
from audiolevel.metering.sound_formats import bits_of, clip_amplitude

Jump = tuple[float, float]

# nothing else: a playlist under the name of a video could ask for other files, or for a network
_OPTIONS = {
    "protocol_whitelist": "file",
    "format_whitelist": "mov,matroska,webm,avi,mpegts,mpeg,asf,flv,aac",
}
# time stamps are rounded to a millisecond, or to a frame of the codec of some 20 ms
_JUMP_S = 0.1
_MOST_BAD_PACKETS = 50
# a frame of PyAV holds the addresses of eight planes; of more it reads memory that is not its own,
# and the process ends. Only a damaged file says that it has more
_MOST_CHANNELS = 8

# what `sound_formats` calls the samples of a codec
_FORMATS = {
    "pcm_mulaw": "ULAW",
    "pcm_alaw": "ALAW",
    "pcm_u8": "PCM_U8",
    "pcm_s24le": "PCM_24",
    "pcm_f32le": "FLOAT",
    "flac": "PCM_16",
}
# full scale of the sample formats that are whole numbers
_FULL_SCALE = {"s16": 2.0**15, "s32": 2.0**31, "u8": 2.0**7}


def is_video(path: Path) -> bool:
    """Whether the file's name says that it is one of a camera or of an editor of video."""
    return path.suffix.lower() in VIDEO_ENDINGS


def _library(path: Path) -> Any:
    try:
        # only where a video is read: an extra that few need
        import av
    except ImportError as error:
        raise PassingError(
            f"{path}: reading video needs the extra: pip install 'audiolevel[video]'"
        ) from error
    return av


class VideoFile:
    """The first sound track of a file, in the manner of `soundfile.SoundFile`.

    Parameters
    ----------
    path : Path
    jumps : list of (float, float), optional
        Receives where the time stamps jump: seconds of sound before it, and seconds left out
        (negative where stamps go back). Each once, however often the file is read.

    Raises
    ------
    PassingError
        PyAV is not installed.
    RecordingError
        No such file can be read, or it has no sound track.
    """

    def __init__(self, path: Path, jumps: list[Jump] | None = None) -> None:
        self._path, self._av = path, _library(path)
        self._jumps = [] if jumps is None else jumps
        try:
            self._begin()
            self.samplerate, self.channels = self._first()
            own = _format_of(self._codec)
            self.clip_amplitude, self.bits = clip_amplitude(own), bits_of(own)
            self.frames = round(self._length_s() * self.samplerate)
        except AudioLevelError:
            raise
        # a damaged header leaves out what every good file has
        except Exception as error:
            raise _unreadable(path) from error

    def close(self) -> None:
        """Let go of the file."""
        self._container.close()

    def _begin(self) -> None:
        """Open the file, at its beginning."""
        try:
            self._container = self._av.open(str(self._path), options=_OPTIONS)
        # whatever PyAV makes of a damaged file: its own errors are OSError, ValueError and others
        except Exception as error:
            raise _unreadable(self._path) from error
        if not self._container.streams.audio:
            self._container.close()
            raise RecordingError(f"{self._path}: has no sound track; was the microphone on?")
        self._stream = self._container.streams.audio[0]
        # None where the library knows no decoder for it
        if self._stream.codec_context is None:
            self._container.close()
            raise RecordingError(
                f"{self._path}: its sound is in a codec that is not known; export it as WAV"
            )
        self._codec = str(self._stream.codec_context.name)
        self._frames_of = self._decoded()
        self._rest: deque[Block] = deque()
        self._at, self._expected_s = 0, None

    def _first(self) -> tuple[int, int]:
        """Rate and channels, of the first frame: a header may tell half of a rate (HE-AAC)."""
        frame = next(self._frames_of, None)
        if frame is None:
            self.close()
            raise RecordingError(f"{self._path}: its sound track holds no samples; record again")
        rate, channels = int(frame.sample_rate), int(frame.layout.nb_channels)
        if channels > _MOST_CHANNELS:
            raise RecordingError(
                f"{self._path}: its sound track has {channels} channels; more than "
                f"{_MOST_CHANNELS} cannot be read, export the sound as WAV"
            )
        self._frames_of = _chained(frame, self._frames_of)
        return rate, channels

    def _length_s(self) -> float:
        """Length of the track: by its own account, by that of the file, or by its packets."""
        stream, container = self._stream, self._container
        if stream.duration and stream.time_base:
            return float(stream.duration * stream.time_base)
        if container.duration:
            return float(container.duration) / 1e6
        return self._packets_s()

    def _packets_s(self) -> float:
        """Length by the time stamps of the packets, none of which is decoded."""
        first, last = None, 0.0
        with self._av.open(str(self._path), options=_OPTIONS) as container:
            stream = container.streams.audio[0]
            try:
                for packet in container.demux(stream):
                    if packet.pts is not None and packet.time_base is not None:
                        at_s = float(packet.pts * packet.time_base)
                        first = at_s if first is None else first
                        length = float((packet.duration or 0) * packet.time_base)
                        last = max(last, at_s + length)
            except Exception:  # as far as it goes
                return last - (first or 0.0)
        return last - (first or 0.0)

    def start(self) -> tuple[datetime | None, str]:
        """When the recording began, and who says so: "name", "metadata", or nobody."""
        named = time_in_name(self._path.name)
        if named is not None:
            return named, "name"
        try:
            text = self._container.metadata.get("creation_time", "")
            found = datetime.fromisoformat(text.replace("Z", "+00:00"))
        except ValueError:
            return None, ""
        # clocks that were never set write the epoch of their format, 1904 or 1970
        if found.year < 2000:
            return None, ""
        return found.replace(tzinfo=None), "metadata"

    def read(self, frames: int) -> Block:
        """The next frames, shape (frames, channels); fewer at the end."""
        wanted = [np.zeros((0, self.channels), np.float32)]
        missing = frames
        while missing > 0:
            block = self._rest.popleft() if self._rest else self._next_block()
            if block is None:
                break
            if len(block) > missing:
                self._rest.appendleft(block[missing:])
                block = block[:missing]
            wanted.append(block)
            missing -= len(block)
        return np.concatenate(wanted)

    def seek(self, frame: int) -> None:
        """Go onward to a frame, by decoding; nobody asks for one that was passed."""
        while self._passed() < frame:
            if not len(self.read(min(frame - self._passed(), 10 * self.samplerate))):
                return

    def _passed(self) -> int:
        """Where reading stands: what was decoded less what waits."""
        return self._at - sum(map(len, self._rest))

    def _next_block(self) -> Block | None:
        """The samples of the next frame of the codec, shape (frames, channels); None at the end."""
        try:
            return self._samples_of(next(self._frames_of, None))
        except AudioLevelError:
            raise
        # a frame of a damaged file that lacks what every good one has: the sound ends before it
        except Exception:
            return None

    def _samples_of(self, frame: Any) -> Block | None:
        if frame is None:
            return None
        if frame.sample_rate != self.samplerate or frame.layout.nb_channels != self.channels:
            raise RecordingError(
                f"{self._path}: changes its sampling rate or its channels at "
                f"{self._at / self.samplerate:.1f} s; cut it there"
            )
        self._note_time(frame)
        samples = _samples(frame, self.channels)
        self._at += len(samples)
        return samples

    def _note_time(self, frame: Any) -> None:
        # AVI knows no time stamps: those that are made up for it follow the bytes of the codec
        if frame.pts is None or frame.time_base is None or self._container.format.name == "avi":
            return
        at_s = float(frame.pts * frame.time_base)
        if self._expected_s is not None and abs(at_s - self._expected_s) > _JUMP_S:
            jump = round(self._at / self.samplerate, 3), round(at_s - self._expected_s, 3)
            if jump not in self._jumps:
                self._jumps.append(jump)
        self._expected_s = at_s + frame.samples / frame.sample_rate

    def _decoded(self) -> Iterator[Any]:
        """Frames of the codec; a packet that cannot be decoded is left out, its time is a jump."""
        bad = 0
        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets, None)
            except Exception:  # the file breaks off within a packet
                return
            if packet is None:
                return
            try:
                frames = packet.decode()
            except Exception:
                bad += 1
                if bad > _MOST_BAD_PACKETS:
                    return
                continue
            bad = 0
            yield from frames


def _unreadable(path: Path) -> RecordingError:
    return RecordingError(
        f"{path}: is no video or sound file that can be read; export its sound as WAV"
    )


def _chained(first: Any, others: Iterator[Any]) -> Iterator[Any]:
    yield first
    yield from others


def _format_of(codec: str) -> str:
    """The format of a codec's samples; of what is packed lossily one as good as another."""
    return _FORMATS.get(codec, "PCM_16" if codec.startswith("pcm_") else "OPUS")


def _samples(frame: Any, channels: int) -> Block:
    """The samples of a frame, shape (frames, channels), full scale 1."""
    values, name = frame.to_ndarray(), str(frame.format.name)
    # planar formats have a row a channel, the others one row with the channels in turn
    table = values.T if name.endswith("p") else values.reshape(-1, channels)
    kind = name.removesuffix("p")
    if kind not in _FULL_SCALE:
        return np.ascontiguousarray(table, np.float32)
    # unsigned numbers have their zero in the middle
    zero = _FULL_SCALE[kind] if kind == "u8" else 0.0
    return np.asarray((table - zero) / _FULL_SCALE[kind], np.float32)
