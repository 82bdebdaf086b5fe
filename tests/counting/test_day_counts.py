"""Counts of days against closed formulas and a reference library."""

import math

import numpy as np
import pytest
from scipy import stats

from audiolevel.counting.day_counts import (
    DAY_SD,
    DAY_SD_WORTH,
    DayCount,
    at_most,
    day_spreads,
    excess_of_days,
    log_probability,
    size_of,
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


def test_the_spread_of_days_is_uncertain_itself() -> None:
    # closed form: ν·s²/σ² is chi-squared, of which scipy has the quantiles
    spreads = day_spreads()
    share = 1 - stats.chi2(DAY_SD_WORTH).cdf(DAY_SD_WORTH * DAY_SD**2 / spreads**2)
    assert share == pytest.approx((np.arange(spreads.size) + 0.5) / spreads.size)
    # holds the steadiest and the wildest of the measured streets, 0.16 to 1.1
    assert spreads[0] < 0.3
    assert spreads[-1] > 0.9


def test_the_excess_of_two_days_by_hand() -> None:
    # 90 and 110 firings in days alike: mean 100, scatter 200 is 100 more than the Poisson part
    # ½·200, over ½·(100² + 100²) gives a variance of ln(rate) of 0.01; 100·0.40² > 1 is sure
    found, sure = excess_of_days([DayCount(70.0, 90, 1.0), DayCount(70.0, 110, 1.0)])
    assert (found, sure) == pytest.approx((0.01, 1.0))
    # days at different settings say nothing of each other
    assert excess_of_days([DayCount(70.0, 90, 1.0), DayCount(71.0, 110, 1.0)]) == (0.0, 0.0)
