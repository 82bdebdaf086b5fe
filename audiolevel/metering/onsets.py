"""Onsets: sudden rises of the level, how far and how fast.

The onset method of ISO/PAS 1996-3:2022 (first NT ACOU 112:2002) on LAF sampled every 10 ms:
an onset runs from the sample where the gradient first exceeds 10 dB/s to the next where it no
longer does; neighbours less than 50 ms apart are one onset when the slope from start to start and
from end to end still exceeds 10 dB/s.

Entry points: `find_onsets` (an array), `OnsetFinder` (a stream), `prominence`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array, BoolArray, IntArray
from audiolevel.metering.meter import ROW_S

Indices = IntArray

GRADIENT_DB_PER_S = 10.0
MERGE_WITHIN_S = 0.05
# the method asks for levels every 10 to 25 ms (NT ACOU 112:2002, ISO/PAS 1996-3:2022)
COARSEST_S = 0.025


@dataclass(frozen=True)
class Onsets:
    """Onsets in order of time; every array has shape (onsets,).

    Attributes
    ----------
    start_s, end_s : array
        First and last level of the rise.
    level_difference_db, onset_rate_db_per_s : array
        LD and OR of ISO/PAS 1996-3:2022.
    """

    start_s: Array
    end_s: Array
    level_difference_db: Array
    onset_rate_db_per_s: Array

    def __len__(self) -> int:
        return len(self.start_s)

    @property
    def prominence(self) -> Array:
        """P of each onset; NaN where the least-squares slope does not rise."""
        return prominence(self.onset_rate_db_per_s, self.level_difference_db)

    def of_at_least(self, level_difference_db: float) -> "Onsets":
        """Only the onsets that rise by `level_difference_db` or more."""
        return self._where(self.level_difference_db >= level_difference_db)

    def between(self, first_s: float, stop_s: float) -> "Onsets":
        """Only the onsets that begin from `first_s` on and before `stop_s`."""
        return self._where((self.start_s >= first_s - 1e-6) & (self.start_s < stop_s - 1e-6))

    def _where(self, chosen: BoolArray) -> "Onsets":
        return Onsets(
            self.start_s[chosen],
            self.end_s[chosen],
            self.level_difference_db[chosen],
            self.onset_rate_db_per_s[chosen],
        )


def joined_onsets(parts: Sequence[Onsets]) -> Onsets:
    """Onsets of several stretches, in their order."""
    return Onsets(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("start_s", "end_s", "level_difference_db", "onset_rate_db_per_s")
        )
    )


def prominence(onset_rate_db_per_s: ArrayLike, level_difference_db: ArrayLike) -> Array:
    """Predicted prominence P = 3 lg OR + 2 lg LD (ISO/PAS 1996-3:2022 formula (2))."""
    rate = np.asarray(onset_rate_db_per_s, dtype=np.float64)
    difference = np.asarray(level_difference_db, dtype=np.float64)
    # a slope or rise of 0 or less has no logarithm: NaN or −inf, and no warning
    with np.errstate(divide="ignore", invalid="ignore"):
        p: Array = 3 * np.log10(rate) + 2 * np.log10(difference)
    return p


def find_onsets(laf_db: ArrayLike, *, interval_s: float = ROW_S, first_s: float = 0.0) -> Onsets:
    """Onsets in a level history.

    Parameters
    ----------
    laf_db : array_like, shape (rows,)
        A-weighted, F-time-weighted level in dB.
    interval_s : float
        Between two levels; the method asks for 0.01 to 0.025 s.
    first_s : float
        Time of the first level.

    Returns
    -------
    Onsets
    """
    level = np.asarray(laf_db, dtype=np.float64)
    if len(level) < 2:
        return _onsets(level, np.zeros(0, np.int64), np.zeros(0, np.int64), interval_s, first_s)
    # a millionth of a dB keeps a slope of exactly 10 dB/s from counting by a rounding error
    rising = np.diff(level) > GRADIENT_DB_PER_S * interval_s + 1e-6
    # rising[k] is the step from row k to k + 1, so edges are rows of first and last levels
    edges = np.flatnonzero(np.diff(rising, prepend=False, append=False))
    starts, ends = _merged(level, edges[::2], edges[1::2], interval_s)
    return _onsets(level, starts, ends, interval_s, first_s)


def _merged(
    level: Array, starts: Indices, ends: Indices, interval_s: float
) -> tuple[Indices, Indices]:
    if len(starts) < 2:
        return starts, ends
    # less than 50 ms: gaps of five rows of 10 ms stay apart, whatever their rounding
    near = (starts[1:] - ends[:-1]) * interval_s < MERGE_WITHIN_S - 1e-9
    # with more than half a row of slack the two slopes are over whole rows, so no rounding matters
    steep = _slope(level, starts[:-1], starts[1:], interval_s) & _slope(
        level, ends[:-1], ends[1:], interval_s
    )
    joined = near & steep
    # of two that are joined go the first's end and the second's start
    return starts[np.r_[True, ~joined]], ends[np.r_[~joined, True]]


def _slope(level: Array, before: Indices, after: Indices, interval_s: float) -> BoolArray:
    rise = level[after] - level[before]
    steep: BoolArray = rise > GRADIENT_DB_PER_S * interval_s * (after - before) + 1e-6
    return steep


def _onsets(
    level: Array, starts: Indices, ends: Indices, interval_s: float, first_s: float
) -> Onsets:
    return Onsets(
        start_s=_seconds(first_s, starts, interval_s),
        end_s=_seconds(first_s, ends, interval_s),
        level_difference_db=np.round(level[ends] - level[starts], 6),
        onset_rate_db_per_s=_least_squares_slope(level, starts, ends) / interval_s,
    )


def _seconds(first_s: float, rows: Indices, interval_s: float) -> Array:
    # a time is the same number whichever piece of a stream it was found in
    return np.round(first_s + rows * interval_s, 6)


def _least_squares_slope(level: Array, starts: Indices, ends: Indices) -> Array:
    """Slope per row of the straight line through level[start … end], for all onsets at once."""
    if not len(starts):
        return np.zeros(0)
    # sums over each onset from running sums; about the local level, so that nothing cancels
    lengths = ends - starts + 1
    where = np.repeat(starts, lengths) + _ramp(lengths)
    # rows from the onset's middle: they sum to 0, so the mean level drops out
    x = _ramp(lengths) - np.repeat((lengths - 1) / 2, lengths)
    begin = np.cumsum(lengths) - lengths
    slope: Array = np.add.reduceat(x * level[where], begin) / np.add.reduceat(x * x, begin)
    return slope


def _ramp(lengths: Indices) -> Indices:
    """0, 1, … length − 1 for each length, end to end."""
    first = np.cumsum(lengths) - lengths
    return np.arange(lengths.sum()) - np.repeat(first, lengths)


class OnsetFinder:
    """Onsets of a stream of level rows, the same as of the whole.

    Times are the ends of the rows, as in the level history. Rows are held back from the last moment
    at which no onset can be under way or be joined to a later one.
    """

    def __init__(self, interval_s: float = ROW_S, first_row: int = 0) -> None:
        self._interval_s = interval_s
        self._held = np.zeros(0)
        self._held_from = first_row
        self._finished: list[Onsets] = []

    def add(self, laf_db: Array) -> None:
        """Take in more levels."""
        self._held = np.concatenate([self._held, laf_db])
        quiet = self._last_quiet_row()
        if quiet > 0:
            self._settle(quiet)

    def _last_quiet_row(self) -> int:
        """The last row before which nothing has risen for as long as a merge could reach back."""
        reach = round(MERGE_WITHIN_S / self._interval_s) + 1
        # without the millionth of find_onsets: calls more rising, which only holds more back
        rising = np.diff(self._held) > GRADIENT_DB_PER_S * self._interval_s
        last_rise = np.maximum.accumulate(np.where(rising, np.arange(len(rising)), -1))
        quiet = np.flatnonzero(np.arange(len(rising)) - last_rise > reach)
        return int(quiet[-1]) if len(quiet) else 0

    def _settle(self, upto: int) -> None:
        # one more: the time of a row is its end
        first_s = (self._held_from + 1) * self._interval_s
        part = find_onsets(self._held[: upto + 1], interval_s=self._interval_s, first_s=first_s)
        self._finished.append(part)
        # row `upto` is in both parts: the next part's first step starts from it
        self._held = self._held[upto:]
        self._held_from += upto

    def onsets(self) -> Onsets:
        """All onsets so far; levels still held back are taken to end here."""
        first_s = (self._held_from + 1) * self._interval_s
        rest = find_onsets(self._held, interval_s=self._interval_s, first_s=first_s)
        return joined_onsets([*self._finished, rest])
