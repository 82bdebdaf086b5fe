"""Decibels re full scale, mean squares, and the whole hundredths that level histories are kept in.

A full-scale sine reads 0.0 dB FS (AES17), so a mean square of 0.5 is 0 dB. Digital silence reads
`SILENCE_DB`.
"""

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array, Centi

SILENCE_DB = -200.0
_SILENCE_MEAN_SQUARE = 0.5 * 10 ** (SILENCE_DB / 10)


def level_db(mean_square: ArrayLike) -> Array:
    """Level in dB FS of a mean square (any shape); a full-scale sine, 0.5, reads 0.0."""
    # the floor keeps the logarithm of digital silence finite
    floored = np.maximum(np.asarray(mean_square, dtype=np.float64), _SILENCE_MEAN_SQUARE)
    level: Array = 10 * np.log10(floored / 0.5)
    return level


def mean_square(level: ArrayLike) -> Array:
    """Mean square of a level in dB FS (any shape): the inverse of `level_db`."""
    out: Array = 0.5 * 10 ** (np.asarray(level, dtype=np.float64) / 10)
    return out


def rounded_db(mean_squares: ArrayLike) -> Array:
    """Level in dB FS, rounded to the 0.01 dB of the level history."""
    rounded: Array = np.round(level_db(mean_squares), 2)
    return rounded


def centibels(level_db: ArrayLike) -> Centi:
    """Levels as whole hundredths of a dB, shape as given."""
    # rounded, not cut, or -71.2999 would move by 0.01 dB; int16 reaches ±327 dB at 2 bytes a row
    return np.rint(np.asarray(level_db, dtype=np.float64) * 100).astype(np.int16)
