"""The tail beyond the loudest peaks, against Coles (2001) and a slow peak finder."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import genpareto, t

from audiolevel.counting.peaks_over_threshold import (
    Prior,
    exceedance,
    log_likelihood,
    peaks_to_use,
    separate_peaks,
    tail_of,
)
from audiolevel.errors import SettingError

# Coles (2001), section 4.4.1: 17531 days of rain, 152 above 30 mm, scale 7.44 mm, shape 0.184 with
# standard errors 0.9585 and 0.1012; the level of 100 years (365 days each) is 106.3 mm.
RAIN = {"days": 17531, "over": 152, "above": 30.0, "scale": 7.44, "shape": 0.184}
RAIN_SE = {"scale": 0.9585, "shape": 0.1012}
RAIN_100_YEARS = 106.3


def rain_table():
    """Quasi-sample: the 152 mid-quantiles of the published fit (the series is not tabulated)."""
    shares = (np.arange(RAIN["over"]) + 0.5) / RAIN["over"]
    return genpareto.ppf(shares, RAIN["shape"], scale=RAIN["scale"])


def slow_separate_peaks(level, apart_rows):
    """Highest local maximum first, one at a time, in plain Python."""
    maxima = [
        i for i in range(1, len(level) - 1) if level[i - 1] < level[i] and level[i] > level[i + 1]
    ]
    kept = []
    for i in sorted(maxima, key=lambda i: -level[i]):
        if all(abs(i - j) >= apart_rows for j in kept):
            kept.append(i)
    return sorted((level[i] for i in kept if stands_out_db(level, i) >= 3), reverse=True)


def stands_out_db(level, i):
    """Height over the deeper-set of the two ways to higher ground, or to the border."""
    dips = []
    for step in (-1, 1):
        j, dip = i, level[i]
        while 0 <= j < len(level) and level[j] <= level[i]:
            dip = min(dip, level[j])
            j += step
        dips.append(dip)
    return level[i] - max(dips)


def test_exceedance_is_the_published_return_level_of_rain():
    rate = RAIN["over"] / RAIN["days"]
    chance = exceedance(RAIN_100_YEARS - RAIN["above"], RAIN["shape"], RAIN["scale"])
    assert 1 / (rate * chance) / 365 == pytest.approx(100, rel=0.01)


@pytest.mark.parametrize("shape", [-0.4, -0.1, 0.0, 0.184])
def test_exceedance_and_likelihood_agree_with_scipy(shape):
    above = np.array([0.1, 1.0, 2.5, 6.0])
    assert exceedance(above, shape, 3.0) == pytest.approx(genpareto.sf(above, shape, scale=3.0))
    assert log_likelihood(above, shape, 3.0) == pytest.approx(
        genpareto.logpdf(above, shape, scale=3.0).sum(), rel=1e-6
    )


def test_nothing_lies_beyond_the_upper_end():
    assert exceedance(10.0, -0.5, 3.0) == 0.0
    assert log_likelihood(np.array([1.0, 10.0]), -0.5, 3.0) == -np.inf


def test_most_likely_tail_of_tabulated_rain_is_the_published_fit():
    above = rain_table()

    def minus(theta):
        return -float(log_likelihood(above, theta[1], math.exp(theta[0])))

    log_scale, shape = minimize(minus, [2.0, 0.0], method="Nelder-Mead").x
    scale = math.exp(log_scale)
    assert scale == pytest.approx(RAIN["scale"], abs=RAIN_SE["scale"])
    assert shape == pytest.approx(RAIN["shape"], abs=RAIN_SE["shape"])
    m = 100 * 365 * RAIN["over"] / RAIN["days"]
    level = RAIN["above"] + scale / shape * (m**shape - 1)
    assert level == pytest.approx(RAIN_100_YEARS, abs=3)


def test_grid_posterior_of_rain_agrees_with_the_published_fit_and_its_errors():
    vague = Prior(
        shape_mean=0.0, shape_width=10.0, log_scale_mean=math.log(8), log_scale_width=10.0
    )
    peaks = np.append(rain_table() + RAIN["above"], RAIN["above"])
    tail = tail_of(peaks, vague, use=int(RAIN["over"]))
    shape = tail.weight @ tail.shape
    scale = tail.weight @ np.exp(tail.log_scale)
    assert shape == pytest.approx(RAIN["shape"], abs=RAIN_SE["shape"])
    assert scale == pytest.approx(RAIN["scale"], abs=RAIN_SE["scale"])
    shape_sd = math.sqrt(tail.weight @ (tail.shape - shape) ** 2)
    assert shape_sd == pytest.approx(RAIN_SE["shape"], rel=0.15)


def test_prior_is_two_student_distributions():
    shape, log_scale = np.array([-0.3, -0.08, 0.1]), np.array([0.2, 1.2, 3.0])
    found = Prior().log_density(shape, log_scale)
    expected = t.logpdf(shape, 3, 0.05, 0.05) + t.logpdf(log_scale, 3, math.log(3.15), 0.15)
    assert found - found[0] == pytest.approx(expected - expected[0])


def test_prior_gives_way_to_a_site_that_contradicts_it():
    # Exceedances of 20 dB a factor e; a normal prior of the same width holds the answer back.
    shares = (np.arange(15) + 0.5) / 15
    peaks = np.append(60 - 20 * np.log(1 - shares), 60.0)

    def scale_db(prior):
        tail = tail_of(peaks, prior, use=15)
        return math.exp(tail.weight @ tail.log_scale)

    student, normal = scale_db(Prior()), scale_db(Prior(log_scale_freedom=1e9))
    assert normal < 12 < 15 < student < 24


def test_draws_have_the_grid_s_mean():
    rng = np.random.default_rng(3)
    tail = tail_of(70 + rng.exponential(3, 200))
    strata = (np.arange(2000) + 0.5) / 2000
    shape, scale = tail.draws(strata, rng.random((2, 2000)) - 0.5)
    assert shape.mean() == pytest.approx(tail.weight @ tail.shape, abs=0.002)
    assert np.log(scale).mean() == pytest.approx(tail.weight @ tail.log_scale, abs=0.005)


def test_peaks_follow_the_length_of_the_sample():
    assert [peaks_to_use(n) for n in (5, 9, 30, 100, 240, 1000)] == [4, 4, 8, 15, 23, 47]


def test_too_few_peaks_have_no_tail():
    assert tail_of(np.arange(4.0)) is None
    assert tail_of(np.arange(5.0)).peaks_used == 4


def test_equal_peaks_at_a_clipped_input_still_have_a_tail():
    tail = tail_of(np.full(30, 93.0))
    assert np.isfinite(tail.weight).all()
    assert tail.weight.sum() == pytest.approx(1)


@pytest.mark.parametrize("seed", range(5))
def test_separate_peaks_agree_with_the_slow_finder(seed):
    level = np.random.default_rng(seed).normal(60, 2, 2000)  # 0.1 s rows: no reduction
    level[::7] -= 3
    found = separate_peaks(level, 0.1, apart_s=10.0)
    assert found == pytest.approx(slow_separate_peaks(level, 100))


def test_reduction_to_a_tenth_of_a_second_keeps_the_peaks():
    rng = np.random.default_rng(1)
    smooth = np.convolve(rng.normal(0, 40, 60_000), np.ones(100) / 100, mode="valid")
    fine = separate_peaks(smooth, 0.01)
    slow = np.array(slow_separate_peaks(smooth, 1000))
    assert fine[:10] == pytest.approx(slow[:10], abs=0.3)


def test_two_humps_nine_seconds_apart_are_one_peak_and_eleven_are_two():
    def humps(apart_s):
        t = np.arange(0, 60, 0.1)
        return np.maximum(70 - abs(t - 20), 68 - abs(t - 20 - apart_s))

    assert separate_peaks(humps(9), 0.1) == pytest.approx([70])
    assert separate_peaks(humps(11), 0.1) == pytest.approx([70, 68])


def test_ripple_of_the_background_is_no_peak():
    t = np.arange(0, 300, 0.1)
    ripple = 50 + np.sin(2 * np.pi * t / 20)
    assert separate_peaks(ripple, 0.1).size == 0
    ripple[1000:1020] += 10
    assert separate_peaks(ripple, 0.1).size == 1


def test_a_click_is_no_peak_for_a_trigger_that_must_hold():
    level = np.full(600, 50.0)
    level[100] = 90.0
    level[300:320] = 70.0
    assert separate_peaks(level, 0.1, hold_s=1.0) == pytest.approx([70])


def test_bad_histories_are_refused():
    with pytest.raises(SettingError, match="finite levels"):
        separate_peaks([50.0, float("nan"), 50.0], 0.1)
    with pytest.raises(SettingError, match="above zero"):
        separate_peaks([50.0, 51.0, 50.0], 0.0)
