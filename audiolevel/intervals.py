"""Estimates with their intervals, and the interval of a share of independent tries."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array


@dataclass(frozen=True)
class Interval:
    """A best estimate between its limits; `best` is None where there are only limits."""

    best: float | None
    low: float
    high: float


MOMENT_S = 15.0
"""Stretches closer than this meet the same vehicles: they count as one moment of the site."""


def wilson_interval(
    share: ArrayLike, count: ArrayLike, confidence: float = 0.95
) -> tuple[Array, Array]:
    """Limits of a probability of which `share` of `count` independent tries were seen.

    Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212: the score interval, which never leaves 0 to 1
    and keeps a width when none or all were seen.
    """
    from statistics import NormalDist

    z2 = NormalDist().inv_cdf(0.5 + confidence / 2.0) ** 2
    p, n = np.asarray(share, dtype=np.float64), np.asarray(count, dtype=np.float64)
    middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n)
    half = np.sqrt(z2 * (p * (1.0 - p) / n + z2 / (4.0 * n * n))) / (1.0 + z2 / n)
    return np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)
