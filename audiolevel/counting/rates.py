"""Firings of a setting per hour and per day, with their intervals.

From what one or more visits showed `predict` says for every swept setting the rate, the interval
of the rate, and the interval of one day's count. A level's rate is, draw by draw,

    exposure · Gamma(k + ½)/t · exp(−(level − u)/scale) · exp(shift/scale)

above the foot u of the loudest peaks, and the count's own below it. The same draws make the mean
day and, with a day's own shift besides, one single day.

Entry point: `predict`. Formulas, evidence and limits: docs/counting.md.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting.belief import (
    BELIEF,
    CHANGE_SLOPE_NP_PER_DB,
    LEVEL_SLOPE_NP_PER_DB,
    Belief,
)
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.draws import Draws, equally_likely, one_day, quantile
from audiolevel.counting.exposure import Exposure, Visit, exposure_of, unlike
from audiolevel.counting.loudest_peaks import Tail, tail_of
from audiolevel.counting.predicted import Prediction
from audiolevel.ground.arrays import Array, BoolArray, IntArray

ENOUGH = 10  # firings from which a level is called counted
# A number is given as far up as days were measured: to a rate of one in two days. And 6 dB past
# the loudest sound in any case, which a day of 24 h heard does not otherwise reach.
RAREST_PER_DAY = 0.5
REACH_DB = 6.0
FAR_DB = 60.0  # the curve goes on so far: the question turned round must have an end


def predict(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    conditions: Conditions | None = None,
    *,
    extrapolate: bool,
    belief: Belief = BELIEF,
) -> Prediction:
    """Firings per hour and per day of every setting, with limits.

    Parameters
    ----------
    settings_db : array_like, shape (n,)
        Swept settings, rising; a higher one must be harder to reach.
    visits : sequence of Visit
        At least one; all swept with these settings.
    conditions : Conditions, optional
        By default always active, and every hour like those heard.
    extrapolate : bool
        True for a level, whose rare firings follow the loudest peaks. False for rise, fall and
        change, which do not extrapolate.
    belief : Belief
        Of any site before it was heard.

    Raises
    ------
    SettingError
        If the traffic says that nothing passes in the hours heard or active.
    """
    conditions = conditions or Conditions()
    settings = np.asarray(settings_db, dtype=np.float64)
    # counts of all visits add: Poisson counts of one site
    count = np.asarray(np.sum([visit.counts for visit in visits], axis=0), dtype=np.int64)
    known, draws = exposure_of(visits, conditions, belief), Draws(conditions.seed)
    tail = _tail(visits, settings[count > 0], belief) if extrapolate else None
    heard, mean, single, curve_db = _rates(settings, count, known, tail, conditions, draws)
    # below the most-firing setting the background itself holds the trigger up
    branch, n = int(np.argmax(count)), settings.size
    reach = None if tail is None else _reach(tail, curve_db, mean[branch:])
    # something seen is always a number; nothing seen is one only within the tail's reach
    limit_only = (count == 0) & (True if reach is None else settings > reach)
    low, high = (1 - conditions.confidence) / 2, (1 + conditions.confidence) / 2
    best = np.where(limit_only, np.nan, quantile(mean[:n], 0.5))
    rate_low = np.where(limit_only, 0.0, quantile(mean[:n], low))
    rate_high = quantile(mean[:n], high)
    day_low, day_high = one_day(single[:n], conditions.confidence)
    by_hour, hour_low, hour_high = _by_hour(known, conditions, (best, rate_low, rate_high), low)
    return Prediction(
        settings_db=settings,
        count=count,
        per_hour=np.where(limit_only, np.nan, quantile(heard, 0.5)),
        per_hour_low=np.where(limit_only, 0.0, quantile(heard, low)),
        per_hour_high=quantile(heard, high),
        per_day=best,
        rate_low_per_day=rate_low,
        rate_high_per_day=rate_high,
        # rounded to whole counts a day's interval still holds the mean's
        low_per_day=np.where(limit_only, 0.0, np.minimum(day_low, np.floor(rate_low))),
        high_per_day=np.maximum(day_high, np.ceil(rate_high)),
        conditions=conditions,
        method=np.select(
            [limit_only, _follows_tail(settings, count, tail) & (count < ENOUGH)],
            ["upper limit", "extrapolated"],
            "counted",
        ),
        by_hour=by_hour,
        by_hour_low=hour_low,
        by_hour_high=hour_high,
        spread=known.mean_db * (LEVEL_SLOPE_NP_PER_DB if extrapolate else CHANGE_SLOPE_NP_PER_DB),
        reach_db=reach,
        curve_db=curve_db,
        curve_per_day=mean[branch:],
        curve_of_day=single[branch:],
        exposure=known,
        unlike=unlike(visits, conditions, belief, draws),
    )


def _rates(
    settings: Array,
    count: IntArray,
    known: Exposure,
    tail: Tail | None,
    conditions: Conditions,
    draws: Draws,
) -> tuple[Array, Array, Array, Array]:
    """Equally likely rates: an hour as heard, a mean day and one day; and the curve's levels.

    Rows of the first are the settings; the others go on beyond them, as the curve does.
    """
    beyond = np.zeros(0)
    if tail is not None:
        top = max(tail.loudest_db, float(settings[-1])) + FAR_DB
        beyond = np.arange(settings[-1] + 1, top)
    level = np.append(settings, beyond)
    heard, slope = _heard(level, np.append(count, np.zeros(beyond.size, np.int64)), tail, draws)
    # (draws,): a day's active hours over the time listened, and the shift turned into a factor
    to_day = known.to_day(known.exponents(draws), conditions.active_or_all)
    mean_db, day_db = known.shifts(draws)
    branch = int(np.argmax(count))
    return (
        _falling(heard[: settings.size] * (3600 / known.heard_s), branch),
        _falling(heard * (to_day * np.exp(slope * mean_db)), branch),
        _falling(heard * (to_day * np.exp(slope * day_db)), branch),
        level[branch:],
    )


def _heard(
    level_db: Array, count: IntArray, tail: Tail | None, draws: Draws
) -> tuple[Array, Array | float]:
    """Draws of the firings in the time listened (n, draws), and neper a decibel of shift."""
    fired = draws.gammas(count)
    if tail is None:
        return fired, CHANGE_SLOPE_NP_PER_DB
    scale = tail.scales(draws)
    rare = _follows_tail(level_db, count, tail)
    foot = draws.gammas(np.array([tail.used]))
    fired[rare] = foot * np.exp(-(level_db[rare, None] - tail.above_db) / scale)
    return fired, 1 / scale


def _follows_tail(level_db: Array, count: IntArray, tail: Tail | None) -> BoolArray:
    """Levels whose rate follows the loudest peaks: above their foot.

    A trigger that fires more often than ten seconds apart counts more than there are separate
    peaks: there the count decides.
    """
    if tail is None:
        return np.zeros(level_db.shape, dtype=bool)
    return np.asarray((count <= max(ENOUGH, tail.used)) & (level_db > tail.above_db))


def _falling(rate: Array, branch: int) -> Array:
    """Equally likely rates of draws; from the most-firing setting on none rises with the level."""
    likely = equally_likely(rate)
    likely[branch:] = np.minimum.accumulate(likely[branch:], axis=0)
    return likely


def _tail(visits: Sequence[Visit], fired_db: Array, belief: Belief) -> Tail | None:
    """Tail of the peaks of all visits; None if one has no peaks or they are too few.

    A sound cut off by the recording's border is no peak, yet it fired: it counts as heard.
    """
    # one visit without peaks would leave its loud sounds out of the tail
    peaks = [visit.peaks_db for visit in visits if visit.peaks_db is not None]
    tail = tail_of(np.concatenate(peaks), belief) if len(peaks) == len(visits) else None
    if tail is None or fired_db.size == 0:
        return tail
    return replace(tail, loudest_db=max(tail.loudest_db, float(fired_db[-1])))


def _reach(tail: Tail, curve_db: Array, mean: Array) -> float:
    """Highest level about which a number is given."""
    rare = np.log(np.maximum(quantile(mean, 0.5), 1e-12))
    # np.interp wants rising points; rates fall
    last_db = float(np.interp(-math.log(RAREST_PER_DAY), -rare, curve_db))
    return max(tail.loudest_db + REACH_DB, last_db)


def _by_hour(
    known: Exposure, conditions: Conditions, rates: tuple[Array, Array, Array], low: float
) -> tuple[Array | None, Array | None, Array | None]:
    """Firings of each hour of a day, (n, 24), with limits wider where flow misleads."""
    from scipy.special import ndtri

    share = known.share()
    if share is None:
        return None, None, None
    # shares of what is left of the day, so that the hours add up to it again
    active = conditions.active_or_all
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
