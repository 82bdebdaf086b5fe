"""Draws of what is unknown: printed tables, reference distributions, invariants."""

import numpy as np
import pytest
from scipy.stats import chi2, gamma, poisson, t

from audiolevel.counting.draws import DRAWS, NODES, Draws, equally_likely, one_day, quantile

# Garwood (1936), Biometrika 28, 437-442: exact 95 % limits of a Poisson mean.
GARWOOD_95 = {
    0: (0, 3.6889),
    1: (0.0253, 5.5716),
    2: (0.2422, 7.2247),
    3: (0.6187, 8.7673),
    5: (1.6235, 11.6683),
    10: (4.7954, 18.3904),
    20: (12.2165, 30.8884),
    50: (37.1110, 65.9188),
    100: (81.3640, 121.6268),
}


@pytest.mark.parametrize(("count", "limits"), GARWOOD_95.items())
def test_count_limits_lie_within_garwood_s(count, limits):
    # Jeffreys limits are Garwood's with half an event less on each side: inside the exact ones,
    # and outside the exact ones of half the distance.
    draws = np.sort(Draws(0).gammas(np.array([count]))[0])
    low, high = np.quantile(draws, [0.025, 0.975])
    assert limits[0] <= low <= chi2.ppf(0.025, 2 * count + 2) / 2
    assert chi2.ppf(0.975, 2 * max(count, 0.1)) / 2 <= high <= limits[1]
    assert high == pytest.approx(gamma.ppf(0.975, count + 0.5), rel=0.01)
    assert low == pytest.approx(gamma.ppf(0.025, count + 0.5), rel=0.05, abs=1e-3)


@pytest.mark.parametrize(
    ("rate", "low", "high"), [(2, 0, 5), (10, 4, 17), (50, 37, 64), (200, 173, 228)]
)
def test_one_day_when_the_rate_is_known(rate, low, high):
    # 2.5 and 97.5 % points of the Poisson distribution, as any table of it prints them.
    assert [int(end[0]) for end in one_day([[rate]], 0.95)] == [low, high]
    assert (poisson.ppf(0.025, rate), poisson.ppf(0.975, rate)) == (low, high)


def test_one_day_of_an_uncertain_rate_agrees_with_the_negative_binomial():
    # A gamma-distributed rate of mean 10 and shape 5 gives the negative binomial with variance
    # 10 + 10²/5 = 30, whose 95 % range is 2 to 23.
    rates = gamma.ppf((np.arange(1000) + 0.5) / 1000, 5, scale=2)
    assert [int(end[0]) for end in one_day([rates], 0.95)] == [2, 23]


def test_a_wild_shift_is_student_s():
    draws = Draws(3)
    shift = np.sort(draws.student(4.0) * draws.mean_shift)
    # scipy's Student's t; a thousand draws tell its 95 % point to some per cent
    for share in (0.05, 0.25, 0.75, 0.95):
        assert np.quantile(shift, share) == pytest.approx(t.ppf(share, 4), rel=0.1)


def test_nodes_keep_the_mean_and_give_its_quantiles():
    rng = np.random.default_rng(4)
    rate = np.sort(rng.gamma(5, 2, (2, 5 * NODES)))
    assert rate.shape[1] == DRAWS
    kept = equally_likely(rate)
    assert kept.shape == (2, NODES)
    assert kept.mean(axis=1) == pytest.approx(rate.mean(axis=1))
    assert (np.diff(kept) >= 0).all()
    for share in (0.025, 0.5, 0.975):
        assert quantile(kept, share) == pytest.approx(gamma.ppf(share, 5, scale=2), rel=0.1)


def test_rates_past_all_counting_end_too():
    # doubles beyond 2^53 are further apart than one; silence beside other recordings gives such
    low, high = one_day(np.array([[1e20, 1e20], [10.0, 10.0]]), 0.95)
    assert low[0] == pytest.approx(1e20, rel=1e-6)
    assert high[0] == pytest.approx(1e20, rel=1e-6)
    assert (low[1], high[1]) == (4, 17)
