"""Folders as recorders leave them."""

from pathlib import Path

import numpy as np
import soundfile as sf

RATE_HZ = 8000


def sound(path: Path, seconds: float = 20.0, seed: int = 0) -> Path:
    """Noise with a louder passage every few seconds, as a file of that name."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng(seed)
    wave = 0.003 * rng.normal(0, 1, round(seconds * RATE_HZ))
    for begin in range(0, len(wave), 4 * RATE_HZ):
        wave[begin : begin + RATE_HZ // 2] *= 10 ** rng.uniform(0.5, 1.3)
    sf.write(path, np.clip(wave, -1, 1), RATE_HZ, subtype="PCM_16")
    return path
