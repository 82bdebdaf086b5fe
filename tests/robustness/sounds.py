"""Damaged sound and video files, each made of a good one."""

import struct
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import soundfile as sf

from tests.metering.made_video import write_video

RATE, SECONDS = 8000, 6
Damage = Callable[[bytes], bytes]


def wave() -> np.ndarray:
    """Noise whose level moves every half second."""
    rng = np.random.default_rng(11)
    level = np.repeat(10 ** rng.uniform(-2.3, -1.2, 2 * SECONDS), RATE // 2)
    return np.asarray(level * rng.normal(0, 1, len(level)))


FORMATS = {
    "pcm16.wav": {"subtype": "PCM_16"},
    "pcm24.wav": {"subtype": "PCM_24"},
    "float.wav": {"subtype": "FLOAT"},
    "ulaw.wav": {"subtype": "ULAW"},
    "rf64.wav": {"subtype": "PCM_16", "format": "RF64"},
    "a.flac": {},
    "a.ogg": {},
    "opus.ogg": {"subtype": "OPUS", "format": "OGG"},
    "a.mp3": {},
    "a.aiff": {},
    "a.au": {},
    "a.caf": {},
    "a.w64": {},
}
VIDEOS = {
    "a.mp4": "aac",
    "a.mov": "pcm_s16le",
    "a.mkv": "aac",
    "a.avi": "pcm_mulaw",
    "a.ts": "aac",
}


def _flip(data: bytes, seed: int, first: float, last: float, count: int) -> bytes:
    rng = np.random.default_rng(seed)
    out = bytearray(data)
    for at in rng.integers(int(first * len(data)), max(1, int(last * len(data))), count):
        out[at] ^= 1 << int(rng.integers(8))
    return bytes(out)


# what can happen to any file on a card or on a line; the beginning is the first five hundredths
ANY: dict[str, Damage] = {
    "as it was": lambda data: data,
    "empty": lambda _: b"",
    "one byte": lambda data: data[:1],
    "first 16 bytes": lambda data: data[:16],
    "first tenth": lambda data: data[: len(data) // 10],
    "first half": lambda data: data[: len(data) // 2],
    "all but the last 100 bytes": lambda data: data[:-100],
    "a byte more": lambda data: data + b"\0",
    "a kilobyte of text after it": lambda data: data + b"audio" * 200,
    "zeros in place of its beginning": lambda data: bytes(64) + data[64:],
    "zeros in place of its middle": lambda data: (
        data[: len(data) // 2] + bytes(len(data) // 4) + data[3 * len(data) // 4 :]
    ),
    "its middle missing": lambda data: data[: len(data) // 2] + data[3 * len(data) // 4 :],
    "three bits turned in its middle": lambda data: _flip(data, 1, 0.4, 0.6, 3),
    "noise in place of all of it": lambda data: np.random.default_rng(2).bytes(len(data)),
    "twice on end": lambda data: data + data,
    "its first half twice": lambda data: data[: len(data) // 2] + data,
}

# fields of a canonical WAV header (RIFF, 16 bytes of fmt)
WAV_FIELDS = {
    "audio format 0": (20, "<H", 0),
    "audio format of nothing known": (20, "<H", 0x7777),
    "no channels": (22, "<H", 0),
    "65,535 channels": (22, "<H", 65535),
    "rate 0": (24, "<I", 0),
    "rate 1": (24, "<I", 1),
    "rate 7,999": (24, "<I", 7999),
    "rate 4 GHz": (24, "<I", 2**32 - 1),
    "block of 0 bytes": (32, "<H", 0),
    "block of 7 bytes": (32, "<H", 7),
    "0 bits": (34, "<H", 0),
    "12 bits": (34, "<H", 12),
    "65 bits": (34, "<H", 65),
    "RIFF shorter than it is": (4, "<I", 100),
    "RIFF longer than it is": (4, "<I", 2**31),
    "data shorter than it is": (40, "<I", 1000),
    "data longer than it is": (40, "<I", 2**31),
    "data of 0 bytes": (40, "<I", 0),
    "data of an odd length": (40, "<I", RATE * SECONDS * 2 - 1),
    "fmt of 0 bytes": (16, "<I", 0),
    "fmt of 2 GB": (16, "<I", 2**31),
    "no RIFF": (0, "<I", 0),
    "no WAVE": (8, "<I", 0),
    "no data": (36, "<I", 0),
}


def _float_wav(path: Path, change: Callable[[np.ndarray], None]) -> bytes:
    samples = wave().astype(np.float32)
    change(samples)
    sf.write(path, samples, RATE, subtype="FLOAT")
    return path.read_bytes()


def _put(at: int, value: float) -> Callable[[np.ndarray], None]:
    def change(samples: np.ndarray) -> None:
        samples[at] = value

    return change


SAMPLES = {
    "a sample that is no number": _put(20_000, np.nan),
    "the last sample infinite": _put(-1, np.inf),
    "the first sample minus infinite": _put(0, -np.inf),
    "a sample of 1e30": _put(20_000, 1e30),
    "a sample of the smallest number": _put(20_000, 1e-45),
}


def sound_files(scratch: Path) -> Iterator[tuple[str, str, bytes]]:
    """Name, what is wrong with it, and its bytes."""
    for name, more in FORMATS.items():
        sf.write(scratch / name, wave(), RATE, **more)
        good = (scratch / name).read_bytes()
        for what, damage in ANY.items():
            yield name, what, damage(good)
    good = (scratch / "pcm16.wav").read_bytes()
    for what, (at, form, value) in WAV_FIELDS.items():
        size = struct.calcsize(form)
        yield "pcm16.wav", what, good[:at] + struct.pack(form, value) + good[at + size :]
    for what, change in SAMPLES.items():
        yield "float.wav", what, _float_wav(scratch / "changed.wav", change)
    for what, samples, rate in (
        ("digital silence", np.zeros(RATE * SECONDS), RATE),
        ("one sample", np.zeros(1), RATE),
        ("5 ms", wave()[:40], RATE),
        ("15 ms", wave()[:120], RATE),
        ("no samples", np.zeros(0), RATE),
        ("rate of 6 kHz", wave(), 6000),
        ("rate of 200 kHz", wave(), 200_000),
        ("rate of 11,025 Hz", wave(), 11_025),
        ("eight channels", np.column_stack([wave()] * 8), RATE),
        ("full scale throughout", np.sign(wave()), RATE),
    ):
        sf.write(scratch / "odd.wav", samples, rate)
        yield "odd.wav", what, (scratch / "odd.wav").read_bytes()
    yield "picture.wav", "a picture under the name of a sound", b"\x89PNG\r\n\x1a\n" + bytes(500)
    yield "text.wav", "text under the name of a sound", b"no sound at all\n" * 40
    yield "flac.wav", "a FLAC under the name of a WAV", (scratch / "a.flac").read_bytes()
    yield "wav.mp3", "a WAV under the name of an MP3", (scratch / "pcm16.wav").read_bytes()


def video_files(scratch: Path) -> Iterator[tuple[str, str, bytes]]:
    """Name, what is wrong with it, and its bytes."""
    for name, codec in VIDEOS.items():
        write_video(scratch / name, wave(), RATE, codec)
        good = (scratch / name).read_bytes()
        for what, damage in ANY.items():
            yield name, what, damage(good)
    yield "list.ts", "a playlist of a network", b"#EXTM3U\n#EXTINF:1,\nhttp://example.org/a.ts\n"
    yield "list.mkv", "a list of other files", b"ffconcat version 1.0\nfile pcm16.wav\n"
    sf.write(scratch / "pcm16.wav", wave(), RATE)
    yield "wav.mp4", "a WAV under the name of a video", (scratch / "pcm16.wav").read_bytes()
