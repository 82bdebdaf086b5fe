"""Counts of days against closed formulas and a reference library."""

import math

import numpy as np
import pytest
from scipy import stats

from audiolevel.followup.day_spread import (
    DAY_SD,
    DAY_SD_WORTH,
    at_most,
    day_spreads,
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
