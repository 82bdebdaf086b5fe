"""Rate and level after a plan and the camera's own counts: prior, update, predictions.

A plan says how many firings a day to expect at its setting, and how the count falls with the level.
Counts of days at one or several settings change what is known of both (Bayes' rule on a grid).

Two things are unknown: `log_rate`, the natural logarithm of the true rate at the plan's setting,
and `stretch`, by which the true curve is steeper than the plan's. The plan's median curve h gives
the shape: a rate that differs from the plan's is read as the curve moved along the level,

    ln rate(T) = log_rate + stretch · [h(x + T − T₀) − h(x)]   with h(x) = log_rate,

so that a camera that hears everything 3 dB louder is the plan's curve moved by 3 dB, exactly.

Conventions: levels in the plan's unit, rates per day of mean traffic, `exposure` in such days.

Entry points: `Shape`, `PlanPrior`, `RatePosterior`, `update`, `predictive`, `chance`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array
from audiolevel.counting.day_counts import DayCount, at_most, log_probability, spread_of_days
from audiolevel.errors import SettingError
from audiolevel.intervals import Interval

# Firings between 50 and 10 a day fall by 0.28 neper per dB on real streets (0.21 to 0.32 on seven,
# docs/counting.md) and by 0.42 at simulated roadsides: a spread of 0.3 in the logarithm holds both.
SLOPE_NP_PER_DB = 0.28
STRETCH_SD = 0.30
# Least fall of a shape, so that it can always be read backwards; 0.08 is e in 12.5 dB.
SHALLOW_NP_PER_DB = 0.08
SMOOTH_DB = 1.5

# One site in ten is not as it was while recording: another gain, place or season.
CHANGED_SHARE = 0.1
CHANGED_SD = 2.5  # of ln(rate): 6 dB

# From one firing in 22 years to 96,000 a day, which is more than one a second.
_LOG_RATE = np.arange(-9.0, 11.5, 0.03)
_STRETCHES = 15
# of the greatest weight; what is less moves no interval and costs time
_NEGLIGIBLE = 1e-7
_BINS = 400


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
    slope_high: float = SLOPE_NP_PER_DB

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


def shape_of(
    settings_db: ArrayLike,
    per_day: ArrayLike,
    seen: ArrayLike,
    beyond_np_per_db: float = SLOPE_NP_PER_DB,
) -> Shape:
    """Shape of a plan's curve: its own up to the loudest sound recorded, the usual slope beyond.

    Parameters
    ----------
    settings_db, per_day, seen : array_like, shape (n,)
        Settings of the plan, its best estimate at each (nan where it has none), firings seen.
    beyond_np_per_db : float
        Slope where nothing was counted.

    Returns
    -------
    Shape

    Raises
    ------
    SettingError
        The plan has no rate at any setting.

    Notes
    -----
    Only the falling branch from the most-firing setting on is used, smoothed over ±1.5 dB.
    """
    level = np.asarray(settings_db, dtype=np.float64)
    rate = np.asarray(per_day, dtype=np.float64)
    count = np.asarray(seen, dtype=np.float64)
    if not np.any(np.isfinite(rate) & (rate > 0)):
        raise SettingError("curves: the plan gives no rate at any setting; plan again")
    # below the most-firing setting the background holds the trigger up: no branch of sounds
    first = int(np.nanargmax(rate))
    # an extrapolated rate is the plan's belief, not its count: it gives no shape
    known = np.flatnonzero((count > 0) & (rate > 0))
    known = known[known >= first]
    # one point or none has no slope of its own: the usual one to both sides
    if known.size < 2:
        at = first if known.size == 0 else int(known[-1])
        point = (level[[at]], np.log(rate[[at]]))
        return Shape(*point, slope_low=beyond_np_per_db, slope_high=beyond_np_per_db)
    level, log_rate = level[known], np.log(rate[known])
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


@dataclass(frozen=True, eq=False)
class PlanPrior:
    """What a plan expects at its setting before any log, as quantiles of the rate.

    Attributes
    ----------
    at_db : float
        The setting.
    shares, rates_per_day : arrays, shape (quantiles,)
        Probabilities, and the rate that lies above the true one with each of them.
    shape : Shape
        Of the plan's curve around the setting.
    stretch_sd : float
        Standard deviation of the logarithm by which the true curve is steeper.
    """

    at_db: float
    shares: Array
    rates_per_day: Array
    shape: Shape
    stretch_sd: float = STRETCH_SD

    def weights(self) -> Array:
        """Probability of each of the grid's logarithms of the rate, shape (grid,); sums to 1."""
        from scipy.special import ndtri

        # shares of 0 and 1 would lie at infinity
        score = ndtri(np.clip(self.shares, 1e-4, 1 - 1e-4))
        # a rate of zero is put one e-fold above the grid's end
        log_rate = np.log(np.maximum(self.rates_per_day, math.exp(_LOG_RATE[0] + 1)))
        # np.interp needs rates that rise, and rounding may make neighbours equal
        log_rate = np.maximum.accumulate(log_rate) + 1e-6 * np.arange(log_rate.size)
        slope_low, slope_high = _end_slopes(score, log_rate)
        # straight in normal score against ln(rate): log-normal between quantiles and beyond them
        z = np.interp(_LOG_RATE, log_rate, score)
        z += np.minimum(_LOG_RATE - log_rate[0], 0) / slope_low
        z += np.maximum(_LOG_RATE - log_rate[-1], 0) / slope_high
        return _cells(z)


def _end_slopes(score: Array, log_rate: Array) -> tuple[float, float]:
    # neper per standard deviation at either end, at least 0.05 so as not to divide by zero
    slope = np.diff(log_rate) / np.diff(score)
    return max(float(slope[0]), 0.05), max(float(slope[-1]), 0.05)


def _cells(score: Array) -> Array:
    from scipy.special import ndtr

    # cells end halfway between nodes, the outermost at infinity: nothing is lost
    edge = np.concatenate([[-np.inf], (score[1:] + score[:-1]) / 2, [np.inf]])
    return np.diff(ndtr(edge))


@dataclass(frozen=True, eq=False)
class RatePosterior:
    """Weighted possibilities: arrays of shape (log_rate, stretch), weights sum to 1.

    Attributes
    ----------
    prior : PlanPrior
    log_rate, stretch, weight : arrays, shape (log_rate, stretch)
        ln(rate a day) at the plan's setting, steepness beside the plan's, and the probability.
    day_sd : float
        Standard deviation of ln(rate) from day to day.
    """

    prior: PlanPrior
    log_rate: Array
    stretch: Array
    weight: Array
    day_sd: float

    def log_rate_at(self, level_db: float) -> Array:
        """Logarithm of the daily rate at a level in dB, for every possibility."""
        shape, at = self.prior.shape, self.prior.at_db
        x = shape.level(self.log_rate)
        fall = shape.at(x + level_db - at) - shape.at(x)
        return np.asarray(self.log_rate + self.stretch * fall)

    def level_for(self, rate_per_day: float) -> Array:
        """Level at which the rate is `rate_per_day`, for every possibility."""
        shape, at = self.prior.shape, self.prior.at_db
        # the plan's curve has to fall by less where the true one is steeper
        wanted = self.log_rate + (math.log(rate_per_day) - self.log_rate) / self.stretch
        return np.asarray(at + shape.level(wanted) - shape.level(self.log_rate))

    def quantiles(self, value: Array, shares: ArrayLike) -> Array:
        """Quantiles of something that has a value for every possibility.

        Parameters
        ----------
        value : array, shape (log_rate, stretch)
        shares : array_like
            Probabilities, 0 to 1.

        Returns
        -------
        array, shape of `shares`
        """
        # flattened; stable, so that equal values come in the same order every time
        order = np.argsort(value, axis=None, kind="stable")
        mass = np.cumsum(self.weight.ravel()[order])
        # each weight sits at its middle, as in a histogram of unequal bars
        middle = mass - self.weight.ravel()[order] / 2
        return np.interp(np.asarray(shares, dtype=np.float64), middle, value.ravel()[order])


def update(prior: PlanPrior, days: Sequence[DayCount], *, changed: bool = True) -> RatePosterior:
    """Rate and steepness after the counts of some days.

    Parameters
    ----------
    prior : PlanPrior
        The plan before any log.
    days : sequence of DayCount
        Any settings, any order; one entry a day.
    changed : bool
        Allow that the site is not as it was while recording. False: the plan's own model.

    Returns
    -------
    RatePosterior
        On a grid of ln(rate) in steps of 0.03, which is 3 % of a rate, by 15 values of the stretch
        of equal prior probability.
    """
    from scipy.special import ndtri

    # middles of 15 equal parts of a log-normal: all stretches weigh the same
    share = (np.arange(_STRETCHES) + 0.5) / _STRETCHES
    # (grid, stretch) without a copy
    log_rate = np.broadcast_to(_LOG_RATE[:, None], (_LOG_RATE.size, _STRETCHES))
    stretch = np.broadcast_to(np.exp(prior.stretch_sd * ndtri(share)), log_rate.shape)
    day_sd = spread_of_days(days)
    # no weights yet: only its levels are asked for
    grid = RatePosterior(prior, log_rate, stretch, np.empty(0), day_sd)
    weights = _allowing_for_change(prior.weights()) if changed else prior.weights()
    # a weight of zero stays impossible, at minus infinity
    with np.errstate(divide="ignore"):
        log_weight = np.log(np.repeat(weights[:, None] / _STRETCHES, _STRETCHES, axis=1))
    for day in days:
        # a day of which no active hour was covered says nothing
        if day.exposure > 0:
            mean = np.exp(grid.log_rate_at(day.at_db)) * day.exposure
            log_weight += log_probability(day.count, mean, day_sd)
    # less the largest first, or hundreds of days would underflow
    weight = np.exp(log_weight - log_weight.max())
    return RatePosterior(prior, log_rate, stretch, weight / weight.sum(), day_sd)


def _allowing_for_change(weights: Array) -> Array:
    """The plan's weights of ln(rate), with a wide normal mixed in for a site that has changed."""
    # about the plan's median: a change may go either way
    middle = _LOG_RATE[int(np.searchsorted(np.cumsum(weights), 0.5))]
    wide = np.exp(-0.5 * ((_LOG_RATE - middle) / CHANGED_SD) ** 2)
    return np.asarray((1 - CHANGED_SHARE) * weights + CHANGED_SHARE * wide / wide.sum())


def predictive(
    posterior: RatePosterior,
    at_db: float,
    exposures: Sequence[float],
    share: float,
    slack: float = 0.0,
) -> Interval:
    """Total count to expect over some days at a setting.

    Parameters
    ----------
    posterior : RatePosterior
    at_db : float
        Level or change that is set.
    exposures : sequence of float
        What each day is worth, in days of mean traffic.
    share : float
        Confidence of the interval, between 0 and 1.
    slack : float
        A spread of ln(rate) common to all these days, of an hour known from traffic only.

    Returns
    -------
    Interval
        Median and limits of the total, whole numbers.
    """
    total, sd = _total(posterior, exposures)
    rates = _rates(posterior, at_db)
    # two independent reasons for the rate to differ
    sd = math.hypot(sd, slack)
    ends = [_count_quantile(rates, total, sd, q) for q in (0.5, (1 - share) / 2, (1 + share) / 2)]
    return Interval(*ends)


def chance(posterior: RatePosterior, at_db: float, exposures: Sequence[float], count: int) -> float:
    """Probability of a total as far out as `count` or farther: twice the smaller tail, at most 1.

    Parameters
    ----------
    posterior, at_db, exposures
        As of `predictive`.
    count : int
        Firings counted in all.
    """
    total, sd = _total(posterior, exposures)
    rates = _rates(posterior, at_db)
    fewer = _cumulative(rates, total, sd, count)
    # P(N ≥ count): both tails hold the count itself
    more = 1 - (_cumulative(rates, total, sd, count - 1) if count > 0 else 0.0)
    return min(1.0, 2 * min(fewer, more))


def _total(posterior: RatePosterior, exposures: Sequence[float]) -> tuple[float, float]:
    """Exposure in all, and the spread of the mean of the days."""
    exposure = np.asarray(exposures, dtype=np.float64)
    # equivalent number of days: n if all are alike, 1 if one outweighs the rest
    days = float(exposure.sum()) ** 2 / float((exposure**2).sum())
    return float(exposure.sum()), posterior.day_sd / math.sqrt(days)


def _rates(posterior: RatePosterior, at_db: float) -> tuple[Array, Array]:
    """Rates at a level and their weights, gathered in narrow bins of ln(rate)."""
    # some 10,000 possibilities to at most 400 rates: the count's probability is summed often
    log_rate, weight = posterior.log_rate_at(at_db).ravel(), posterior.weight.ravel()
    likely = weight > _NEGLIGIBLE * weight.max()
    log_rate, weight = log_rate[likely], weight[likely]
    # a hair more, so that bins have a width even if all rates are one
    edges = np.linspace(log_rate.min(), log_rate.max() + 1e-9, _BINS + 1)
    in_bin, _ = np.histogram(log_rate, edges, weights=weight)
    middle = (edges[1:] + edges[:-1]) / 2
    return np.exp(middle[in_bin > 0]), in_bin[in_bin > 0] / in_bin.sum()


def _cumulative(rates: tuple[Array, Array], exposure: float, sd: float, count: float) -> float:
    return float((at_most(count, rates[0] * exposure, sd) * rates[1]).sum())


def _count_quantile(rates: tuple[Array, Array], exposure: float, sd: float, share: float) -> float:
    # no count is below zero, so −1 is never enough
    low, high = -1.0, 10.0
    # fourfold until it is enough, then bisected to a whole number
    while _cumulative(rates, exposure, sd, high) < share:
        high *= 4
    while high - low > 1:
        middle = math.floor((low + high) / 2)
        if _cumulative(rates, exposure, sd, middle) >= share:
            high = middle
        else:
            low = middle
    return high
