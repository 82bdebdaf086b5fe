"""By how many decibels the hours and days not heard are louder or quieter than those heard.

A visit is louder or quieter than the mean day by a shift that is made of a part of its hour and a
part of its day. The size of the shift is believed by the kind of site, and learned from how much
the visits' own levels differ, which are known far better than the counts of rare firings.

Conventions: dB; positive: the days to come are louder than the visits.

Entry points: `Shift`, `shift_of`.

References
----------
Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd ed., CRC, section 3.2 (normal data with a
scaled inverse chi-squared prior of the variance).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array
from audiolevel.counting.posterior import SharedDraws
from audiolevel.counting.site_kinds import LEVEL_SLOPE_NP_PER_DB, SiteKind


@dataclass(frozen=True)
class Shift:
    """Distribution of the shift from the visits to the mean day and to one day.

    Attributes
    ----------
    scale_db, worth : scale and degrees of freedom of one visit's shift from the mean day
    of_mean, of_day : parts of its variance left unknown in the mean day, and between one day and it
    wet_share, wet_db : of the days to come
    wet_heard : for each day heard 1 if wet, 0 if dry, None if nobody said
    """

    scale_db: float
    worth: float
    of_mean: float
    of_day: float
    wet_share: float = 0.0
    wet_db: float = 0.0
    wet_heard: tuple[bool | None, ...] = (None,)

    def draws(self, dice: SharedDraws) -> tuple[Array, Array]:
        """Shift to the mean day and to one single day, each one a draw; dB."""
        scale = self.scale_db * np.sqrt(self.worth / dice.chi_squared(self.worth))
        mean = scale * math.sqrt(self.of_mean) * dice.normal
        # the mean of rates lies above the rate at the mean level (log-normal mean)
        mean += LEVEL_SLOPE_NP_PER_DB / 2 * self.of_mean * self.scale_db**2
        heard = self.wet_db * self._wet_part(dice)
        day = mean - heard + scale * math.sqrt(self.of_day) * dice.day_normal
        day += self.wet_db * (dice.day_wet < self.wet_share)
        louder = math.exp(LEVEL_SLOPE_NP_PER_DB * self.wet_db) - 1
        mean = mean - heard + math.log1p(self.wet_share * louder) / LEVEL_SLOPE_NP_PER_DB
        return mean, day

    @property
    def sd_db(self) -> float:
        """Scale of the shift to the mean day without weather."""
        return self.scale_db * math.sqrt(self.of_mean)

    def _wet_part(self, dice: SharedDraws) -> Array:
        """Part of the heard days that was wet."""
        n = len(self.wet_heard)
        known = sum(bool(wet) for wet in self.wet_heard if wet is not None)
        open_days = sum(wet is None for wet in self.wet_heard)
        return (known + dice.binomial(open_days, self.wet_share)) / n


def shift_of(
    kind: SiteKind,
    level_db: Array | None,
    day: Array,
    part_heard: Array,
    wet_heard: Sequence[bool | None],
    wet_share: float,
) -> Shift:
    """Belief about the shift after visits.

    Parameters
    ----------
    level_db : ndarray, shape (n,), optional
        Level of each visit, cleared of what its traffic explains.
    day : ndarray of int, shape (n,)
        Number of the day on which each visit was.
    part_heard : ndarray, shape (n,)
        Share of a day's hours that each visit heard.
    wet_heard : one for each day
    """
    n = day.size
    of_hour = (1 - kind.day_share) * (1 - part_heard) ** 2
    days = np.unique(day).size
    of_mean = float(of_hour.mean()) / n + kind.day_share / days
    scale2, worth = kind.shift_db**2, kind.shift_worth
    if n > 1 and level_db is not None:
        other_day = float((day[:, None] != day).sum()) / (n * (n - 1))
        found = float(np.var(level_db, ddof=1)) / (
            float(of_hour.mean()) + kind.day_share * other_day + 1e-9
        )
        scale2 = (worth * scale2 + (n - 1) * found) / (worth + n - 1)
        worth += n - 1
    return Shift(
        math.sqrt(scale2), worth, of_mean, kind.day_share, wet_share, kind.wet_db, tuple(wet_heard)
    )
