"""By how many decibels the hours and days not heard are louder or quieter than those heard.

A visit is louder or quieter than the mean day by a shift that is made of a part of its hour and a
part of its day. The size of the shift is believed by the kind of site, and learned from how much
the visits' own levels differ, which are known far better than counts of rare firings, and from
several days' counts. Wet roads come on top.

Conventions: dB; positive: the days to come are louder than the visits.

Entry points: `Shift`, `shift_of`, `Design`, `Weather`, `wet_of`.

References
----------
Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd ed., CRC, section 2.6 (normal data whose
variance has a scaled inverse chi-squared prior: the predictive distribution is Student's t).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, IntArray
from audiolevel.counting.day_counts import DayCount, excess_of_days
from audiolevel.counting.posterior import SharedDraws, spreads
from audiolevel.counting.site_kinds import LEVEL_SLOPE_NP_PER_DB, SiteKind
from audiolevel.errors import SettingError


def wet_of(weather: str | None) -> bool | None:
    """Whether the road was wet, by "dry", "wet" or None.

    Raises
    ------
    SettingError
        For any other word.
    """
    if weather not in (None, "dry", "wet"):
        raise SettingError(f'weather: "{weather}" is neither dry nor wet')
    return None if weather is None else weather == "wet"


@dataclass(frozen=True)
class Weather:
    """Share of wet days to come, how much louder they are, and the weather of each day heard.

    `heard` has one entry a day: True if wet, False if dry, None if nobody said.
    """

    wet_share: float = 0.0
    wet_db: float = 0.0
    heard: tuple[bool | None, ...] = (None,)

    def wet_part(self, shared: SharedDraws) -> Array:
        """Draws of the part of the heard days that was wet."""
        # days of which nobody said anything are wet as often as days to come
        known = sum(wet is True for wet in self.heard)
        unknown = shared.binomial(sum(wet is None for wet in self.heard), self.wet_share)
        return np.asarray((known + unknown) / len(self.heard))

    @property
    def mean_db(self) -> float:
        """How much louder than a dry day the mean of the days' rates is."""
        # rates are averaged, not levels: a quarter of days 3 dB louder makes 1.0 dB, not 0.75
        louder = math.expm1(LEVEL_SLOPE_NP_PER_DB * self.wet_db)
        return math.log1p(self.wet_share * louder) / LEVEL_SLOPE_NP_PER_DB

    def louder_db(self, wet: bool | None) -> float:
        """How much louder than the mean of days a wet or a dry day is; 0 if nobody said."""
        if wet is None:
            return 0.0
        return self.wet_db - self.mean_db if wet else -self.mean_db


@dataclass(frozen=True)
class Design:
    """When visits were made.

    `day` (n,) numbers the day of each, `part_heard` (n,) is the share of a day's hours that each
    heard, `days` counts all days heard.
    """

    day: IntArray
    part_heard: Array
    days: int

    def variance_of_mean(self, day_share: float) -> float:
        """Part of one visit's variance that is left in the mean of all visits."""
        return self._of_hour(day_share) / self.day.size + day_share / self.days

    def variance_between(self, day_share: float) -> float:
        """Part of one visit's variance that shows between the visits."""
        # comparison is (n, n), never true on its diagonal: n·(n − 1) ordered pairs
        n = self.day.size
        other_day = float((self.day[:, None] != self.day).sum()) / (n * (n - 1))
        return self._of_hour(day_share) + day_share * other_day

    def _of_hour(self, day_share: float) -> float:
        # a visit that heard the whole day has no hour of its own left to be wrong about
        return (1 - day_share) * float(np.mean((1 - self.part_heard) ** 2))


@dataclass(frozen=True)
class Shift:
    """Distribution of the shift from the visits to the mean day, and to one day.

    Attributes
    ----------
    scale_db, worth : float
        Scale and degrees of freedom of one visit's shift from the mean day.
    of_mean, of_day : float
        Parts of its variance left unknown in the mean day, and between one day and the mean one.
    day_worth : float
        Degrees of freedom of one day's own part: visits teach how much days differ, not that no
        day is unusual.
    weather : Weather
    """

    scale_db: float
    worth: float
    of_mean: float
    of_day: float
    day_worth: float
    weather: Weather = Weather()

    @property
    def sd_db(self) -> float:
        """Scale of the shift to the mean day, without the weather."""
        return self.scale_db * math.sqrt(self.of_mean)

    def half_width_db(self, confidence: float) -> float:
        """Half of the interval of the shift to the mean day, without the weather."""
        from scipy.special import stdtrit

        # of Student's t
        return float(stdtrit(self.worth, (1 + confidence) / 2)) * self.sd_db

    def draws(self, shared: SharedDraws) -> tuple[Array, Array]:
        """Shift to the mean day and to one single day, each one a draw."""
        weather = self.weather
        # the variance is scaled inverse chi-squared (Gelman 2013, 2.6): the shift is Student's t
        scale = spreads(self.scale_db, self.worth, shared.scale)
        mean = scale * math.sqrt(self.of_mean) * shared.normal
        # the mean of the hours' rates lies above the rate at their mean level
        mean += LEVEL_SLOPE_NP_PER_DB / 2 * self.sd_db**2
        # what the visits owe to wet roads is taken off, so that the shift starts from a dry day
        mean -= weather.wet_db * weather.wet_part(shared)
        own_db = self.scale_db * math.sqrt(self.of_day)
        own = spreads(own_db, self.day_worth, shared.day_scale)
        # likewise the mean of the days' rates lies above the rate of a usual day
        day = mean + own * shared.day_normal - LEVEL_SLOPE_NP_PER_DB / 2 * own_db**2
        day += weather.wet_db * (shared.day_wet < weather.wet_share)
        # the mean day is made of wet and dry ones; a single day is one or the other
        return mean + weather.mean_db, day


def shift_of(
    kind: SiteKind,
    design: Design,
    level_db: Array | None,
    daily: Sequence[DayCount],
    weather: Weather,
) -> Shift:
    """What is believed of the shift after visits.

    Parameters
    ----------
    kind : SiteKind
    design : Design
    level_db : ndarray, shape (n,), optional
        Level of each visit, cleared of what its traffic explains.
    daily : sequence of DayCount
        Counts of days, of which the difference between days is learned; may be empty.
    weather : Weather
    """
    # sum of squares in dB² and its degrees of freedom; both only grow with what is learned
    squares, worth = kind.shift_worth * kind.shift_db**2, kind.shift_worth
    n = design.day.size
    if n > 1 and level_db is not None:
        # visits on one day share its part of the shift: their spread shows less than all of it
        part = design.variance_between(kind.day_share)
        if part > 0:
            squares += (n - 1) * float(np.var(level_db, ddof=1)) / part
            worth += n - 1
    found, days_worth = excess_of_days(daily)
    # neper² to dB², and only the day's part of a shift shows between whole days
    squares += found / LEVEL_SLOPE_NP_PER_DB**2 / kind.day_share
    worth += days_worth
    return Shift(
        scale_db=math.sqrt(squares / worth),
        worth=worth,
        of_mean=design.variance_of_mean(kind.day_share),
        of_day=kind.day_share,
        day_worth=kind.shift_worth,
        weather=weather,
    )
