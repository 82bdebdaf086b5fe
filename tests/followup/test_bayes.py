"""Plan and counts together: against closed formulas, reference libraries and brute force."""

import math
from typing import Any

import numpy as np
import pytest
from scipy import stats

from audiolevel.counting.day_counts import DayCount
from audiolevel.followup.bayes import WEEK_SD, PlanPrior, chance, predictive, update
from audiolevel.followup.day_spread import day_spreads
from audiolevel.followup.shapes import Shape, Shapes

SHARES = np.array([0.005, 0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975, 0.995])
STRAIGHT = Shape(np.array([70.0, 80.0]), np.log([100.0, 100.0 * math.exp(-4.2)]), slope_low=0.42)


def _prior(
    rate: float = 10.0, sd: float = 1.0, shape: Any = STRAIGHT, stretch_sd: float = 1e-6
) -> Any:
    rates = rate * np.exp(sd * stats.norm.ppf(SHARES))
    return PlanPrior(75.0, SHARES, rates, Shapes.alone(shape), stretch_sd)


# --- posterior ---------------------------------------------------------------------------------


def test_without_days_belief_is_the_plan() -> None:
    # of the lasting rate; a week differs from it besides
    posterior = update(_prior(), [], changed=False).lasting
    found = np.exp(posterior.quantiles(posterior.log_rate_at(75.0), SHARES))
    assert found == pytest.approx(_prior().rates_per_day, rel=0.02)


def test_a_week_s_rate_is_the_lasting_one_and_a_part_of_its_own() -> None:
    # closed form: normal beliefs in ln(rate) add their variances
    posterior = update(_prior(sd=0.5), [], changed=False)
    low, high = posterior.quantiles(posterior.log_rate_at(75.0), [0.025, 0.975])
    assert (high - low) / 3.92 == pytest.approx(math.hypot(0.5, WEEK_SD), rel=0.02)
    # a week of many firings leaves the week's own part of the lasting rate, by the same rule
    lasting = update(_prior(sd=3.0), [DayCount(75.0, 4000, 1.0)] * 7, changed=False).lasting
    low, high = lasting.quantiles(lasting.log_rate_at(75.0), [0.025, 0.975])
    assert (high - low) / 3.92 == pytest.approx(math.hypot(WEEK_SD, 0.13), rel=0.15)


def test_many_days_leave_nothing_of_the_plan() -> None:
    days = [DayCount(75.0, 400, 1.0)] * 20
    posterior = update(_prior(rate=10.0), days)
    low, high = np.exp(posterior.quantiles(posterior.log_rate_at(75.0), [0.025, 0.975]))
    assert low < 400 < high
    assert high / low < 1.3


def test_a_site_that_is_three_decibels_louder_is_the_curve_moved_by_three() -> None:
    curved = Shape(np.array([60.0, 70.0, 80.0, 90.0]), np.array([8.0, 6.0, 2.0, -4.0]))
    prior = _prior(rate=math.exp(4.0), shape=curved, stretch_sd=1e-6)
    posterior = update(prior, [])
    row = int(np.argmin(np.abs(posterior.log_rate[:, 0] - float(curved.at(75.0 - 3.0)))))
    for level in (66.0, 75.0, 84.0):
        moved = float(curved.at(level - 3.0))
        assert posterior.log_rate_at(level)[row, 0] == pytest.approx(moved, abs=0.03)
    limit = float(np.exp(curved.at(75.0)))
    assert posterior.level_for(limit)[row, 0] == pytest.approx(78.0, abs=0.1)


def test_on_a_straight_curve_it_is_the_closed_rule() -> None:
    # ln of the pooled rate over the limit, divided by the slope: worked out by hand below
    days = [DayCount(75.0, 90, 1.0), DayCount(80.0, 11, 1.0), DayCount(80.5, 9, 1.0)]
    worth = 1 + math.exp(-0.42 * 5) + math.exp(-0.42 * 5.5)
    rule = 75 + math.log(110.5 / (10 * worth)) / 0.42
    posterior = update(_prior(rate=10.0, sd=3.0), days)
    best, low, high = posterior.quantiles(posterior.level_for(10.0), [0.5, 0.025, 0.975])
    assert best == pytest.approx(rule, abs=0.5)
    assert low < rule < high


def test_level_and_rate_agree_in_every_possibility() -> None:
    posterior = update(_prior(stretch_sd=0.3), [])
    levels = posterior.level_for(10.0)
    for row, column in ((100, 3), (300, 7), (500, 12)):
        there = posterior.log_rate_at(float(levels[row, column]))[row, column]
        assert there == pytest.approx(math.log(10.0), abs=1e-6)


def test_predictions_and_chances_are_those_of_brute_force() -> None:
    prior = _prior(rate=20.0, sd=0.5)
    posterior = update(prior, [], changed=False)
    rng = np.random.default_rng(5)
    rates = 20 * np.exp(math.hypot(0.5, WEEK_SD) * rng.normal(size=400_000))
    # the mean of seven days that differ: a gamma with that spread of the mean
    size = 1 / np.expm1(rng.choice(day_spreads(), rates.size) ** 2 / 7)
    totals = rng.poisson(rates * 7 * rng.gamma(size, 1 / size))
    found = predictive(posterior, 75.0, [1.0] * 7, 0.95)
    low, middle, high = np.quantile(totals, [0.025, 0.5, 0.975])
    assert found.low == pytest.approx(low, rel=0.03)
    assert found.best == pytest.approx(middle, rel=0.02)
    assert found.high == pytest.approx(high, rel=0.03)
    for count in (40, 140, 350):
        tail = min(np.mean(totals <= count), np.mean(totals >= count))
        p = chance(posterior, 75.0, [1.0] * 7, count)
        assert p == pytest.approx(min(1, 2 * tail), rel=0.1, abs=0.005)
