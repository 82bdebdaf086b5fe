"""How much the hours and days heard say about those not heard.

A visit of ten minutes on a Tuesday morning is worth so much exposure to the site's loud sounds, and
leaves so much unknown: how far they follow the traffic, and by how many decibels that hour and day
were not like the others.

Conventions: seconds; exposure is seconds of the mean hour; flows relative to the mean hour.

Entry points: `Visit`, `Exposure`, `knowledge`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array, IntArray
from audiolevel.counting import traffic as flows
from audiolevel.counting.day_shift import Shift, shift_of
from audiolevel.counting.posterior import SharedDraws
from audiolevel.counting.site_kinds import LEVEL_SLOPE_NP_PER_DB, SiteKind
from audiolevel.errors import SettingError

DAY_S = 86400.0
# A visit's L10 and LAeq rise by so many dB per factor e of traffic: 1.3 to 2.4 at six real sites.
LEVEL_PER_FLOW_DB = 2.0
LARGEST_EXPONENT = 1.2
FEWEST_PEAKS = 5


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


@dataclass(frozen=True)
class Exposure:
    """What the visits are worth together.

    Attributes
    ----------
    heard_s : float
        Time listened.
    hours_heard : ndarray, shape (24,), or None
        Seconds listened in each hour; None without a start time.
    days : int
        Days heard.
    flow : ndarray, shape (24,), or None
        Mean relative flow of the days heard; None if unknown.
    visited : tuple of (seconds, flow), each None or of shape (24,)
        Of each visit.
    exponent, exponent_sd, exponent_of_kind : float
        Of the flow that loud firings follow; the last one before the visits.
    shift : Shift
    """

    heard_s: float
    hours_heard: Array | None
    days: int
    flow: Array | None
    visited: tuple[tuple[float, Array | None, Array | None], ...]
    exponent: float
    exponent_sd: float
    shift: Shift

    def exposure_s(self, exponent: ArrayLike) -> Array:
        """Seconds of the mean hour that the visits are worth, for each exponent of the flow."""
        power = np.atleast_1d(np.asarray(exponent, dtype=np.float64))[:, None]
        total = np.zeros(power.size)
        for duration_s, seconds, flow in self.visited:
            if seconds is None or flow is None:
                total += duration_s
                continue
            busy = _power(flow, power)
            total += busy @ seconds / busy.mean(axis=1)
        return total

    def exponents(self, dice: SharedDraws, uncertain: bool = True) -> Array:
        """Draws of the exponent."""
        sd = self.exponent_sd if uncertain else 0.0
        return np.clip(self.exponent + sd * dice.flow_normal, 0.0, LARGEST_EXPONENT)

    def hour_sd(self) -> Array:
        """Standard deviation of ln(firings) of one hour against its share of the day, (24,)."""
        of_hour = LEVEL_SLOPE_NP_PER_DB * self.shift.scale_db
        if self.flow is None:
            return np.full(flows.HOURS, of_hour)
        off = np.abs(np.log(np.maximum(self.flow, 1e-3)))
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
        if self.flow is None:
            return np.full(power.size, DAY_S * part.mean())
        busy = _power(self.flow, power)
        return np.asarray(DAY_S * (busy @ part) / busy.sum(axis=1))


def knowledge(
    visits: Sequence[Visit],
    count: IntArray,
    traffic: ArrayLike | str | None,
    kind: SiteKind,
    wet_share: float,
) -> Exposure:
    """What visits whose firings add up to `count` say of the hours and days not heard.

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
        if one_flow is not None and one is not None and not one_flow @ one > 0:
            raise SettingError(
                "traffic_by_hour: no traffic in the hours heard; check start and flows"
            )
    busy = np.array([_heard_flow(f, s) for f, s in zip(flow, seconds, strict=True)])
    exponent, sd = _exponent(visits, count, busy, kind)
    dates = [_days(visit) for visit in visits]
    unknown_s = sum(v.duration_s for v in visits if v.start is None)
    days = max(len({day for of in dates for day in of}), _begun_days(unknown_s))
    timed = [one for one in seconds if one is not None]
    known = [one for one in flow if one is not None]
    return Exposure(
        heard_s=float(sum(visit.duration_s for visit in visits)),
        hours_heard=np.asarray(np.sum(timed, axis=0)) if timed else None,
        days=days,
        flow=np.mean(known, axis=0) if known else None,
        visited=tuple(zip([v.duration_s for v in visits], seconds, flow, strict=True)),
        exponent=exponent,
        exponent_sd=sd,
        shift=_shift(visits, seconds, dates, busy, kind, wet_share),
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
    power = np.exp(exponent * np.log(np.maximum(flow, 1e-9)))
    return np.asarray(np.where(flow > 0, power, 0.0))


def _heard_flow(flow: Array | None, seconds: Array | None) -> float:
    """Logarithm of the mean flow while a visit listened; nan if unknown."""
    if flow is None or seconds is None:
        return math.nan
    return math.log(max(float(flow @ seconds / seconds.sum()), 1e-3))


def _exponent(
    visits: Sequence[Visit], count: IntArray, log_flow: Array, kind: SiteKind
) -> tuple[float, float]:
    """Exponent of the flow and its uncertainty: the kind's, and what the visits' counts say.

    Weighted regression of ln(count) on ln(flow), at the highest setting that fired ten times in
    the mean visit.
    """
    prior = kind.flow_exponent, kind.flow_exponent_sd
    use = np.isfinite(log_flow)
    often = np.flatnonzero(count >= 10 * len(visits))
    if use.sum() < 2 or not often.size:
        return prior
    seen = np.array([visit.counts[often[-1]] for visit in visits])[use] + 0.5
    log_rate = np.log(seen / np.array([visit.duration_s for visit in visits])[use])
    spread = kind.shift_db * LEVEL_SLOPE_NP_PER_DB
    weight = 1 / (1 / seen + spread**2)
    at = log_flow[use] - np.average(log_flow[use], weights=weight)
    information = float(weight @ at**2)
    found = float(weight @ (at * log_rate)) / information if information > 0 else 0.0
    precision = 1 / prior[1] ** 2
    return (
        (precision * prior[0] + information * found) / (precision + information),
        1 / math.sqrt(precision + information),
    )


def _shift(
    visits: Sequence[Visit],
    seconds: Sequence[Array | None],
    dates: Sequence[list[date]],
    log_flow: Array,
    kind: SiteKind,
    wet_share: float,
) -> Shift:
    first = [of[0] if of else None for of in dates]
    day = np.array([list(dict.fromkeys(first)).index(one) for one in first])
    part_heard = np.array(
        [
            min(1.0, v.duration_s / DAY_S)
            if s is None
            else float(np.minimum(s / flows.HOUR_S, 1).mean())
            for v, s in zip(visits, seconds, strict=True)
        ]
    )
    level = _levels(visits)
    if level is not None:
        level = level - LEVEL_PER_FLOW_DB * np.nan_to_num(log_flow)
    wet: dict[int, bool | None] = {}
    for one, visit in zip(day.tolist(), visits, strict=True):
        wet[one] = visit.wet if wet.get(one) is None else wet[one]
    return shift_of(kind, level, day, part_heard, list(wet.values()), wet_share)


def _levels(visits: Sequence[Visit]) -> Array | None:
    """Level of each visit by what all of them tell; None if they tell nothing alike."""
    for names in (("l10_db", "laeq_db"), ("l10_db",), ("laeq_db",), ("l50_db",), ("l90_db",)):
        told = [[getattr(visit, name) for name in names] for visit in visits]
        if all(value is not None for row in told for value in row):
            return np.asarray(np.mean(np.array(told, dtype=np.float64), axis=1))
    peaks = [visit.peaks_db for visit in visits]
    if all(of is not None and of.size >= FEWEST_PEAKS for of in peaks):
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
    flow = flows.relative_flow(traffic)
    return None if visit.start is None else flow


def _begun_days(duration_s: float) -> int:
    return max(1, math.ceil(duration_s / DAY_S - 0.01))


def _days(visit: Visit) -> list[date]:
    """Dates of a visit, one for each 24 hours begun; none if its start is unknown."""
    if visit.start is None:
        return []
    first = visit.start.date()
    return [first + timedelta(days=i) for i in range(_begun_days(visit.duration_s))]
