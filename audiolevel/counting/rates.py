"""Firings of a setting per hour and per day, with their intervals.

From what one or more visits showed `predict` says for every swept setting the rate, the interval
of the rate, and the wider interval of one day's count. Settings seen ten times or more are
counted; rarer levels are extrapolated from the loudest separate peaks (`peaks_over_threshold`);
where neither is honest there is only an upper limit. The answer is a `predicted.Prediction`.

Entry point: `predict`. Formulas, evidence and limits: docs/counting.md.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array
from audiolevel.counting import exposure as visiting
from audiolevel.counting import peaks_over_threshold as tails
from audiolevel.counting.carried import Swept
from audiolevel.counting.exposure import Visit
from audiolevel.counting.posterior import (
    NODES,
    REACH_DB,
    SharedDraws,
    ended,
    extrapolated,
    nodes,
    one_day,
    quantile,
)
from audiolevel.counting.predicted import Prediction
from audiolevel.counting.site_kinds import (
    CHANGE_SLOPE_NP_PER_DB,
    LEVEL_SLOPE_NP_PER_DB,
    WET_SHARE,
    SiteKind,
    kind_of,
)
from audiolevel.errors import SettingError

# ten minutes rarely hold a site's loudest class, so they reach less far up
SHORT_REACH_DB = 3.0  # of a sample of up to SHORT_S
SHORT_S = 15 * 60.0


def predict(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    *,
    extrapolate: bool,
    confidence: float = 0.95,
    traffic: ArrayLike | str | None = None,
    active: ArrayLike | None = None,
    spread: float | None = None,
    seed: int = 0,
    draws: int = 2000,
    kind: str | SiteKind | None = None,
    wet_share: float = WET_SHARE,
) -> Prediction:
    """Firings per hour and per day of every setting, with limits.

    Parameters
    ----------
    settings_db : array_like, shape (n,)
        Swept settings, rising; a higher one must be harder to reach.
    visits : sequence of Visit
        At least one; all swept with these settings.
    extrapolate : bool
        True for a level, whose rare firings follow the tail of the peaks. False for rise, fall
        and change, which do not extrapolate.
    confidence : float
        Of all intervals, between 0.5 and 1.
    traffic : array_like (24,), "published" or None
        Relative flow by hour, which carries the count to hours not heard; used for visits with a
        start time. None: a day is 24 hours like the sample's.
    active : array_like (24,), optional
        Share of each hour of the day in which the trigger is active (`counting.schedule`); a day
        is then a day's active hours. Default: all of every hour.
    spread : float, optional
        Standard deviation of ln(rate) for the hours and days not heard, where it is known; by
        default it follows from the visits (`audiolevel.counting.exposure`).
    seed, draws : int
        Of the posterior draws; their number is a multiple of 200.
    kind : str or SiteKind, optional
        "busy road", "street", "quiet" or "other", which say how much hours and days differ before
        the visits do; by default the widest.
    wet_share : float
        Share of the days to come on which the road is wet.

    Raises
    ------
    SettingError
        If a setting, visit or option makes no sense.
    """
    settings = _checked(settings_db, visits, confidence, draws, wet_share)
    # counts of all visits add: Poisson counts of one site
    count = np.asarray(np.sum([visit.counts for visit in visits], axis=0), dtype=np.int64)
    site = kind_of(kind)
    known = visiting.exposure_of(visits, settings, traffic, site, wet_share)
    part = visiting.checked_active(active, known.flow)
    tail = _tail(visits, settings[count > 0], site.tail) if extrapolate else None

    shared = SharedDraws(seed, draws)
    # draws of the count in all the time listened; hours and days come in as factors
    swept = Swept.of(settings, count, tail, shared)
    # what has no curve to move turns decibels into neper at a fixed slope
    slope = LEVEL_SLOPE_NP_PER_DB if extrapolate else CHANGE_SLOPE_NP_PER_DB
    if spread is None:
        exponent = known.exponents(shared)
        mean_db, day_db = known.shift.draws(shared)
        # (draws,): a day's active hours over the time listened, both in mean hours
        to_day = known.active_s(exponent, part) / known.exposure_s(exponent)
        curve, daily = swept.carried(mean_db, slope, to_day)
        day_curve, single = swept.carried(day_db, slope, to_day)
    else:
        to_day = known.active_s(known.exponent, part) / known.exposure_s(known.exponent)
        curve, daily = swept.times(np.exp(spread * shared.normal) * to_day)
        # the user's spread holds for the mean day and for one day alike
        day_curve, single = curve, daily
    branch = swept.branch
    if tail is not None:
        curve = ended(curve, swept.curve_db, tail, shared)
        day_curve = ended(day_curve, swept.curve_db, tail, shared)

    # no shift and no traffic: conditions like the sample's
    hourly = nodes(swept.heard(), branch) * (3600 / known.heard_s)
    daily, single = nodes(daily, branch), nodes(single, branch)
    reach = _reach(tail, known.heard_s)
    # something seen is always a number; nothing seen is one only within the tail's reach
    limit_only = (count == 0) & (True if reach is None else settings > reach)
    low, high = (1 - confidence) / 2, (1 + confidence) / 2
    best = np.where(limit_only, np.nan, quantile(daily, 0.5))
    rate_low = np.where(limit_only, 0.0, quantile(daily, low))
    rate_high = quantile(daily, high)
    # one day differs from the mean one, and its count differs by chance besides
    day_low, day_high = one_day(single, confidence)
    by_hour, hour_low, hour_high = _by_hour(known, part, (best, rate_low, rate_high), low)
    is_tail = extrapolated(settings, count, tail)
    return Prediction(
        settings_db=settings,
        count=count,
        heard_s=known.heard_s,
        per_hour=np.where(limit_only, np.nan, quantile(hourly, 0.5)),
        per_hour_low=np.where(limit_only, 0.0, quantile(hourly, low)),
        per_hour_high=quantile(hourly, high),
        per_day=best,
        rate_low_per_day=rate_low,
        rate_high_per_day=rate_high,
        low_per_day=np.where(limit_only, 0.0, day_low),
        high_per_day=day_high,
        confidence=confidence,
        method=np.select([limit_only, is_tail], ["upper limit", "extrapolated"], "counted"),
        by_hour=by_hour,
        by_hour_low=hour_low,
        by_hour_high=hour_high,
        hours_heard=known.hours_heard,
        days_heard=known.days,
        spread=known.shift.sd_db * slope if spread is None else spread,
        reach_db=reach,
        curve_db=swept.curve_db,
        curve_per_day=nodes(curve, 0),
        curve_of_day=nodes(day_curve, 0),
        exposure=known,
        active=part,
    )


def _tail(visits: Sequence[Visit], fired_db: Array, prior: tails.Prior) -> tails.Tail | None:
    """Tail of the peaks of all visits; None if one has no peaks or they are too few.

    A sound cut off by the recording's border is no peak, yet it fired: it counts as heard.
    """
    # one visit without peaks would leave its loud sounds out of the tail
    peaks = [visit.peaks_db for visit in visits if visit.peaks_db is not None]
    tail = tails.tail_of(np.concatenate(peaks), prior) if len(peaks) == len(visits) else None
    if tail is None or fired_db.size == 0:
        return tail
    return replace(tail, loudest_db=max(tail.loudest_db, float(fired_db[-1])))


def _reach(tail: tails.Tail | None, heard_s: float) -> float | None:
    """Highest level about which a number is honest; None if nothing is extrapolated."""
    if tail is None:
        return None
    return tail.loudest_db + (SHORT_REACH_DB if heard_s <= SHORT_S else REACH_DB)


def _by_hour(
    known: visiting.Exposure, active: Array | None, rates: tuple[Array, Array, Array], low: float
) -> tuple[Array | None, Array | None, Array | None]:
    """Firings of each hour of a day, (n, 24), with limits wider where flow misleads."""
    from scipy.special import ndtri

    share = known.share(known.exponent)
    if share is None or known.flow is None:
        return None, None, None
    if active is not None:
        # shares of what is left of the day, so that the hours add up to it again
        share = share * active / (share @ active)
    best, rate_low, rate_high = rates
    # (n, 1); where only an upper limit is honest the hours are laid about that
    centre = np.maximum(np.where(np.isnan(best), rate_high, best), 1e-12)[:, None]
    # (24,): half width squared, in neper², of what one hour differs by
    extra = (float(ndtri(low)) * known.hour_sd()) ** 2
    # independent errors of ln(rate): half widths add as squares
    up = np.sqrt(np.log(rate_high[:, None] / centre) ** 2 + extra)
    down = np.sqrt(np.log(np.maximum(rate_low[:, None], 1e-12) / centre) ** 2 + extra)
    return best[:, None] * share, centre * share * np.exp(-down), centre * share * np.exp(up)


def _checked(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    confidence: float,
    draws: int,
    wet_share: float,
) -> Array:
    settings = np.asarray(settings_db, dtype=np.float64)
    if settings.ndim != 1 or settings.size == 0 or not np.all(np.isfinite(settings)):
        raise SettingError("settings: one row of finite numbers is needed")
    if np.any(np.diff(settings) <= 0):
        raise SettingError("settings: each must be higher than the one before")
    if not 0.5 < confidence < 1:
        raise SettingError(f"confidence: {confidence:g} must lie above 0.5 and below 1")
    if draws < NODES or draws % NODES:
        raise SettingError(f"draws: give a multiple of {NODES}")
    if not 0 <= wet_share <= 1:
        raise SettingError(f"wet_share: {wet_share:g} is not between 0 and 1")
    if not visits:
        raise SettingError("visits: at least one recording is needed")
    for visit in visits:
        if np.shape(visit.counts) != settings.shape or np.min(visit.counts) < 0:
            raise SettingError("visit: one count of zero or more is needed for each setting")
        if not (math.isfinite(visit.duration_s) and visit.duration_s > 0):
            raise SettingError("visit: the time listened must be above zero")
    return settings
