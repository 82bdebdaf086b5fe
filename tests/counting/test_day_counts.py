"""Counts of days against closed formulas and a reference library."""

import math

import numpy as np
import pytest
from scipy import stats

from audiolevel.counting.day_counts import (
    DAY_SD,
    DayCount,
    at_most,
    excess_of_days,
    log_probability,
    size_of,
    spread_of_days,
)


def test_day_counts_are_negative_binomial() -> None:
    # closed form: size k has variance mean + mean²/k; k = 5, mean 10 has variance 30
    # and P(0) = (k/(k + mean))^k = 0.004115
    sd = math.sqrt(math.log(1 + 1 / 5))
    assert size_of(sd) == pytest.approx(5)
    mean = np.array([10.0])
    assert math.exp(log_probability(0, mean, sd)[0]) == pytest.approx(0.004115, rel=1e-3)
    for count in (0, 3, 17, 60):
        expected = stats.nbinom(5, 5 / 15)
        assert math.exp(log_probability(count, mean, sd)[0]) == pytest.approx(expected.pmf(count))
        assert at_most(count, mean, sd)[0] == pytest.approx(expected.cdf(count))


def test_without_spread_they_are_poisson() -> None:
    # scipy's Poisson distribution; a known rate of 10 a day has a 95 % interval of 4 to 17
    mean = np.array([10.0])
    assert at_most(3, mean, 0.0)[0] == pytest.approx(stats.poisson(10).cdf(3), rel=1e-4)
    assert at_most(3, mean, 0.0)[0] < 0.025 < at_most(4, mean, 0.0)[0]
    assert at_most(16, mean, 0.0)[0] < 0.975 < at_most(17, mean, 0.0)[0]


def test_the_spread_of_days_is_the_usual_one_unless_days_say_otherwise() -> None:
    assert spread_of_days([]) == pytest.approx(DAY_SD)
    assert spread_of_days([DayCount(70.0, 12, 1.0)]) == pytest.approx(DAY_SD)
    alike = [DayCount(70.0, 1000, 1.0)] * 60
    assert spread_of_days(alike) < 0.1
    rng = np.random.default_rng(2)
    days = [DayCount(70.0, int(n), 1.0) for n in rng.poisson(500 * np.exp(rng.normal(0, 0.8, 60)))]
    assert 0.6 < spread_of_days(days) < 1.1


def test_the_excess_of_two_days_by_hand() -> None:
    # 90 and 110 firings in days alike: mean 100, scatter 200 is 100 more than the Poisson part
    # ½·200, over ½·(100² + 100²) gives a variance of ln(rate) of 0.01; 100·0.324² > 1 is sure
    found, sure = excess_of_days([DayCount(70.0, 90, 1.0), DayCount(70.0, 110, 1.0)])
    assert (found, sure) == pytest.approx((0.01, 1.0))
    # days at different settings say nothing of each other
    assert excess_of_days([DayCount(70.0, 90, 1.0), DayCount(71.0, 110, 1.0)]) == (0.0, 0.0)
