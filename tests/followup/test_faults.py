"""Detectors that look stuck, and those that only had a quiet night."""

import numpy as np
import pytest

from audiolevel.followup.faults import Fault, FaultKind
from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import Verdict, follow
from tests.followup.made_log import MONDAY, log_of, plan_of, spread_over


def test_a_silence_too_long_is_stuck() -> None:
    times = spread_over(280)
    times = times[(times < 3 * 86400) | (times > 5 * 86400)]
    result = follow(expectation_of(plan_of()), [(log_of(times), 75.0)])
    assert result.verdict == "stuck"
    assert result.fault is not None
    assert result.fault.kind is FaultKind.FELL_SILENT
    assert result.fault.silent_s is not None
    assert 47 * 3600 < result.fault.silent_s < 50 * 3600
    assert not result.fault.other_events
    alive = follow(
        expectation_of(plan_of()), [(log_of(times, other_s=MONDAY + 86400 * np.r_[4.0]), 75.0)]
    )
    assert alive.fault is not None
    assert alive.fault.other_events


def test_a_quiet_night_is_not_stuck() -> None:
    by_hour = [0.02] * 6 + [40 / 18] * 18
    times = spread_over(280)
    times = times[(times % 86400) > 6 * 3600]
    result = follow(expectation_of(plan_of(by_hour=by_hour)), [(log_of(times), 75.0)])
    assert result.verdict == "as expected"


def test_firing_at_every_re_arm_is_stuck() -> None:
    times = np.concatenate([spread_over(200, 5.0), 5.5 * 86400 + np.arange(40) * 10.0])
    result = follow(expectation_of(plan_of()), [(log_of(times), 75.0)])
    assert result.verdict == "stuck"
    assert result.fault == Fault(FaultKind.EVERY_REARM, interval_s=10.0)


def test_firing_like_a_clock_is_stuck() -> None:
    result = follow(expectation_of(plan_of()), [(log_of(np.arange(168) * 3600.0), 75.0)])
    assert result.verdict == "stuck"
    assert result.fault == Fault(FaultKind.CLOCKWORK, interval_s=3600.0)


@pytest.mark.parametrize("logs", [5, pytest.param(12, marks=pytest.mark.slow)])
def test_random_firings_are_hardly_ever_stuck(logs: int) -> None:
    verdicts = [
        follow(expectation_of(plan_of()), [(log_of(spread_over(280, seed=seed)), 75.0)]).verdict
        for seed in range(logs)
    ]
    assert verdicts.count(Verdict.STUCK) == 0
