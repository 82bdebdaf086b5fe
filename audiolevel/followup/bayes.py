"""Rate and level after a plan and the camera's own counts: prior, update, predictions.

A plan says how many firings a day to expect at its setting, and how the count falls with the level.
Counts of days at one or several settings change what is known of both (Bayes' rule on a grid).

Three things are unknown: `log_rate`, the natural logarithm of the true rate at the plan's setting,
`stretch`, by which the true curve is steeper than the plan's, and `day_sd`, by how much days
differ. The plan's curve h for that rate (`shapes`) gives the shape: a rate that differs from the
plan's is read as the curve moved along the level,

    ln rate(T) = log_rate + stretch · [h(x + T − T₀) − h(x)]   with h(x) = log_rate,

so that a camera that hears everything 3 dB louder is the plan's curve moved by 3 dB, exactly.

Days of one week are alike: a log of days is taken for one of its own weeks, whose rate differs from
the lasting one by a part that no more days of the same week can tell. `RatePosterior.lasting` is
what the log says of the months to come.

Conventions: levels in the plan's unit, rates per day of mean traffic, `exposure` in such days.

Entry points: `PlanPrior`, `RatePosterior`, `update`, `predictive`, `chance`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting.belief import BELIEF, LEVEL_SLOPE_NP_PER_DB
from audiolevel.counting.day_counts import DayCount
from audiolevel.followup.day_spread import at_most, day_spreads, log_probability
from audiolevel.followup.shapes import Shapes
from audiolevel.ground.arrays import Array
from audiolevel.ground.intervals import Interval

# A plan's slope is right to so much of its logarithm: on real streets firings between 50 and 10 a
# day fall by 0.21 to 0.32 neper per dB (docs/counting.md), at simulated roadsides by 0.42.
STRETCH_SD = 0.30

# One site in ten is not as it was while recording: another gain, place or season.
CHANGED_SHARE = 0.1
CHANGED_SD = 2.5  # of ln(rate): 6 dB

# By how much ln(rate) of a week differs from the lasting one, and the days of one.
WEEK_SD = LEVEL_SLOPE_NP_PER_DB * BELIEF.week_db
WEEK_DAYS = 7

# From one firing in 22 years to 96,000 a day, which is more than one a second.
_LOG_RATE = np.arange(-9.0, 11.5, 0.03)
_STRETCHES = 15
# of the greatest weight; what is less moves no interval and costs time
_NEGLIGIBLE = 1e-7
_BINS = 100


@dataclass(frozen=True, eq=False)
class PlanPrior:
    """What a plan expects at its setting before any log, as quantiles of the rate.

    Attributes
    ----------
    at_db : float
        The setting.
    shares, rates_per_day : arrays, shape (quantiles,)
        Probabilities, and the rate that lies above the true one with each of them.
    shapes : Shapes
        Of the plan's curve, for each score of its belief.
    stretch_sd : float
        Standard deviation of the logarithm by which the true curve is steeper.
    """

    at_db: float
    shares: Array
    rates_per_day: Array
    shapes: Shapes
    stretch_sd: float = STRETCH_SD

    def scores(self) -> Array:
        """Normal score, in the plan's belief, of each of the grid's rates, shape (grid,)."""
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
        return np.asarray(z)


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
    """Weighted possibilities of rate, steepness and spread of days.

    Attributes
    ----------
    prior : PlanPrior
    log_rate, stretch : arrays, shape (log_rate, stretch)
        ln(rate a day) at the plan's setting, and steepness beside the plan's.
    score : array, shape (log_rate, 1)
        Normal score of the rate in the plan's belief, which says whose curve it has.
    day_sds : array, shape (spreads,)
        Standard deviations of ln(rate) from day to day.
    joint : array, shape (spreads, log_rate, stretch)
        Probability of each; sums to 1.
    lasting_weight : array, shape (log_rate,)
        Probability of each lasting rate before any day.
    week_sd : float
        Standard deviation of ln(rate) by which the logged weeks differ from the lasting rate.
    """

    prior: PlanPrior
    log_rate: Array
    stretch: Array
    score: Array
    day_sds: Array
    joint: Array
    lasting_weight: Array
    week_sd: float

    @cached_property
    def weight(self) -> Array:
        """Probability of each rate and steepness, shape (log_rate, stretch)."""
        return np.asarray(self.joint.sum(axis=0))

    @cached_property
    def lasting(self) -> "RatePosterior":
        """The same of the months to come, of which the logged weeks are some."""
        spread = _weeks(self.week_sd)
        # Bayes: the lasting rates that may stand behind each rate of the weeks
        before = spread @ self.lasting_weight
        behind = spread * self.lasting_weight / np.maximum(before, 1e-300)[:, None]
        joint = np.tensordot(self.joint, behind, axes=([1], [0])).swapaxes(1, 2)
        return replace(self, joint=joint / joint.sum())

    @cached_property
    def _place_db(self) -> Array:
        """Where on the curve of its score each rate lies, shape (log_rate, 1)."""
        return self.prior.shapes.level(self.score, self.log_rate[:, :1])

    def log_rate_at(self, level_db: float) -> Array:
        """Logarithm of the daily rate at a level in dB, for every possibility."""
        shapes, x = self.prior.shapes, self._place_db
        fall = shapes.at(self.score, x + level_db - self.prior.at_db) - shapes.at(self.score, x)
        return np.asarray(self.log_rate + self.stretch * fall)

    def level_for(self, rate_per_day: float) -> Array:
        """Level at which the rate is `rate_per_day`, for every possibility."""
        # the plan's curve has to fall by less where the true one is steeper
        wanted = self.log_rate + (math.log(rate_per_day) - self.log_rate) / self.stretch
        there = self.prior.shapes.level(self.score, wanted)
        return np.asarray(self.prior.at_db + there - self._place_db)

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
        and as many of the spread of days as `day_spreads` has, of equal prior probability.
    """
    from scipy.special import ndtri

    # middles of 15 equal parts of a log-normal: all stretches weigh the same
    share = (np.arange(_STRETCHES) + 0.5) / _STRETCHES
    # (grid, stretch) without a copy
    log_rate = np.broadcast_to(_LOG_RATE[:, None], (_LOG_RATE.size, _STRETCHES))
    stretch = np.broadcast_to(np.exp(prior.stretch_sd * ndtri(share)), log_rate.shape)
    score, day_sds = prior.scores(), day_spreads()
    # no weights yet: only its levels are asked for
    weights = _cells(score)
    if changed:
        weights = _allowing_for_change(weights)
    week_sd = WEEK_SD / math.sqrt(max(1, math.ceil(len(days) / WEEK_DAYS)))
    empty = np.empty(0)
    grid = RatePosterior(prior, log_rate, stretch, score[:, None], day_sds, empty, weights, week_sd)
    weights = _weeks(week_sd) @ weights
    # a weight of zero stays impossible, at minus infinity
    with np.errstate(divide="ignore"):
        log_weight = np.log(np.broadcast_to(weights[:, None], (day_sds.size, *log_rate.shape)))
    for day in days:
        # a day of which no active hour was covered says nothing
        if day.exposure > 0:
            mean = np.exp(grid.log_rate_at(day.heard_db)) * day.exposure
            log_weight += [log_probability(day.count, mean, float(sd)) for sd in day_sds]
    # less the largest first, or hundreds of days would underflow
    joint = np.exp(log_weight - log_weight.max())
    return replace(grid, joint=joint / joint.sum())


@cache
def _weeks(sd: float) -> Array:
    """Probability of each rate of some weeks (rows) for each lasting one (columns)."""
    apart = (_LOG_RATE[:, None] - _LOG_RATE) / sd
    near = np.exp(-0.5 * apart**2)
    return np.asarray(near / near.sum(axis=0))


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
    counts = _Counts.of(posterior, at_db, exposures, slack)
    ends = [counts.quantile(one) for one in (0.5, (1 - share) / 2, (1 + share) / 2)]
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
    counts = _Counts.of(posterior, at_db, exposures)
    fewer = counts.at_most(count)
    # P(N ≥ count): both tails hold the count itself
    more = 1 - (counts.at_most(count - 1) if count > 0 else 0.0)
    return min(1.0, 2 * min(fewer, more))


@dataclass(frozen=True, eq=False)
class _Counts:
    """Distribution of a total count: means (bins,), spreads (n, 1), and weights (n, bins)."""

    mean: Array
    sd: Array
    weight: Array

    @classmethod
    def of(
        cls,
        posterior: RatePosterior,
        at_db: float,
        exposures: Sequence[float],
        slack: float = 0.0,
    ) -> "_Counts":
        exposure = np.asarray(exposures, dtype=np.float64)
        # equivalent number of days: n if all are alike, 1 if one outweighs the rest
        days = float(exposure.sum()) ** 2 / float((exposure**2).sum())
        # some 70,000 possibilities to at most 100 rates a spread: the probability is summed often
        log_rate, joint = posterior.log_rate_at(at_db).ravel(), posterior.joint
        joint = joint.reshape(joint.shape[0], -1)
        likely = joint.sum(axis=0) > _NEGLIGIBLE * posterior.weight.max()
        log_rate, joint = log_rate[likely], joint[:, likely]
        # a hair more, so that bins have a width even if all rates are one
        width = (log_rate.max() - log_rate.min() + 1e-9) / _BINS
        place = np.minimum((log_rate - log_rate.min()) / width, _BINS - 1).astype(np.int64)
        in_bin = np.array([np.bincount(place, one, _BINS) for one in joint])
        middle = log_rate.min() + width * (np.arange(_BINS) + 0.5)
        # two independent reasons for the rate to differ
        sd = np.hypot(posterior.day_sds / math.sqrt(days), slack)
        return cls(np.exp(middle) * exposure.sum(), sd, in_bin / in_bin.sum())

    def at_most(self, count: float) -> float:
        """Probability of so many or fewer."""
        each = zip(self.sd, self.weight, strict=True)
        return float(sum(at_most(count, self.mean, float(sd)) @ weight for sd, weight in each))

    def quantile(self, share: float) -> float:
        """Smallest count whose cumulative probability reaches a share."""
        # no count is below zero, so −1 is never enough
        low, high = -1.0, 10.0
        # fourfold until it is enough, then bisected to a whole number
        while self.at_most(high) < share:
            high *= 4
        while high - low > 1:
            middle = math.floor((low + high) / 2)
            if self.at_most(middle) >= share:
                high = middle
            else:
                low = middle
        return high
