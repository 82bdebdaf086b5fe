"""The follow-up study, reduced; the whole of it is marked slow (tables in docs/followup.md)."""

import numpy as np
import pytest

from tests.studies.followup_study import (
    _concluded,
    day_after_day,
    extrapolated,
    followed,
    later_within,
    median_error,
    moved,
    own_model,
    plan_at,
    roadside,
    sample_of,
    seen_at_least,
)
from tests.studies.passes import marks


# of a made site without weeks: the program allows each week its own level (1.1 dB, t4, as measured
# on streets: docs/real_loop.md), and a good part of 3 dB can be that
def _check_moved(results, found=0.50, near=0.90):
    assert np.mean([one.p_value < 0.05 for one in results]) > found
    assert np.mean([abs(one.shift_db - one.true_db) <= 1 for one in results]) >= near


def _check_days(scores):
    # with the slope of real streets, which is not that of these sites (0.28 against 0.42 neper a
    # decibel); with theirs the counting study beforehand had 1.0, 0.6 and 0.4 dB
    for days, most_db in ((1, 1.5), (2, 1.0), (4, 0.7)):
        assert median_error(scores, days) <= most_db
    assert later_within(scores, 4) >= 0.80
    # and what it is compared with must be worse: the plan before any log
    assert median_error(scores, 0) > 1.5
    assert np.mean([one.inside for one in scores if one.days]) >= 0.90


def test_more_than_chance_is_not_said_of_logs_from_the_plan_s_own_model():
    p_values = own_model(range(25), logs=20)
    assert p_values.size == 500
    assert np.mean(p_values < 0.05) <= 0.07


def test_a_site_moved_by_three_decibels_is_found_and_put_right():
    _check_moved(moved(range(120)))


def test_the_study_s_short_way_says_what_the_follow_up_says():
    rng = np.random.default_rng(1)
    expectation, _ = plan_at(sample_of(marks(rng), rng, 1, 60), seen_at_least(30), 700.0)
    # 2.6 times as many as planned: more than days of real streets differ by themselves
    counts = rng.poisson(1800, 7)
    result, short = followed(expectation, counts, rng), _concluded(expectation, counts, 0.0)
    assert result.last.p_value == pytest.approx(short.p_value)
    level = result.decision.level
    # of the months to come, which the log's week is one of: nearer to the plan, and less sure
    assert 0 < level.best - expectation.set_db < short.shift_db
    assert level.high - level.low > short.high_db - short.low_db
    assert result.verdict == "more"


@pytest.mark.parametrize("sites", [30, pytest.param(60, marks=pytest.mark.slow)])
def test_an_unmoved_site_is_left_alone(sites):
    p_values = [one.p_value for one in moved(range(sites), by_db=0.0)]
    assert np.mean(np.array(p_values) < 0.05) <= 0.07


def test_the_interval_of_an_extrapolated_plan_s_shift_holds_the_truth():
    pairs = extrapolated(range(14))
    assert np.mean([true in result.decision.level for result, true in pairs]) >= 0.90


def test_setting_the_level_every_day_comes_close():
    _check_days(day_after_day(range(30)))


@pytest.mark.slow
def test_the_whole_study():
    assert np.mean(own_model(range(50), logs=20) < 0.05) <= 0.07
    _check_moved(moved(range(300)))
    # where days and hours may differ from the sample's as much as on real streets, 3 dB are no
    # more than chance even after five visits (docs/followup.md), and found all the same
    _check_moved(moved(range(200), visits=5, diurnal=True), found=-1.0, near=0.85)
    for minutes in (10, 60):
        pairs = extrapolated(range(200), minutes=minutes)
        assert np.mean([true in result.decision.level for result, true in pairs]) >= 0.90
    _check_days(day_after_day(range(200)))
    _check_days(day_after_day(range(200), diurnal=True))
    _check_days(roadside(range(40)))
