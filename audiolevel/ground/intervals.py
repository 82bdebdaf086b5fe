"""Estimates with their intervals, and the interval of a share of independent tries."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array

MOMENT_S = 15.0
"""Stretches closer than this meet the same vehicles: they count as one moment of the site."""


@dataclass(frozen=True)
class Interval:
    """An estimate with its limits, all three in the same unit.

    Attributes
    ----------
    best : float or None
        The best estimate; None where only limits are known.
    low, high : float
        Limits of the interval.
    """

    best: float | None
    low: float
    high: float

    def __contains__(self, value: float) -> bool:
        """Whether a value lies within the limits, which belong to the interval."""
        return self.low <= value <= self.high

    def at_most(self, most: float) -> "Interval":
        """The interval with nothing above what is possible."""
        best = None if self.best is None else min(self.best, most)
        return Interval(best, min(self.low, most), min(self.high, most))

    def times(self, factor: "float | Interval") -> "Interval":
        """The interval scaled by a number, or limit by limit by another interval."""
        other = factor if isinstance(factor, Interval) else Interval(factor, factor, factor)
        best = None if self.best is None or other.best is None else self.best * other.best
        return Interval(best, self.low * other.low, self.high * other.high)


def wilson_interval(
    share: ArrayLike, count: ArrayLike, confidence: float = 0.95
) -> tuple[Array, Array]:
    """Limits of a probability of which `share` of `count` independent tries were seen.

    Parameters
    ----------
    share : array_like
        Share of the tries, 0 to 1, any shape.
    count : array_like
        Independent tries, above 0; broadcast against `share`.
    confidence : float
        Of the interval, between 0 and 1.

    Returns
    -------
    low, high : arrays, shape as broadcast

    Notes
    -----
    Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212: the score interval, which never leaves 0 to 1
    and keeps a width when none or all were seen.
    """
    from statistics import NormalDist

    z2 = NormalDist().inv_cdf(0.5 + confidence / 2.0) ** 2
    p, n = np.asarray(share, dtype=np.float64), np.asarray(count, dtype=np.float64)
    middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n)
    half = np.sqrt(z2 * (p * (1.0 - p) / n + z2 / (4.0 * n * n))) / (1.0 + z2 / n)
    return np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)
