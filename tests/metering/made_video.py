"""Videos with a sound track, made by PyAV for the tests: nothing is kept in the repository."""

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

# the tests with the lowest versions of the dependencies run without any extra
av = pytest.importorskip("av", reason="needs the extra video")

FRAME = 1024


def write_video(
    path: Path,
    wave: np.ndarray,
    rate_hz: int,
    codec: str,
    *,
    container: str | None = None,
    bit_rate: int | None = None,
    gaps_s: Sequence[tuple[float, float]] = (),
    metadata: dict[str, str] | None = None,
    picture: bool = True,
) -> Path:
    """A file with one sound track, shape (frames,) or (frames, channels), and a small picture.

    `gaps_s` are places in the sound (seconds) after which the time stamps jump by so much.
    """
    table = wave[:, None] if wave.ndim == 1 else wave
    layout = {1: "mono", 2: "stereo"}[table.shape[1]]
    with av.open(str(path), "w", format=container) as out:
        out.metadata.update(metadata or {})
        if picture:
            # as a camera's file has one; the reader must find the sound beside it
            pictures = out.add_stream("mpeg4", rate=5)
            pictures.width = pictures.height = 32
            pictures.pix_fmt = "yuv420p"
        sound = out.add_stream(codec, rate=rate_hz, layout=layout)
        if bit_rate:
            sound.bit_rate = bit_rate
        pcm = np.clip(np.round(table * 32767), -32768, 32767).astype(np.int16)
        resampler = av.AudioResampler(format=sound.format.name, layout=layout, rate=rate_hz)
        jumps = sorted(gaps_s)
        encode: Any = sound.encode
        for at in range(0, len(pcm), FRAME):
            frame = av.AudioFrame.from_ndarray(
                pcm[at : at + FRAME].reshape(1, -1), format="s16", layout=layout
            )
            frame.sample_rate = rate_hz
            frame.time_base = Fraction(1, rate_hz)
            frame.pts = at + sum(round(s * rate_hz) for after, s in jumps if at / rate_hz >= after)
            for ready in resampler.resample(frame):
                out.mux(encode(ready))
        for ready in resampler.resample(None):
            out.mux(encode(ready))
        out.mux(encode(None))
        if picture:
            for number in range(5):
                image = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
                image.pts, image.time_base = number, Fraction(1, 5)
                out.mux(pictures.encode(image))
            out.mux(pictures.encode(None))
    return path


def remux(source: Path, target: Path, container: str) -> Path:
    """The very packets of the sound track in another container."""
    with av.open(str(source)) as read, av.open(str(target), "w", format=container) as out:
        track = read.streams.audio[0]
        copy = out.add_stream_from_template(track)
        for packet in read.demux(track):
            if packet.dts is not None:
                packet.stream = copy
                out.mux(packet)
    return target
