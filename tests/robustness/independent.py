"""What readers of other people find in a sound file: length, level, highest sample.

WAV is read by SciPy, which shares nothing with libsndfile; all else, and what SciPy does not read,
by FFmpeg's libraries.
"""

import warnings
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from scipy.io import wavfile


@dataclass(frozen=True)
class Found:
    """Length in seconds, mean and highest level in dB re full scale of a sine and of a sample."""

    duration_s: float
    level_db: float
    peak_db: float


def found_in(path: Path) -> Found | None:
    """What a reader finds; None where none can read it, or it holds next to nothing."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for read in (_by_scipy, _by_ffmpeg):
            try:
                samples, rate_hz = read(path)
            # whatever these make of a damaged file
            except Exception:
                continue
            if len(samples) >= rate_hz // 10 and np.isfinite(samples).all() and samples.any():
                mean_square = float(np.mean(np.square(samples)))
                return Found(
                    len(samples) / rate_hz,
                    10 * np.log10(2 * mean_square),
                    20 * np.log10(float(np.abs(samples).max())),
                )
    return None


def _full_scale(samples: np.ndarray) -> np.ndarray:
    if samples.dtype.kind == "f":
        return samples.astype(np.float64)
    if samples.dtype == np.uint8:
        return (samples.astype(np.float64) - 128) / 128
    return samples / 2.0 ** (8 * samples.dtype.itemsize - 1)


def _by_scipy(path: Path) -> tuple[np.ndarray, int]:
    rate_hz, samples = wavfile.read(path)
    return _full_scale(samples.reshape(len(samples), -1)), rate_hz


def _by_ffmpeg(path: Path) -> tuple[np.ndarray, int]:
    parts = []
    with av.open(str(path), metadata_errors="replace") as file:
        stream = file.streams.audio[0]
        try:
            for frame in file.decode(stream):
                block = frame.to_ndarray()
                channels = len(frame.layout.channels)
                parts.append(block.T if frame.format.is_planar else block.reshape(-1, channels))
        # as far as it goes
        except av.FFmpegError:
            pass
    return _full_scale(np.concatenate(parts)), stream.rate
