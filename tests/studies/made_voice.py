"""Speech-like sound made by computation, for machines without a speech synthesiser.

A buzz whose pitch moves, through three resonances that change with every syllable, four or five
syllables a second, with hiss between them and pauses between phrases. It says nothing.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from tests.studies.street_noises import RATE_HZ

Array = NDArray[np.float64]


def babble(seed: int, seconds: int = 10, pitch_hz: float = 120.0) -> Array:
    """So many seconds of it at 16 kHz."""
    rng = np.random.default_rng(seed)
    parts: list[Array] = []
    while sum(map(len, parts)) < seconds * RATE_HZ:
        base = pitch_hz * 2 ** rng.uniform(-0.2, 0.2)
        count = int(rng.integers(5, 14))
        for number in range(count):
            parts += [_syllable(rng, base * 2 ** (0.3 - 0.5 * number / count)), _hiss(rng)]
        parts.append(np.zeros(int(rng.uniform(0.15, 0.5) * RATE_HZ)))
    return np.concatenate(parts)[: seconds * RATE_HZ]


def _syllable(rng: np.random.Generator, hz: float) -> Array:
    size = int(rng.uniform(0.1, 0.22) * RATE_HZ)
    course = hz * 2 ** np.linspace(rng.uniform(-0.1, 0.15), rng.uniform(-0.15, 0.1), size)
    turns = np.cumsum(course) / RATE_HZ
    buzz = np.diff(np.floor(turns), prepend=0.0) - course / RATE_HZ
    for formant, width in ((rng.uniform(300, 800), 80), (rng.uniform(900, 2200), 100), (2700, 150)):
        radius = np.exp(-np.pi * width / RATE_HZ)
        buzz = lfilter(
            [1 - radius], [1, -2 * radius * np.cos(2 * np.pi * formant / RATE_HZ), radius**2], buzz
        )
    return np.asarray(buzz / (buzz.std() + 1e-9) * np.hanning(size) ** 0.5)


def _hiss(rng: np.random.Generator) -> Array:
    size = int(rng.uniform(0.04, 0.1) * RATE_HZ)
    return np.asarray(np.diff(rng.standard_normal(size + 1)) * np.hanning(size) * 0.15)
