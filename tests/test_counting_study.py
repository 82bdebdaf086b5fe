"""The counting study, reduced; the whole of it is marked slow (docs/counting.md has its tables)."""

import os

import numpy as np
import pytest

from tests.study.counting_study import (
    STRESS,
    TARGETS,
    bias,
    bias_where_seen,
    coverage,
    diurnal_scores,
    event_scores,
    level_error,
    level_scores,
    pick,
    plan_scores,
    study,
)
from tests.study.roadside import STEP_S, firings
from tests.study.street_halves import compare, inside, settings_of, street


@pytest.fixture(scope="module")
def events():
    return event_scores(range(100), minutes=60.0)


@pytest.fixture(scope="module")
def ordinary():
    return level_scores(["ordinary"] * 6, reference_days=4, fresh_days=2, control=True)


@pytest.mark.parametrize("target", TARGETS)
def test_marked_poisson_peaks_are_covered(events, target):
    scores = pick(events, target=target)
    assert len(scores) == 100
    assert coverage(scores) >= 0.90
    assert 0.6 <= bias(scores) <= 1.6


@pytest.mark.parametrize("target", [50, 200, 1000])
def test_marked_poisson_peaks_are_not_biased_where_seen(events, target):
    # Rarer targets are seen only by a chance that biases them itself: 1 in 60 min is 24 a day.
    assert 0.6 <= bias_where_seen(pick(events, target=target)) <= 1.6


def test_intervals_are_no_wider_than_they_need_be(events):
    # With the rate known exactly a day's count at 50 a day spans 37 to 64; from an hour the
    # second simulated study beforehand had a median of 13 to 139.
    scores = pick(events, target=50)
    assert np.median([s.high for s in scores]) < 160


@pytest.mark.parametrize("minutes", [10, 60])
def test_level_histories_are_covered(ordinary, minutes):
    assert coverage(pick(ordinary, method="ours", minutes=minutes)) >= 0.88


def test_the_same_test_rejects_a_plain_exponential_tail(ordinary):
    control = pick(ordinary, method="control", minutes=10, target=10)
    ours = pick(ordinary, method="ours", minutes=10, target=10)
    assert coverage(control) < 0.6 < 0.88 <= coverage(ours)


def test_the_whole_way_from_a_history_to_the_plan_is_covered():
    assert coverage(plan_scores(2, minutes=(10.0,), fresh_days=3)) >= 0.88


def test_hours_and_days_not_heard_are_covered_by_traffic_and_spread():
    scores = diurnal_scores(range(40))
    usual = pick(scores, kind="diurnal, 1 day")
    assert coverage(usual) >= 0.90
    assert 0.6 <= bias(usual) <= 1.6
    # without the spread the same days are missed
    assert coverage(pick(scores, kind="diurnal, 1 day, no spread", target=1000)) < 0.6


def test_stress_sites_are_covered():
    scores = level_scores(STRESS, reference_days=2, fresh_days=2, plan=((10, 3), (60, 2)))
    assert coverage(scores) >= 0.88


def test_the_plain_trigger_of_the_study_does_as_its_rule_says():
    # By hand, 1 s rows: fires at 12 s, held busy by 59 dB until 25 s, fires again at 30 s.
    level = np.full(60, 50.0)
    level[12:20], level[20:25], level[30], level[35] = 61.0, 59.0, 60.0, 70.0
    assert list(firings(level, 60.0, interval_s=1.0)) == [12, 30]
    assert STEP_S == 0.1


@pytest.mark.skipif(
    "AUDIOLEVEL_RECORDINGS" not in os.environ,
    reason="real recordings: set AUDIOLEVEL_RECORDINGS to their folder",
)
@pytest.mark.parametrize("mode", ["threshold", "rise", "fall", "change"])
def test_halves_of_a_real_street_predict_each_other(mode):
    # A freely licensed 45 s of a street with passing cars; not stationary (docs/counting.md), so
    # a tenth more misses than the nominal 5 % are allowed.
    level = street()
    rows = compare(level, mode, settings_of(level)[mode])
    assert inside(rows).mean() >= 0.80


@pytest.mark.slow
def test_the_whole_study():
    scores = study()
    for minutes in (10, 60):
        ordinary = pick(scores, kind="ordinary", method="ours", minutes=minutes)
        stress = [s for s in pick(scores, minutes=minutes) if s.kind in STRESS]
        assert coverage(ordinary) >= 0.88
        assert coverage(stress) >= 0.88
        assert level_error(pick(ordinary, target=10))[2] >= 0.90
        control = pick(scores, method="control", minutes=10, target=10)
        assert coverage(control) < 0.6
        assert coverage(pick(scores, kind="plan", minutes=minutes)) >= 0.88
        for target in TARGETS:
            assert coverage(pick(scores, kind="event", minutes=minutes, target=target)) >= 0.90
    ten = pick(scores, kind="ordinary", method="ours", minutes=10, target=10)
    hour = pick(scores, kind="ordinary", method="ours", minutes=60, target=10)
    assert level_error(ten)[0] <= 2.4  # 2.0 to 2.2 dB in larger studies; 120 cases here
    assert level_error(hour)[0] <= 1.5  # 1.2 to 1.3 dB
