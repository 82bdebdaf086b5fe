"""How much the hours and days heard say about those not heard.

A visit of ten minutes on a Tuesday morning is worth so much exposure to the site's loud sounds, and
leaves so much unknown: how far they follow the traffic, and by how many decibels that hour and day
were not like the others.

Conventions: seconds; exposure is seconds of the mean hour; flows relative to the mean hour.

Entry points: `Visit`, `Exposure`, `exposure_of`, `checked_active`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array, IntArray
from audiolevel.counting import traffic as flows
from audiolevel.counting.day_counts import DayCount
from audiolevel.counting.day_shift import Design, Shift, Weather, shift_of
from audiolevel.counting.posterior import SharedDraws
from audiolevel.counting.site_kinds import LEVEL_SLOPE_NP_PER_DB, SiteKind
from audiolevel.errors import SettingError

DAY_S = 86400.0
# A visit's L10 and LAeq rise by so many dB per factor e of traffic: 1.3 to 2.4 at six real sites.
LEVEL_PER_FLOW_DB = 2.0
# Powers found at measured sites: 0.0 to 1.1 (docs/counting.md).
LARGEST_EXPONENT = 1.2
# Fewer peaks or days tell nothing of how much visits or days differ.
FEWEST_PEAKS = 5
DAYS_TO_ESTIMATE = 5
CONTRADICTS_SD = 2.0


@dataclass(frozen=True)
class Visit:
    """What one recording showed: firings at each setting, its separate loud peaks, its levels.

    Parameters
    ----------
    counts : ndarray of int, shape (n,)
        Firings at each swept setting, by the trigger's own rule.
    duration_s : float
        Time listened.
    peaks_db : ndarray, shape (k,), optional
        `peaks_over_threshold.separate_peaks` of the same level; None for no extrapolation.
    start : datetime, optional
        When it began, by the local clock.
    l10_db, l50_db, l90_db, laeq_db : float, optional
        Its levels: how much visits differ in them says how much hours and days do.
    wet : bool, optional
        Whether the road was wet; None if nobody said.
    """

    counts: IntArray
    duration_s: float
    peaks_db: Array | None = None
    start: datetime | None = None
    l10_db: float | None = None
    l50_db: float | None = None
    l90_db: float | None = None
    laeq_db: float | None = None
    wet: bool | None = None

    def shifted(self, by_db: float) -> "Visit":
        """The same visit heard at a gain that moves every level alike."""

        def moved(level_db: float | None) -> float | None:
            return None if level_db is None else level_db + by_db

        return replace(
            self,
            peaks_db=None if self.peaks_db is None else self.peaks_db + by_db,
            l10_db=moved(self.l10_db),
            l50_db=moved(self.l50_db),
            l90_db=moved(self.l90_db),
            laeq_db=moved(self.laeq_db),
        )


@dataclass(frozen=True)
class Exposure:
    """What the visits are worth together.

    Attributes
    ----------
    heard_s : float
        Time listened.
    hours_heard : ndarray, shape (24,), or None
        Seconds listened in each hour; None without a start time.
    visits, days : int
        Visits made and days heard.
    flow : ndarray, shape (24,), or None
        Mean relative flow of the days heard; None if unknown.
    visited : tuple of (duration_s, seconds of each hour, relative flow)
        Of each visit; the last two of shape (24,), or None.
    exponent, exponent_sd : float
        Power of the flow that loud firings follow, and its uncertainty.
    contradicts_flow : bool
        Whether the visits' counts follow the hours otherwise than any power expected.
    levels_apart_db : float or None
        From the quietest visit to the loudest, cleared of what their traffic explains; None for one
        visit, or without levels.
    shift : Shift
    """

    heard_s: float
    hours_heard: Array | None
    visits: int
    days: int
    flow: Array | None
    visited: tuple[tuple[float, Array | None, Array | None], ...]
    exponent: float
    exponent_sd: float
    contradicts_flow: bool
    levels_apart_db: float | None
    shift: Shift

    def exposure_s(self, exponent: ArrayLike) -> Array:
        """Seconds of the mean hour that the visits are worth, for each exponent of the flow."""
        # (m, 1), so that powers of the (24,) flow come out as (m, 24)
        power = np.atleast_1d(np.asarray(exponent, dtype=np.float64))[:, None]
        total = np.zeros(power.size)
        for duration_s, seconds, flow in self.visited:
            # no start time or no traffic: every second counts as one of the mean hour
            if seconds is None or flow is None:
                total += duration_s
                continue
            busy = _power(flow, power)
            total += busy @ seconds / busy.mean(axis=1)
        return total

    def exponents(self, shared: SharedDraws) -> Array:
        """Draws of the exponent."""
        drawn = self.exponent + self.exponent_sd * shared.flow_normal
        # below zero loud sounds would grow rarer with more traffic
        return np.asarray(np.clip(drawn, 0.0, LARGEST_EXPONENT))

    def hour_sd(self) -> Array:
        """Standard deviation of ln(firings) of one hour against its share of the day, (24,)."""
        # dB to neper: the shift of one visit is also that of one hour
        of_hour = LEVEL_SLOPE_NP_PER_DB * self.shift.scale_db
        if self.flow is None:
            return np.full(flows.HOURS, of_hour)
        # an hour twice or half as busy as the mean is wrong by 0.69 times the exponent's error
        off = np.abs(np.log(np.maximum(self.flow, 1e-3)))
        # the two errors have nothing to do with each other
        return np.hypot(of_hour, self.exponent_sd * off)

    def share(self, exponent: float) -> Array | None:
        """Each hour's share of a day's firings, shape (24,); None if unknown."""
        if self.flow is None:
            return None
        busy = _power(self.flow, exponent)
        return np.asarray(busy / busy.sum())

    def active_s(self, exponent: ArrayLike, active: Array | None) -> Array:
        """Seconds of the mean hour in a day's active hours, for each exponent."""
        power = np.atleast_1d(np.asarray(exponent, dtype=np.float64))[:, None]
        part = np.ones(flows.HOURS) if active is None else active
        # without traffic each active hour is like any other
        if self.flow is None:
            return np.full(power.size, DAY_S * part.mean())
        busy = _power(self.flow, power)
        return np.asarray(DAY_S * (busy @ part) / busy.sum(axis=1))


def exposure_of(
    visits: Sequence[Visit],
    settings_db: Array,
    traffic: ArrayLike | str | None,
    kind: SiteKind,
    wet_share: float,
) -> Exposure:
    """What visits swept with these settings say of the hours and days not heard.

    Visits without a start time are taken for parts of one day.

    Raises
    ------
    SettingError
        If `traffic` makes no sense or says that nothing passes in the hours heard.
    """
    flow = [_flow(visit, traffic) for visit in visits]
    seconds = [
        None if v.start is None else flows.heard_seconds(v.start, v.duration_s) for v in visits
    ]
    for one_flow, one in zip(flow, seconds, strict=True):
        # nothing can be carried over from hours in which, as told, nothing passes
        if one_flow is not None and one is not None and not one_flow @ one > 0:
            raise SettingError(
                "traffic_by_hour: no traffic in the hours heard; check start and flows"
            )
    log_flow = np.array([_heard_flow(f, s) for f, s in zip(flow, seconds, strict=True)])
    exponent, sd, contradicts = _exponent(visits, log_flow, kind)
    dates = [_days(visit) for visit in visits]
    # without start times nobody knows how many days: as many as the length needs at least
    unknown_s = sum(v.duration_s for v in visits if v.start is None)
    days = max(len({day for of in dates for day in of}), _begun_days(unknown_s))
    level_db = _levels(visits)
    if level_db is not None:
        # unknown flow (nan) counts as the mean hour's, whose logarithm is 0
        level_db = level_db - LEVEL_PER_FLOW_DB * np.nan_to_num(log_flow)
    timed = [one for one in seconds if one is not None]
    known = [one for one in flow if one is not None]
    return Exposure(
        heard_s=float(sum(visit.duration_s for visit in visits)),
        hours_heard=np.asarray(np.sum(timed, axis=0)) if timed else None,
        visits=len(visits),
        days=days,
        flow=np.mean(known, axis=0) if known else None,
        visited=tuple(zip([v.duration_s for v in visits], seconds, flow, strict=True)),
        exponent=exponent,
        exponent_sd=sd,
        contradicts_flow=contradicts,
        levels_apart_db=None if level_db is None or len(visits) < 2 else float(np.ptp(level_db)),
        shift=_shift(visits, settings_db, level_db, days, kind, wet_share),
    )


def checked_active(active: ArrayLike | None, flow: Array | None) -> Array | None:
    """Share of each hour in which the trigger is active, shape (24,).

    Raises
    ------
    SettingError
        If these are not 24 shares, or nothing passes in them.
    """
    if active is None:
        return None
    part = np.asarray(active, dtype=np.float64)
    if part.shape != (flows.HOURS,) or not np.all((part >= 0) & (part <= 1)):
        raise SettingError("active: give 24 shares from 0 to 1, one for each hour")
    if not (part if flow is None else part * flow).sum() > 0:
        raise SettingError("active: there is no traffic in the active hours; check the schedule")
    return part


def _power(flow: Array, exponent: ArrayLike) -> Array:
    """Flow to a power; hours without any traffic stay without."""
    # the floor keeps log(0) out; such hours are set to zero in the next line
    power = np.exp(exponent * np.log(np.maximum(flow, 1e-9)))
    return np.asarray(np.where(flow > 0, power, 0.0))


def _heard_flow(flow: Array | None, seconds: Array | None) -> float:
    """Logarithm of the mean flow while a visit listened; nan if unknown."""
    if flow is None or seconds is None:
        return math.nan
    # at least a thousandth of the mean hour, so that one dead hour does not bend the regression
    return math.log(max(float(flow @ seconds / seconds.sum()), 1e-3))


def _exponent(
    visits: Sequence[Visit], log_flow: Array, kind: SiteKind
) -> tuple[float, float, bool]:
    """Exponent of the flow, its uncertainty, and whether the counts contradict its prior.

    Weighted regression of ln(count) on ln(flow), at the highest setting that fired ten times in
    the mean visit.
    """
    prior, prior_sd = kind.flow_exponent, kind.flow_exponent_sd
    # where firings are many their counts say more of traffic than of chance
    setting = _often(visits, 10 * len(visits))
    use = np.isfinite(log_flow)
    # one visit, or none with flow, teaches no slope: the kind's belief stands
    if use.sum() < 2 or setting is None:
        return prior, prior_sd, False
    # half a firing more keeps a visit without any from being log(0)
    seen = np.array([visit.counts[setting] for visit in visits])[use] + 0.5
    log_rate = np.log(seen / np.array([visit.duration_s for visit in visits])[use])
    # variance of ln(count): 1/count by chance, and the hour's shift turned into neper
    weight = 1 / (1 / seen + (kind.shift_db * LEVEL_SLOPE_NP_PER_DB) ** 2)
    at = log_flow[use] - np.average(log_flow[use], weights=weight)
    information = float(weight @ at**2)
    # all visits met the same flow, so no slope can be seen
    if information < 1e-6:
        return prior, prior_sd, False
    found = float(weight @ (at * log_rate)) / information
    # normal belief times normal evidence: precisions add, means are weighed by them
    precision = 1 / prior_sd**2
    sd = 1 / math.sqrt(precision + information)
    mean = (precision * prior + information * found) * sd**2
    far = abs(found - prior) > CONTRADICTS_SD * math.hypot(prior_sd, information**-0.5)
    return mean, sd, far


def _often(visits: Sequence[Visit], least: int) -> int | None:
    """The highest setting that fired so often in all visits together; None if none did."""
    often = np.flatnonzero(np.sum([visit.counts for visit in visits], axis=0) >= least)
    # settings rise, so the last is the highest
    return int(often[-1]) if often.size else None


def _shift(
    visits: Sequence[Visit],
    settings_db: Array,
    level_db: Array | None,
    days: int,
    kind: SiteKind,
    wet_share: float,
) -> Shift:
    # visits without a start all get None: parts of one day
    first = [None if v.start is None else v.start.date() for v in visits]
    day = np.array([list(dict.fromkeys(first)).index(one) for one in first])
    by_day: dict[int, bool | None] = {}
    for one, visit in zip(day.tolist(), visits, strict=True):
        # the first visit of a day that says anything speaks for the day
        by_day[one] = visit.wet if by_day.get(one) is None else by_day[one]
    design = Design(day, np.array([_part_heard(visit) for visit in visits]), days)
    weather = Weather(wet_share, kind.wet_db, tuple(by_day.values()))
    return shift_of(kind, design, level_db, _daily(visits, settings_db, day), weather)


def _part_heard(visit: Visit) -> float:
    """Share of a day's hours that a visit heard."""
    if visit.start is None:
        # hours are not known: as if no hour had been heard twice
        return min(1.0, visit.duration_s / DAY_S)
    seconds = flows.heard_seconds(visit.start, visit.duration_s)
    return float(np.minimum(seconds / flows.HOUR_S, 1).mean())


def _daily(visits: Sequence[Visit], settings_db: Array, day: IntArray) -> list[DayCount]:
    """Count of each day at a setting seen ten times a day; none from fewer than five days."""
    days = np.unique(day)
    # ten a day: below that chance hides how days differ
    setting = _often(visits, 10 * days.size)
    if days.size < DAYS_TO_ESTIMATE or setting is None or any(v.start is None for v in visits):
        return []
    counts = np.bincount(day, [visit.counts[setting] for visit in visits])
    heard = np.bincount(day, [visit.duration_s / DAY_S for visit in visits])
    at_db = float(settings_db[setting])
    return [DayCount(at_db, int(n), float(t)) for n, t in zip(counts, heard, strict=True)]


def _levels(visits: Sequence[Visit]) -> Array | None:
    """Level of each visit by what all of them tell; None if they tell nothing alike."""
    # loudest first: the trigger lives among the loud sounds, L90 only follows them
    for names in (("l10_db", "laeq_db"), ("l10_db",), ("laeq_db",), ("l50_db",), ("l90_db",)):
        told = [[getattr(visit, name) for name in names] for visit in visits]
        if all(value is not None for row in told for value in row):
            return np.asarray(np.mean(np.array(told, dtype=np.float64), axis=1))
    peaks = [visit.peaks_db for visit in visits]
    if all(of is not None and of.size >= FEWEST_PEAKS for of in peaks):
        # no levels told: the upper quarter of the peaks, steadier than the loudest one
        return np.array([np.quantile(of, 0.75) for of in peaks if of is not None])
    return None


def _flow(visit: Visit, traffic: ArrayLike | str | None) -> Array | None:
    """Relative flow of the visit's kind of day; None without traffic or start time."""
    if traffic is None:
        return None
    if isinstance(traffic, str):
        if traffic != "published":
            raise SettingError('traffic: give 24 flows, "published" or nothing')
        return None if visit.start is None else flows.published(visit.start)
    # checked even without a start time, so that a wrong table is told in any case
    flow = flows.relative_flow(traffic)
    return None if visit.start is None else flow


def _begun_days(duration_s: float) -> int:
    # a hundredth of a day (14 min) over 24 h is no further day
    return max(1, math.ceil(duration_s / DAY_S - 0.01))


def _days(visit: Visit) -> list[date]:
    """Dates of a visit, one for each 24 hours begun; none if its start is unknown."""
    if visit.start is None:
        return []
    first = visit.start.date()
    return [first + timedelta(days=i) for i in range(_begun_days(visit.duration_s))]
