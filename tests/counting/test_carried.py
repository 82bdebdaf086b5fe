"""Firings carried to days that are louder: against the curve read elsewhere."""

import math

import numpy as np
import pytest

from audiolevel.counting.carried import Swept
from audiolevel.counting.peaks_over_threshold import tail_of
from audiolevel.counting.posterior import SharedDraws
from tests.counting.made_visits import LEVELS, site

DRAWS = SharedDraws(0, 2000)
NONE, ONE = np.zeros(2000), np.ones(2000)


@pytest.fixture(scope="module")
def swept():
    visit = site(4 * 3600.0)
    return Swept.of(LEVELS, visit.counts, tail_of(visit.peaks_db), DRAWS)


def test_a_day_as_heard_is_what_was_heard(swept):
    curve, at_settings = swept.carried(NONE, 0.28, ONE)
    assert at_settings == pytest.approx(swept.heard())
    assert curve[: LEVELS.size - swept.branch] == pytest.approx(swept.heard()[swept.branch :])


def test_a_day_five_decibels_louder_fires_as_often_five_decibels_higher(swept):
    _, louder = swept.carried(NONE + 5.0, 0.28, ONE)
    assert louder[25:40] == pytest.approx(swept.heard()[20:35])
    # and where the steps are steep, by more than the slope says that has no curve: by hand, peaks
    # of 3 dB a factor e are exp(5/3) = 5.3 times as many
    often = slice(12, 20)
    ratio = np.median(louder[often] / swept.heard()[often])
    assert ratio == pytest.approx(np.exp(5 / 3), rel=0.1)


def test_so_many_times_the_exposure_is_so_many_times_the_firings(swept):
    _, twice = swept.carried(NONE, 0.28, 2 * ONE)
    assert twice == pytest.approx(2 * swept.heard())


def test_what_has_no_curve_goes_by_the_slope():
    few = Swept.of(np.array([3.0, 6.0]), np.array([40, 3]), None, DRAWS)
    _, louder = few.carried(NONE + 5.0, 0.2, ONE)
    # by hand: 5 dB at 0.2 neper a decibel is a factor e
    assert louder == pytest.approx(math.e * few.heard())


def test_what_lies_in_the_background_goes_with_the_most_firing_setting():
    visit = site(4 * 3600.0)
    counts = np.where(LEVELS < 58, 2, visit.counts)
    of = Swept.of(LEVELS, counts, tail_of(visit.peaks_db), DRAWS)
    assert of.branch > 0
    _, louder = of.carried(NONE + 3.0, 0.28, ONE)
    rose = louder[of.branch] / of.heard()[of.branch]
    assert louder[0] / of.heard()[0] == pytest.approx(rose)
