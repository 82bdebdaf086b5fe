"""How much the hours and days heard say about those not heard.

A visit of ten minutes on a Tuesday morning is worth so much exposure to the site's loud sounds, and
leaves so much unknown: how far they follow the traffic, and by how many decibels that visit, its
day and its week were not like the others.

Conventions: seconds; exposure is seconds of the mean hour; flows relative to the mean hour.

Entry points: `Visit`, `Exposure`, `exposure_of`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting import traffic as flows
from audiolevel.counting.belief import LEVEL_SLOPE_NP_PER_DB, Belief, louder_when
from audiolevel.counting.conditions import DAY_S, Conditions
from audiolevel.counting.draws import Draws
from audiolevel.ground.arrays import Array, IntArray
from audiolevel.ground.errors import SettingError

# Powers found at measured sites: 0.0 to 1.1 (docs/counting.md).
LARGEST_EXPONENT = 1.2
# Hours that leave more of ln(rate) unknown than this promise nothing: a night of Great Britain's
# traffic leaves 0.7 to 0.9 for the whole day, an hour by day 0.2.
UNLIKE_NP = 0.5


@dataclass(frozen=True)
class Visit:
    """What one recording showed: firings at each setting, and its separate loud peaks.

    Parameters
    ----------
    counts : ndarray of int, shape (n,)
        Firings at each swept setting, by the trigger's own rule.
    duration_s : float
        Time listened.
    peaks_db : ndarray, shape (k,), optional
        `loudest_peaks.separate_peaks` of the same level; None for no extrapolation.
    start : datetime, optional
        When it began, by the local clock.
    l10_db : float, optional
        Its level, to tell how much visits differ.
    wet : bool, optional
        Whether the road was wet; None if nobody said.
    """

    counts: IntArray
    duration_s: float
    peaks_db: Array | None = None
    start: datetime | None = None
    l10_db: float | None = None
    wet: bool | None = None

    def shifted(self, by_db: float) -> "Visit":
        """The same visit heard at a gain that moves every level alike."""
        return replace(
            self,
            peaks_db=None if self.peaks_db is None else self.peaks_db + by_db,
            l10_db=None if self.l10_db is None else self.l10_db + by_db,
        )

    @property
    def days(self) -> list[date]:
        """Its dates, one for each 24 hours begun; none if its start is unknown."""
        if self.start is None:
            return []
        return [self.start.date() + timedelta(days=i) for i in range(_begun_days(self.duration_s))]

    @property
    def hours_left(self) -> float:
        """Share of a day's hours that it did not hear."""
        if self.start is None:
            # hours are not known: as if no hour had been heard twice
            return max(0.0, 1 - self.duration_s / DAY_S)
        seconds = flows.heard_seconds(self.start, self.duration_s)
        return float(1 - np.minimum(seconds / flows.HOUR_S, 1).mean())


@dataclass(frozen=True)
class Exposure:
    """What the visits are worth together.

    Attributes
    ----------
    heard_s : float
        Time listened.
    hours_heard : ndarray, shape (24,), or None
        Seconds listened in each hour; None without a start time.
    flow : ndarray, shape (24,), or None
        Mean relative flow of the days heard; None if unknown.
    visited : tuple of (duration_s, seconds of each hour, relative flow)
        Of each visit; the last two of shape (24,), or None.
    levels_apart_db : float or None
        From the quietest visit to the loudest by L10; None for one visit, or without levels.
    mean_db, day_db : float
        Scale of the shift from the visits to the mean day, and from that to one day.
    louder_db : float
        By how much the weather made the days heard louder than the mean of days.
    belief : Belief
    """

    heard_s: float
    hours_heard: Array | None
    flow: Array | None
    visited: tuple[tuple[float, Array | None, Array | None], ...]
    levels_apart_db: float | None
    mean_db: float
    day_db: float
    louder_db: float
    belief: Belief

    def to_day(self, exponent: Array, active: Array) -> Array:
        """A day's active hours over the time listened, both in mean hours; for each exponent."""
        heard_s, day_s = np.zeros(exponent.size), np.full(exponent.size, DAY_S * active.mean())
        for duration_s, seconds, flow in self.visited:
            # no start time or no traffic: every second counts as one of the mean hour
            if seconds is None or flow is None:
                heard_s += duration_s
                continue
            busy = _power(flow, exponent)
            heard_s += busy @ seconds / busy.mean(axis=1)
        if self.flow is not None:
            busy = _power(self.flow, exponent)
            day_s = DAY_S * (busy @ active) / busy.sum(axis=1)
        return np.asarray(day_s / heard_s)

    def exponents(self, draws: Draws) -> Array:
        """Draws of the exponent."""
        drawn = self.belief.flow_exponent + self.belief.flow_exponent_sd * draws.flow
        # below zero loud sounds would grow rarer with more traffic
        return np.asarray(np.clip(drawn, 0.0, LARGEST_EXPONENT))

    def shifts(self, draws: Draws) -> tuple[Array, Array]:
        """Draws of the shift in dB to the mean day, and to one single day."""
        wild = draws.student(self.belief.freedom)
        mean = wild * self.mean_db * draws.mean_shift - self.louder_db
        return mean, mean + wild * self.day_db * draws.day_shift

    def half_width_db(self, confidence: float) -> float:
        """Half of the interval of the shift to the mean day."""
        from scipy.special import stdtrit

        return float(stdtrit(self.belief.freedom, (1 + confidence) / 2)) * self.mean_db

    def share(self) -> Array | None:
        """Each hour's share of a day's firings, shape (24,); None if unknown."""
        if self.flow is None:
            return None
        busy = _power(self.flow, np.array([self.belief.flow_exponent]))[0]
        return np.asarray(busy / busy.sum())

    def hour_sd(self) -> Array:
        """Standard deviation of ln(firings) of one hour against its share of the day, (24,)."""
        of_hour = LEVEL_SLOPE_NP_PER_DB * math.hypot(self.belief.visit_db, self.day_db)
        if self.flow is None:
            return np.full(flows.HOURS, of_hour)
        # an hour twice or half as busy as the mean is wrong by 0.69 times the exponent's error
        off = np.abs(np.log(np.maximum(self.flow, 1e-3)))
        return np.hypot(of_hour, self.belief.flow_exponent_sd * off)


def exposure_of(visits: Sequence[Visit], conditions: Conditions, belief: Belief) -> Exposure:
    """What visits say of the hours and days not heard.

    Visits without a start time are taken for parts of one day.

    Raises
    ------
    SettingError
        If the traffic is no 24 flows, or says that nothing passes in the hours heard or active.
    """
    flow = [_flow(visit, conditions.traffic) for visit in visits]
    seconds = [
        None if v.start is None else flows.heard_seconds(v.start, v.duration_s) for v in visits
    ]
    for one_flow, one in zip(flow, seconds, strict=True):
        # nothing can be carried over from hours in which, as told, nothing passes
        if one_flow is not None and one is not None and not one_flow @ one > 0:
            raise SettingError(
                "traffic_by_hour: no traffic in the hours heard; check start and flows"
            )
    known = [one for one in flow if one is not None]
    mean_flow = np.mean(known, axis=0) if known else None
    active = conditions.active_or_all
    if not (active if mean_flow is None else active * mean_flow).sum() > 0:
        raise SettingError("active: there is no traffic in the active hours; check the schedule")
    days = {day for visit in visits for day in visit.days}
    timed = [one for one in seconds if one is not None]
    levels = [v.l10_db for v in visits if v.l10_db is not None]
    return Exposure(
        heard_s=float(sum(visit.duration_s for visit in visits)),
        hours_heard=np.asarray(np.sum(timed, axis=0)) if timed else None,
        flow=mean_flow,
        visited=tuple(zip([v.duration_s for v in visits], seconds, flow, strict=True)),
        levels_apart_db=float(np.ptp(levels)) if len(levels) == len(visits) > 1 else None,
        mean_db=_mean_db(visits, days, belief),
        day_db=math.hypot(belief.day_db, belief.week_db),
        louder_db=float(np.mean([louder_when(v.wet, conditions.wet_share) for v in visits])),
        belief=belief,
    )


def unlike(visits: Sequence[Visit], conditions: Conditions, belief: Belief, draws: Draws) -> bool:
    """Whether the hours heard are too unlike the active ones to promise anything by them.

    Where no traffic is told the published flow says which hours are alike; without a start time
    nobody knows.
    """
    if any(visit.start is None for visit in visits):
        return False
    told = (
        conditions if conditions.traffic is not None else replace(conditions, traffic="published")
    )
    known = exposure_of(visits, told, belief)
    to_day = known.to_day(known.exponents(draws), conditions.active_or_all)
    return bool(np.std(np.log(to_day)) > UNLIKE_NP)


def _mean_db(visits: Sequence[Visit], days: set[date], belief: Belief) -> float:
    """Scale of the shift that is left in the mean of the visits."""
    # a visit that heard the whole day has no hour of its own left to be wrong about
    own = float(np.mean([visit.hours_left**2 for visit in visits])) / len(visits)
    weeks = {day.isocalendar()[:2] for day in days}
    return math.sqrt(
        belief.visit_db**2 * own
        + belief.day_db**2 / max(len(days), 1)
        + belief.week_db**2 / max(len(weeks), 1)
    )


def _power(flow: Array, exponent: ArrayLike) -> Array:
    """Flow (24,) to powers (m,), shape (m, 24); hours without any traffic stay without."""
    # the floor keeps log(0) out; such hours are set to zero in the next line
    power = np.exp(np.multiply.outer(exponent, np.log(np.maximum(flow, 1e-9))))
    return np.asarray(np.where(flow > 0, power, 0.0))


def _flow(visit: Visit, traffic: Sequence[float] | str | None) -> Array | None:
    """Relative flow of the visit's kind of day; None without traffic or start time."""
    if traffic is None:
        return None
    if isinstance(traffic, str):
        return None if visit.start is None else flows.published(visit.start)
    # checked even without a start time, so that a wrong table is told in any case
    flow = flows.relative_flow(traffic)
    return None if visit.start is None else flow


def _begun_days(duration_s: float) -> int:
    # a hundredth of a day (14 min) over 24 h is no further day
    return max(1, math.ceil(duration_s / DAY_S - 0.01))
