"""The counting study, reduced; the whole of it is marked slow (docs/counting.md has its tables)."""

import os
from pathlib import Path

import numpy as np
import pytest

from tests.studies.counting_study import study
from tests.studies.histories import level_scores, plan_scores, widenings
from tests.studies.passes import (
    diurnal_scores,
    event_scores,
    wet_scores,
    width_against_before,
)
from tests.studies.roadside import STEP_S, STRESS, firings
from tests.studies.scoring import SEEN, TARGETS, bias, coverage, level_error, pick
from tests.studies.street_halves import compare, inside, page, settings_of, street


@pytest.fixture(scope="module")
def events():
    return event_scores(range(100), minutes=60.0)


@pytest.fixture(scope="module")
def ordinary():
    return level_scores(["ordinary"] * 4, reference_days=3, fresh_days=2)


@pytest.mark.parametrize("target", TARGETS)
def test_marked_poisson_peaks_are_covered(events, target):
    scores = pick(events, method="ours", target=target)
    assert len(scores) == 100
    assert coverage(scores) >= 0.90
    assert 0.6 <= bias(scores) <= 1.6


@pytest.mark.parametrize("seen", SEEN)
def test_rates_are_not_biased_where_something_was_seen(events, seen):
    # At levels as the sample shows them: it fired once, twice, ... there.
    scores = pick(events, at="count", seen=seen)
    assert 0.6 <= bias(scores) <= 1.6
    assert coverage(scores) >= 0.85


@pytest.mark.parametrize("target", [50, 200, 1000])
def test_rates_are_not_biased_where_they_are_seen_at_all(events, target):
    # Rates of which an hour holds two firings or more. Rarer ones are seen only by a chance that
    # biases them by itself: one in 60 min is already 24 a day.
    seen = [s for s in pick(events, method="ours", target=target) if s.seen]
    assert 0.6 <= bias(seen) <= 1.6


def test_intervals_and_levels_are_no_worse_than_those_of_a_plainer_tail(events):
    for target in (2, 10, 50):
        ours, plain = (pick(events, method=m, target=target) for m in ("ours", "plain tail"))
        # the tail's prior comes from real streets, whose tails are heavier than these
        assert np.median([s.high for s in ours]) <= 1.3 * np.median([s.high for s in plain])
        assert level_error(ours)[0] <= 1.3 * level_error(plain)[0]


def test_intervals_are_no_wider_than_they_need_be(events):
    # With the rate known exactly a day's count at 50 a day spans 37 to 64; from an hour the
    # second simulated study beforehand had a median of 13 to 139.
    scores = pick(events, method="ours", target=50)
    assert np.median([s.high for s in scores]) <= 139


@pytest.mark.parametrize("minutes", [10, 60])
def test_the_same_sound_of_a_roadside_twice_never_widens_an_interval(minutes):
    rate, day, log_ratio = widenings(["ordinary"] * 4 + list(STRESS), minutes).T
    assert max(rate.max(), day.max()) <= 1.05
    assert np.median(log_ratio) < 1


@pytest.mark.parametrize("minutes", [10, 60])
def test_level_histories_are_covered(ordinary, minutes):
    assert coverage(pick(ordinary, method="ours", minutes=minutes)) >= 0.88


def test_the_same_test_rejects_a_plain_exponential_tail(ordinary):
    control = pick(ordinary, method="control", minutes=10, target=10)
    ours = pick(ordinary, method="ours", minutes=10, target=10)
    assert coverage(control) < 0.6 < 0.88 <= coverage(ours)


def test_the_whole_way_from_a_history_to_the_plan_is_covered():
    assert coverage(plan_scores(2, minutes=(10.0,), fresh_days=3)) >= 0.88


@pytest.mark.parametrize("sites", [24, pytest.param(40, marks=pytest.mark.slow)])
def test_hours_and_days_not_heard_are_covered_by_traffic_and_spread(sites):
    scores = diurnal_scores(range(sites))
    usual = pick(scores, kind="diurnal, 1 day")
    assert coverage(usual) >= 0.90
    assert 0.6 <= bias(usual) <= 1.6
    # without the spread the same days are missed
    assert coverage(pick(scores, kind="diurnal, 1 day, no spread", target=1000)) < 0.6


@pytest.mark.parametrize("sites", [20, pytest.param(30, marks=pytest.mark.slow)])
@pytest.mark.parametrize("kind", ["busy road", None])
@pytest.mark.parametrize("minutes", [10.0, 60.0])
def test_wet_days_are_covered_after_a_dry_visit(kind, minutes, sites):
    # Before the weather was thought of: 63 % (10 min, 50 a day) to 8 % (60 min, 200 a day).
    scores = wet_scores(range(sites), minutes, kind)
    for target in (10, 50, 200):
        assert coverage(pick(scores, target=target)) >= 0.85


@pytest.mark.parametrize("sites", [24, pytest.param(120, marks=pytest.mark.slow)])
def test_a_busy_road_s_interval_is_not_much_wider_than_before(sites):
    # 1.2 times on these, 1.19 on 120 (docs/counting.md)
    now, before = width_against_before(range(sites))
    assert now <= 1.3 * before


def test_stress_sites_are_covered():
    scores = level_scores(STRESS, reference_days=1, fresh_days=2, plan=((10, 3), (60, 2)))
    assert coverage(pick(scores, method="ours")) >= 0.88


def test_the_plain_trigger_of_the_study_does_as_its_rule_says():
    # By hand, 1 s rows: fires at 12 s, held busy by 59 dB until 25 s, fires again at 30 s.
    level = np.full(60, 50.0)
    level[12:20], level[20:25], level[30], level[35] = 61.0, 59.0, 60.0, 70.0
    assert list(firings(level, 60.0, interval_s=1.0)) == [12, 30]
    assert STEP_S == 0.1


needs_recordings = pytest.mark.skipif(
    "AUDIOLEVEL_RECORDINGS" not in os.environ,
    reason="real recordings: set AUDIOLEVEL_RECORDINGS to their folder",
)


@needs_recordings
@pytest.mark.parametrize("mode", ["threshold", "rise", "fall", "change"])
def test_halves_of_a_real_street_predict_each_other(mode):
    # A freely licensed 45 s of a street with passing cars; not stationary (docs/counting.md), so
    # a tenth more misses than the nominal 5 % are allowed.
    level = street()
    rows = compare(level, mode, settings_of(level)[mode])
    assert inside(rows).mean() >= 0.80


@needs_recordings
def test_the_page_of_the_street_is_what_the_study_makes():
    shown = Path(__file__).parents[2] / "docs" / "street_halves.md"
    assert shown.read_text(encoding="utf-8") == page(street())


# Median error of the level for 10 a day in dB and median upper end of a day's count at 2, 10 and 50
# a day, from 10 and 60 min: what the second simulated study beforehand had on its own sites.
BEFORE = {10: (2.2, (122, 167, 302)), 60: (1.3, (28, 56, 139))}
# The prior of the tail is that of real streets, heavier than these sites: on them it costs a fifth
# of the level's error and up to three tenths of an interval's end (on streets it mends 2 dB).
COST_OF_REAL_STREETS = (1.2, 1.3)


@pytest.mark.slow
def test_the_whole_study():
    scores = study()
    stress = [s for s in scores if s.kind in STRESS]
    for minutes, (most_db, highs) in BEFORE.items():
        ordinary = pick(scores, kind="ordinary", method="ours", minutes=minutes)
        assert coverage(ordinary) >= 0.88
        assert coverage(pick(stress, method="ours", minutes=minutes)) >= 0.88
        assert level_error(pick(ordinary, target=10))[0] <= COST_OF_REAL_STREETS[0] * most_db
        assert level_error(pick(ordinary, target=10))[2] >= 0.90
        for target, high in zip((2, 10, 50), highs, strict=True):
            highest = COST_OF_REAL_STREETS[1] * high
            assert np.median([s.high for s in pick(ordinary, target=target)]) <= highest
        assert coverage(pick(scores, kind="plan", minutes=minutes)) >= 0.88
        for target in TARGETS:
            event = pick(scores, kind="event", method="ours", minutes=minutes, target=target)
            assert coverage(event) >= 0.90
        for one_set in (pick(scores, at="count", kind="ordinary", minutes=minutes),
                        pick(scores, at="count", kind="event", minutes=minutes),
                        pick(stress, at="count", minutes=minutes)):  # fmt: skip
            for seen in SEEN:
                seen_so_often = pick(one_set, at="count", seen=seen)
                if len(seen_so_often) >= 20:
                    assert 0.6 <= bias(seen_so_often) <= 1.6
    assert coverage(pick(scores, method="control", minutes=10, target=10)) < 0.6
    for minutes in (10, 60):
        rate, day, log_ratio = widenings(["ordinary"] * 50 + list(STRESS) * 10, minutes).T
        assert max(rate.max(), day.max()) <= 1.05
        assert np.mean(log_ratio <= 1.05) >= 0.98
