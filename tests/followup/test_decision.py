"""What is set after a log: nothing else, unless the log says otherwise."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from audiolevel.followup.decision import LARGEST_STEP_DB, SILENT_STEP_DB, Decision, Reason
from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import corrected_plan, follow
from audiolevel.report.followup.document import verdict_text
from audiolevel.report.words.decisions import decision_text
from tests.followup.made_log import MONDAY, log_of, plan_of, spread_over


def _decided(count: int, *, days: float = 7.0, at_db: float = 75.0, **plan: Any) -> Decision:
    log = log_of(spread_over(count, days), days)
    return follow(expectation_of(plan_of(**plan)), [(log, at_db)]).decision


def test_a_log_as_planned_keeps_the_setting() -> None:
    decision = _decided(250)
    assert decision.keep
    assert decision.reason is Reason.KEPT
    assert decision.set_db == 75.0


def test_few_firings_where_all_wanted_sounds_are_caught_are_no_reason_to_lower_it() -> None:
    # 7.6 a day expected, 1.4 counted, 40 allowed: nobody wants forty false firings
    decision = _decided(10, rate=7.6, sd=1.0, catching_db=82.0)
    assert decision.keep
    assert decision.set_db == 75.0


def test_more_firings_than_the_limit_raise_it_to_the_level_for_the_limit() -> None:
    # of a plan that knew little, so that the log speaks
    decision = _decided(980, sd=2.0)
    assert decision.reason is Reason.LIMIT_BROKEN
    # by hand: 140 a day where 40 are allowed are ln(3.5)/0.42 = 3.0 dB by the best estimate
    assert decision.level.best == pytest.approx(78.0, abs=0.5)
    assert decision.level.best < decision.set_db <= decision.level.best + 1.0 + 1e-9


def test_no_step_is_larger_than_six_decibels() -> None:
    # by hand: 2000 a day where 10 are allowed are 12.6 dB
    decision = _decided(2000, days=1.0, limit=10.0, rate=10.0, sd=3.0)
    assert decision.set_db == 75.0 + LARGEST_STEP_DB
    assert decision.short_of_db > 5.0


def test_a_raise_that_was_cut_short_does_not_claim_the_limit() -> None:
    # by hand: 2000 a day fall to 2000·exp(-0.42·6) = 160 a day by 6 dB, where 10 are allowed
    log = log_of(spread_over(2000, 1.0), 1.0)
    result = follow(expectation_of(plan_of(limit=10.0, rate=10.0, sd=3.0)), [(log, 75.0)])
    assert "does not keep it yet" in decision_text(result.decision)
    option = corrected_plan(result).recommended
    assert option is not None
    assert option.basis == "none"
    assert option.expected.per_day == pytest.approx(160.0, rel=0.3)
    # by hand: 140 a day where 40 are allowed are 3.0 dB, a whole step
    whole = follow(expectation_of(plan_of(sd=2.0)), [(log_of(spread_over(980)), 75.0)])
    assert "kept by the best estimate" in decision_text(whole.decision)
    option = corrected_plan(whole).recommended
    assert option is not None
    assert option.basis == "best"
    assert option.expected.per_day is not None
    assert option.expected.per_day <= 40.0


def test_what_catches_enough_far_above_raises_nothing_higher_than_the_limit_asks() -> None:
    # by hand as above: 78 dB for the limit, though 85 dB would still catch enough
    assert _decided(980, sd=2.0, catching_db=85.0) == _decided(980, sd=2.0)


def test_missed_sounds_lower_it_as_far_as_they_need_and_the_limit_allows() -> None:
    decision = _decided(14, rate=2.0, sd=0.5, catching_db=71.0)
    assert decision.reason is Reason.WANTED_MISSED
    assert 71.0 <= decision.set_db < 75.0
    assert decision.set_db >= decision.level.best + 0.5 - 1e-9


def test_a_quiet_log_gives_back_what_caution_took() -> None:
    # by hand: 2 a day where 40 are allowed are ln(20)/0.42 = 7.1 dB to spare by the best estimate
    decision = _decided(14, rate=2.0, sd=0.5)
    assert decision.reason is Reason.GIVEN_BACK
    assert 75.0 - LARGEST_STEP_DB <= decision.set_db < 75.0
    # one day says less than seven, and gives back less
    assert decision.set_db <= _decided(2, days=1.0, rate=2.0, sd=0.5).set_db


def test_nothing_is_set_where_three_times_the_limit_is_within_what_is_possible() -> None:
    result = follow(
        expectation_of(plan_of(rate=2.0, sd=1.5)), [(log_of(spread_over(2, 1.0), 1.0), 75.0)]
    )
    here = result.posterior.lasting.log_rate_at(result.decision.set_db)
    assert np.exp(result.posterior.lasting.quantiles(here, [0.97])[0]) <= 3 * 40.0


def test_what_the_sample_counted_stays_in_the_sum() -> None:
    # the sample counted 40 a day at 75 dB (37 to 43): a log of one evening makes that no less
    decision = _decided(3, days=0.5, sd=0.04, limit=10.0, catching_db=60.0)
    assert decision.set_db >= 75.0
    assert decision.level.low > 75.0


def test_no_firing_at_all_changes_nothing() -> None:
    decision = _decided(0, days=2.0, rate=0.8, catching_db=70.0)
    assert decision.reason is Reason.SILENT
    assert decision.keep


def test_a_second_silent_check_lowers_it_by_three_decibels_at_most() -> None:
    plan = expectation_of(plan_of(rate=0.3, sd=0.5, catching_db=65.0))
    logs = [(log_of([], 1.0), 75.0), (log_of([], 1.0), 75.0)]
    assert follow(plan, logs[:1]).decision.keep
    decision = follow(plan, logs).decision
    assert decision.reason is Reason.SILENT_AGAIN
    assert 75.0 - SILENT_STEP_DB <= decision.set_db < 75.0


def test_two_silent_checks_change_nothing_where_every_wanted_sound_is_caught() -> None:
    plan = expectation_of(plan_of(rate=0.3, catching_db=80.0))
    assert follow(plan, [(log_of([], 1.0), 75.0), (log_of([], 1.0), 75.0)]).decision.keep


def test_one_that_fired_only_when_it_should_be_off_is_neither_silent_nor_dead() -> None:
    # active from eight to four, and it fired at five in the morning: a clock, a zone, a schedule
    plan = expectation_of(plan_of(active=("08:00-16:00",), catching_db=65.0))
    log = log_of(np.arange(7) * 86400.0 + 5 * 3600.0)
    result = follow(plan, [(log, 75.0)])
    assert result.last.left_out == 7
    assert result.decision.reason is Reason.FIRED_ELSEWHERE
    assert result.fault is None
    assert "silent" not in {one.code for one in result.notices}
    # and a silent check after it is the first
    later = replace(log_of([]), name="b", covered=((MONDAY + 7 * 86400, MONDAY + 8 * 86400),))
    assert follow(plan, [(log, 75.0), (later, 75.0)]).decision.keep


def test_a_camera_that_hears_less_than_the_sample_is_not_given_a_level() -> None:
    # 40 a day counted in the sample, 2 a day in the log: 7 dB less by the plan's own curve
    decision = _decided(14, catching_db=70.0, sd=0.2)
    assert decision.reason is Reason.HEARS_LESS
    assert decision.keep


def test_a_camera_that_hears_more_than_the_sample_is_not_told_that_it_hears_less() -> None:
    # 40 a day counted in the sample, 280 a day in the first log and 50 a day in the second
    logs = [(log_of(spread_over(count)), 75.0) for count in (1960, 350)]
    result = follow(expectation_of(plan_of(sd=0.2)), logs)
    assert result.last.observed_per_day < result.last.expected_per_day.low
    assert result.last.p_value < 0.05
    assert result.decision.reason is not Reason.HEARS_LESS
    said = verdict_text(result)
    assert "fewer firings than the plan with the logs before allows for" in said


def test_a_stuck_detector_is_not_given_a_level() -> None:
    log = log_of([i * 10.0 for i in range(2000)])
    decision = follow(expectation_of(plan_of()), [(log, 75.0)]).decision
    assert decision.reason is Reason.FAULT
    assert decision.keep


def test_the_interval_lies_within_what_the_curve_covers() -> None:
    # one firing in half a day where next to nothing was known
    decision = _decided(1, days=0.5, rate=0.05, sd=3.0)
    assert decision.level.low >= 60.0
    assert decision.level.high <= 89.0
