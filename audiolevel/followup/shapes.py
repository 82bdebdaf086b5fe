"""How the count falls with the level, as a plan tells it: one curve for each score of its belief.

A plan gives its best estimate and an interval at every setting. Where the sample counted, their
curves run side by side, as those of a site heard louder or softer do; where it extrapolated, they
part: a rate that is lower than expected belongs to a tail that dies out, and falls more steeply
with the level than one that is higher. So each score of the belief has a curve of its own. A rate
that the plan hardly thought possible is that of a site that has changed, and has the curve of the
best estimate again, moved along the level.

Conventions: levels in the plan's unit, natural logarithms of the rate a day; a score is the normal
score of the plan's belief in the rate, 0 for its best estimate.

Entry points: `Shape`, `Shapes`, `shapes_of`.

Method and evidence: docs/followup.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting.belief import LEVEL_SLOPE_NP_PER_DB
from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError

# Least fall of a shape, so that it can always be read backwards; 0.08 is e in 12.5 dB.
SHALLOW_NP_PER_DB = 0.08
SMOOTH_DB = 1.5
# of the stretch between two curves, 100 dB at the most: to 0.02 dB, and straight from there
_HALVINGS = 12
# so many times as far out as the interval's end the site is another one
CHANGED_SCORES = 2.0
# one firing in 27 years: what is rarer has no logarithm worth drawing a curve through
RAREST_PER_DAY = 1e-4


@dataclass(frozen=True, eq=False)
class Shape:
    """Falling curve of ln(rate a day) over the level, straight between and beyond its points.

    Attributes
    ----------
    level_db : array, shape (n,)
        Rising levels, in the plan's unit.
    log_rate : array, shape (n,)
        Falling natural logarithms of the rate a day there.
    slope_low, slope_high : float
        Fall beyond the lowest and the highest level, neper per dB.
    """

    level_db: Array
    log_rate: Array
    slope_low: float = SHALLOW_NP_PER_DB
    slope_high: float = LEVEL_SLOPE_NP_PER_DB

    def at(self, level_db: ArrayLike) -> Array:
        """Natural logarithm of the daily rate at a level in dB, shape as given."""
        level = np.asarray(level_db, dtype=np.float64)
        inside = np.interp(level, self.level_db, self.log_rate)
        # zero inside the curve; below its lowest level the rate goes on rising
        below = np.minimum(level - self.level_db[0], 0) * -self.slope_low
        above = np.maximum(level - self.level_db[-1], 0) * -self.slope_high
        return np.asarray(inside + below + above)

    def level(self, log_rate: ArrayLike) -> Array:
        """Level in dB at which the curve has that logarithm of the rate, shape as given."""
        y = np.asarray(log_rate, dtype=np.float64)
        # np.interp wants rising points, so the falling logarithm changes its sign
        inside = np.interp(-y, -self.log_rate, self.level_db)
        below = np.minimum(self.log_rate[0] - y, 0) / self.slope_low
        above = np.maximum(self.log_rate[-1] - y, 0) / self.slope_high
        return np.asarray(inside + below + above)


@dataclass(frozen=True, eq=False)
class Shapes:
    """A curve for every score: straight in ln(rate) between those told, and theirs beyond.

    Attributes
    ----------
    scores : tuple of float
        Rising.
    curves : tuple of Shape
        One for each.
    """

    scores: tuple[float, ...]
    curves: tuple[Shape, ...]

    @classmethod
    def alone(cls, shape: Shape) -> "Shapes":
        """One curve for every score."""
        return cls((0.0,), (shape,))

    @property
    def middle(self) -> Shape:
        """The curve of the best estimate."""
        return self.curves[self.scores.index(0.0)]

    def at(self, score: ArrayLike, level_db: ArrayLike) -> Array:
        """Natural logarithm of the daily rate at a level in dB; scores and levels broadcast."""
        return self._mixed(self._parts(score), np.asarray(level_db, dtype=np.float64))

    def level(self, score: ArrayLike, log_rate: ArrayLike) -> Array:
        """Level in dB at which that logarithm of the rate is reached; both broadcast."""
        parts, y = self._parts(score), np.asarray(log_rate, dtype=np.float64)
        of_each = [curve.level(y) for curve in self.curves]
        if len(of_each) == 1:
            return of_each[0]
        # a mixture of falling curves falls, and crosses between the crossings of its parts
        low, high = np.min(of_each, axis=0), np.max(of_each, axis=0)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            too_often = self._mixed(parts, middle) > y
            low, high = np.where(too_often, middle, low), np.where(too_often, high, middle)
        # the stretch left is short enough to be straight
        above, below = self._mixed(parts, low), self._mixed(parts, high)
        return np.asarray(low + (high - low) * (above - y) / np.maximum(above - below, 1e-12))

    def _parts(self, score: ArrayLike) -> Array:
        # a tent over each score; beyond the outermost ones theirs alone
        tents = np.eye(len(self.scores))
        at = np.asarray(score, dtype=np.float64)
        return np.array([np.interp(at, self.scores, tent) for tent in tents])

    def _mixed(self, parts: Array, level_db: Array) -> Array:
        each = [part * curve.at(level_db) for part, curve in zip(parts, self.curves, strict=True)]
        return np.asarray(np.sum(each, axis=0))


def shapes_of(
    settings_db: ArrayLike,
    per_day: ArrayLike,
    ends: Sequence[ArrayLike] = (),
    end_score: float = 1.96,
    beyond_np_per_db: float = LEVEL_SLOPE_NP_PER_DB,
) -> Shapes:
    """Curves of a plan: those of its best estimate and of its interval's ends.

    Parameters
    ----------
    settings_db, per_day : array_like, shape (n,)
        Settings of the plan, and its best estimate at each (nan where it has none).
    ends : two of array_like, shape (n,), optional
        Lower and upper end of the rate's interval; without them there is one curve.
    end_score : float
        Normal score of the upper end.
    beyond_np_per_db : float
        Slope where the plan tells nothing.

    Raises
    ------
    SettingError
        The plan has no rate at any setting.

    Notes
    -----
    Only the falling branch from the most-firing setting on is used, smoothed over ±1.5 dB. Twice as
    far out as the interval's ends the curve is the middle one again.
    """
    level = np.asarray(settings_db, dtype=np.float64)
    rates = [np.asarray(rate, dtype=np.float64) for rate in (per_day, *ends)]
    known = np.all([np.isfinite(rate) & (rate > RAREST_PER_DAY) for rate in rates], axis=0)
    best = rates[0]
    if not np.any(np.isfinite(best) & (best > 0)):
        raise SettingError("curves: the plan gives no rate at any setting; plan again")
    # below the most-firing setting the background holds the trigger up: no branch of sounds
    first = int(np.nanargmax(best))
    rows = np.flatnonzero(known)
    rows = rows[rows >= first]
    # one point or none has no slope of its own: the usual one to both sides
    if rows.size < 2:
        at = first if rows.size == 0 else int(rows[-1])
        point = (level[[at]], np.log(best[[at]]))
        return Shapes.alone(Shape(*point, beyond_np_per_db, beyond_np_per_db))
    curves = [_smooth(level[rows], np.log(rate[rows]), beyond_np_per_db) for rate in rates]
    if not ends:
        return Shapes.alone(curves[0])
    middle, low, high = curves
    ends_at = (CHANGED_SCORES * end_score, end_score)
    scores = (-ends_at[0], -ends_at[1], 0.0, ends_at[1], ends_at[0])
    return Shapes(scores, (middle, low, middle, high, middle))


def _smooth(level: Array, log_rate: Array, beyond_np_per_db: float) -> Shape:
    # (n, n): which settings lie within the window of each
    near = np.abs(level[:, None] - level) <= SMOOTH_DB
    # a window that sticks out over an end would bend the curve there: mean of both coordinates
    smooth = (near @ log_rate) / near.sum(axis=1)
    middle = (near @ level) / near.sum(axis=1)
    # chance may make a curve rise or stand still, which has no inverse
    steps = np.maximum(-np.diff(smooth), SHALLOW_NP_PER_DB * np.diff(middle))
    # summed from the highest level, whose smoothed rate stays
    falling = smooth[-1] + np.append(np.cumsum(steps[::-1])[::-1], 0.0)
    return Shape(middle, falling, slope_high=beyond_np_per_db)
