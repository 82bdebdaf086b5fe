"""The tail beyond the loudest peaks, against scipy and a slow peak finder."""

import numpy as np
import pytest
from scipy.stats import invgamma

from audiolevel.counting.draws import Draws
from audiolevel.counting.loudest_peaks import peaks_to_use, separate_peaks, tail_of


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


def test_the_scale_is_the_conjugate_posterior():
    # Gelman (2013), 2.6: exponential data and a gamma prior of the inverse scale, by scipy
    peaks = np.array([80.0, 76.0, 74.0, 73.0, 71.0, 70.0])
    tail = tail_of(peaks)
    assert (tail.used, tail.above_db) == (4, 72.0)
    # by hand: 30 peaks of 3.5 dB and 8 + 4 + 2 + 1 dB of four
    assert (tail.worth, tail.total_db) == (34.0, pytest.approx(120.0))
    found = np.quantile(tail.scales(Draws(0)), [0.025, 0.5, 0.975])
    assert found == pytest.approx(invgamma.ppf([0.025, 0.5, 0.975], 34, scale=120), rel=0.01)


def test_many_peaks_outweigh_the_belief():
    rng = np.random.default_rng(2)
    tail = tail_of(60 + rng.exponential(6.0, 20_000))
    assert np.median(tail.scales(Draws(0))) == pytest.approx(6.0, rel=0.12)


def test_peaks_follow_the_length_of_the_sample():
    assert [peaks_to_use(n) for n in (5, 9, 30, 100, 240, 1000)] == [4, 4, 8, 15, 23, 47]


def test_too_few_peaks_have_no_tail():
    assert tail_of(np.arange(1.0)) is None
    assert tail_of(np.arange(2.0)).used == 1
    assert tail_of(np.arange(5.0)).used == 4


def test_equal_peaks_at_a_clipped_input_still_have_a_tail():
    assert np.isfinite(tail_of(np.full(30, 93.0)).scales(Draws(0))).all()


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
