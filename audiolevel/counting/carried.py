"""Draws of the firings in the time listened, and the same carried to louder or quieter days.

Every draw has a curve of its own over the level. A site that is louder than heard is that curve
moved along the level, which turns decibels into rates by the curve's own slope; what has no curve
is multiplied.

Conventions: draws in columns; firings in all the time listened, not rates.

Entry point: `Swept`. Method: docs/counting.md.
"""

from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, IntArray
from audiolevel.counting.peaks_over_threshold import Tail
from audiolevel.counting.posterior import REACH_DB, SharedDraws, moved, rate_draws

NEAR_DB = 12.0  # the curve is known so far below the settings, where a louder day needs it
# the curve goes on so far past the highest setting: the question turned round must have an end
FAR_DB = 60.0


@dataclass(frozen=True, eq=False)
class Swept:
    """Draws of the firings in all the time listened, at the settings and along the level.

    Attributes
    ----------
    branch : int
        The most-firing setting, from which on the counts fall.
    grid_db, firings : levels of the falling branch and beyond (m,), and draws there (m, draws)
    at : rows of the grid that are settings of the branch
    below : draws at the settings under the branch
    movable : whether the curve goes on under the lowest setting, so that it can be moved
    """

    branch: int
    grid_db: Array
    firings: Array
    at: IntArray
    below: Array
    movable: bool

    @classmethod
    def of(
        cls, settings: Array, count: IntArray, tail: Tail | None, shared: SharedDraws
    ) -> "Swept":
        """Of settings (n,), the firings seen at each, and the tail if there is one."""
        # below the most-firing setting the background itself holds the trigger up
        branch = int(np.argmax(count))
        grid, seen = _grid(settings[branch:], count[branch:], tail)
        return cls(
            branch,
            grid,
            # an exposure of 1: firings in the time listened, not a rate
            rate_draws(grid, seen, 1.0, tail, shared),
            np.searchsorted(grid, settings[branch:]),
            rate_draws(settings[:branch], count[:branch], 1.0, tail, shared),
            tail is not None,
        )

    @property
    def curve_db(self) -> Array:
        """The settings from the most-firing one on, and the levels beyond them."""
        return self.grid_db[self._of_curve]

    @property
    def _of_curve(self) -> IntArray:
        # the grid's levels between settings help to move the curve and are not told
        beyond = np.arange(self.at[-1] + 1, self.grid_db.size, dtype=np.int64)
        return np.append(self.at, beyond)

    def heard(self) -> Array:
        """Draws at the settings, in conditions like those heard."""
        return np.append(self.below, self.firings[self.at], axis=0)

    def times(self, factor: Array) -> tuple[Array, Array]:
        """Draws along the curve, and at the settings, so many times as often as heard."""
        return self.firings[self._of_curve] * factor, self.heard() * factor

    def carried(self, by_db: Array, slope: float, factor: Array) -> tuple[Array, Array]:
        """The same where the site is louder than heard by `by_db`, besides."""
        if not self.movable:
            return self.times(np.exp(slope * by_db) * factor)
        curve = moved(self.firings, self.grid_db, by_db) * factor
        # what lies in the background goes with the most-firing setting
        # (draws,): by how much the most-firing setting changed
        foot = curve[self.at[0]] / np.maximum(self.firings[self.at[0]], 1e-300)
        return curve[self._of_curve], np.append(self.below * foot, curve[self.at], axis=0)


def _grid(settings: Array, count: IntArray, tail: Tail | None) -> tuple[Array, IntArray]:
    """Settings, and every decibel between, below and beyond them, with the peaks at or above each.

    No level has more than the settings below it fired, nor less than those above it.
    """
    if tail is None:
        return settings, count
    # one dB a step is fine enough: the curve bends over several
    top = max(tail.loudest_db + REACH_DB, float(settings[-1])) + FAR_DB
    every = np.append(np.arange(settings[0] - NEAR_DB, settings[0]), np.arange(settings[0], top))
    grid = np.unique(np.append(settings, every))
    # the count of the nearest setting at or above each level; none above the last
    above = np.append(count, 0)[np.searchsorted(settings, grid)]
    # the prefix shifts the index by one: the nearest setting at or below, no bound under the first
    below = np.append(np.iinfo(np.int64).max, count)[np.searchsorted(settings, grid, "right")]
    # two firings may lie nearer than two separate peaks can: the counts decide
    return grid, np.clip(tail.count_above(grid), above, np.maximum(above, below))
