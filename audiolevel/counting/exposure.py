"""How much do the hours and days heard say about those not heard?

A visit of ten minutes on a Tuesday morning is worth so much exposure to the site's traffic, and
leaves so much unknown. One visit at one time of day is the largest error of a day's count; this
room puts a number on it.

Conventions: seconds; exposure is seconds of *mean* traffic; spread is a standard deviation of
ln(rate).

Entry points: `Visit`, `knowledge`, `active_part`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array, IntArray
from audiolevel.counting import traffic as flows
from audiolevel.errors import SettingError

DAY_S = 86400.0

# Spread in ln(rate): σ² = UNHEARD_SD²·(1 − heard)² + VISIT_SD²/days. One visit gives 0.40, three
# days 0.30, as measured on simulated sites with day-to-day and hour-to-hour changes.
UNHEARD_SD = 0.235
VISIT_SD = 0.324
VISIT_SD_WORTH = 4  # the prior of VISIT_SD counts like so many degrees of freedom
DAYS_TO_ESTIMATE = 5


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
        `peaks_over_threshold.separate_peaks` of the same level; None for no extrapolation.
    start : datetime, optional
        When it began, by the local clock.
    """

    counts: IntArray
    duration_s: float
    peaks_db: Array | None = None
    start: datetime | None = None


@dataclass(frozen=True)
class Exposure:
    """What the visits are worth together.

    `exposure_s` seconds of mean traffic; `share` (24,) each hour's share of a day's firings, None
    if unknown; `hours_heard` (24,) seconds, None without a start time; `days` heard; `spread` as
    above.
    """

    exposure_s: float
    share: Array | None
    hours_heard: Array | None
    days: int
    spread: float


def knowledge(
    visits: Sequence[Visit], count: IntArray, traffic: ArrayLike | str | None
) -> Exposure:
    """Exposure, hours, days and spread of visits whose firings add up to `count`.

    Visits without a start time are taken for parts of one day. From five known days on the
    difference between days is estimated from the counts and weighed with its prior.

    Raises
    ------
    SettingError
        If `traffic` makes no sense or says that nothing passes in the hours heard.
    """
    flow = [_flow(visit, traffic) for visit in visits]
    exposure = np.array([_exposure_s(v, f) for v, f in zip(visits, flow, strict=True)])
    if exposure.sum() <= 0:
        raise SettingError("traffic_by_hour: no traffic in the hours heard; check start and flows")
    flows_known = [f for f in flow if f is not None]
    known = [flows.heard_seconds(v.start, v.duration_s) for v in visits if v.start is not None]
    hours = np.asarray(np.sum(known, axis=0)) if known else None
    unknown_s = sum(v.duration_s for v in visits if v.start is None)
    day_of = [_days(visit) for visit in visits]
    days = max(len({day for dates in day_of for day in dates}), _begun_days(unknown_s))

    between = VISIT_SD**2
    if days >= DAYS_TO_ESTIMATE and not unknown_s:
        between = _between_days(visits, [dates[0] for dates in day_of], exposure, count)
    heard = min(1.0, unknown_s / DAY_S)
    slack = 0.0
    if hours is not None:
        heard = max(heard, float(np.minimum(hours / flows.HOUR_S, 1).mean()))
        slack = float(hours @ flows.HOUR_SLACK / hours.sum()) if flows_known else 0.0
    variance = (UNHEARD_SD**2 + slack**2) * (1 - heard) ** 2 + between / days
    return Exposure(
        exposure_s=float(exposure.sum()),
        share=np.mean(flows_known, axis=0) / flows.HOURS if flows_known else None,
        hours_heard=hours,
        days=days,
        spread=math.sqrt(variance),
    )


def active_part(known: Exposure, active: ArrayLike | None) -> tuple[Exposure, float]:
    """Knowledge of a day's active hours, and what they are worth in seconds of mean traffic.

    Parameters
    ----------
    known : Exposure
        Of whole days.
    active : array_like (24,) or None
        Share of each hour in which the trigger is active.

    Notes
    -----
    The spread grows by what the flow misleads in these hours more than over a whole day: a night
    is less well known than the day.
    """
    if active is None:
        return known, DAY_S
    part = np.asarray(active, dtype=np.float64)
    if part.shape != (flows.HOURS,) or not np.all((part >= 0) & (part <= 1)):
        raise SettingError("active: give 24 shares from 0 to 1, one for each hour")
    share = np.full(flows.HOURS, 1 / flows.HOURS) if known.share is None else known.share
    weight = share * part
    if weight.sum() <= 0:
        raise SettingError("active: there is no traffic in the active hours; check the schedule")
    spread = known.spread
    if known.share is not None:
        variance = flows.HOUR_SLACK**2
        more = float(weight @ variance / weight.sum() - share @ variance)
        spread = math.sqrt(spread**2 + max(0.0, more))
    of_active = None if known.share is None else weight / weight.sum()
    return replace(known, share=of_active, spread=spread), DAY_S * float(weight.sum())


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


def _exposure_s(visit: Visit, flow: Array | None) -> float:
    if flow is None or visit.start is None:
        return visit.duration_s
    return float(flow @ flows.heard_seconds(visit.start, visit.duration_s))


def _begun_days(duration_s: float) -> int:
    return max(1, math.ceil(duration_s / DAY_S - 0.01))


def _days(visit: Visit) -> list[date]:
    """Dates of a visit, one for each 24 hours begun; none if its start is unknown."""
    if visit.start is None:
        return []
    first = visit.start.date()
    return [first + timedelta(days=i) for i in range(_begun_days(visit.duration_s))]


def _between_days(
    visits: Sequence[Visit], first_day: list[date], exposure: Array, count: IntArray
) -> float:
    """Variance of ln(rate) between days, by moments at one setting, shrunk to its prior.

    The setting is the highest one seen ten times a day on average, or the one seen most.
    """
    groups, group = np.unique(np.array(first_day, dtype="datetime64[D]"), return_inverse=True)
    m = groups.size
    often = np.flatnonzero(count >= 10 * m)
    setting = int(often[-1]) if often.size else int(np.argmax(count))
    at_setting = np.array([visit.counts[setting] for visit in visits], dtype=np.float64)
    if m < 2 or not at_setting.any():
        return VISIT_SD**2
    seen = np.bincount(group, at_setting)
    expected = np.bincount(group, exposure) * seen.sum() / exposure.sum()
    free = 1 - 1 / m
    excess = float(((seen - expected) ** 2).sum() - free * expected.sum())
    found = max(0.0, excess / (free * float((expected**2).sum())))
    return (VISIT_SD_WORTH * VISIT_SD**2 + (m - 1) * found) / (VISIT_SD_WORTH + m - 1)
