"""One log against a plan: time covered, dates, hours that stand out."""

from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audiolevel.followup.comparison import in_one_piece
from audiolevel.followup.event_log import LogFormat, read_log
from audiolevel.followup.plan_file import Expectation, expectation_of
from audiolevel.followup.verdict import follow
from tests.followup.made_log import ACTIVE, MONDAY, log_of, plan_of, spread_over


def _follow(count: Any, expectation: Expectation | None = None, days: float = 7.0) -> Any:
    return follow(
        expectation or expectation_of(plan_of()), [(log_of(spread_over(count, days), days), 75.0)]
    )


def _codes(result: Any) -> Any:
    return [one.code for one in result.notices]


def test_only_active_hours_count() -> None:
    expectation = expectation_of(plan_of(active=ACTIVE))
    result = follow(expectation, [(log_of(spread_over(280)), 75.0)])
    last = result.last
    # by hand: 106 h of the week are active, a day is 106/7 h, so a week is seven days
    assert last.covered_s == 106 * 3600
    assert last.days == pytest.approx(7.0)
    assert last.exposure == pytest.approx(7.0)
    assert last.count + last.left_out == 280
    assert "inactive" in _codes(result)


def test_part_of_a_day_counts_by_its_traffic() -> None:
    by_hour = [0.0] * 12 + [40 / 12] * 12
    expectation = expectation_of(plan_of(by_hour=by_hour))
    morning = log_of(np.array([3.0, 7.0]) * 3600, covered=((MONDAY, MONDAY + 18 * 3600.0),))
    result = follow(expectation, [(morning, 75.0)])
    assert result.last.days == pytest.approx(0.75)
    assert result.last.exposure == pytest.approx(0.5)
    assert [row.name for row in result.last.by_hour] == [f"{hour:02d}" for hour in range(12, 18)]


def test_a_log_s_first_row_opens_its_own_span() -> None:
    times = np.arange(11) * 86400.0 / 2  # eleven rows over five days: ten intervals
    log = log_of(times, covered=((MONDAY, MONDAY + 5 * 86400.0),), own_span=True)
    result = follow(expectation_of(plan_of()), [(log, 75.0)])
    assert result.last.count == 10
    assert "span" in _codes(result)


def test_every_row_outside_the_active_hours_is_told_the_first_too() -> None:
    # each hour from nine to five of four days, of a camera that should be off from seven to six
    times = [day * 86400.0 + hour * 3600.0 for day in range(4) for hour in range(9, 18)]
    covered = ((MONDAY + times[0], MONDAY + times[-1]),)
    log = log_of(times, covered=covered, own_span=True)
    last = follow(expectation_of(plan_of(active=["18:00-07:00"])), [(log, 75.0)]).last
    assert (last.count, last.left_out) == (0, 36)
    assert last.fired_elsewhere


def test_dates_and_hours_add_up() -> None:
    result = _follow(300)
    for rows in (result.last.by_day, result.last.by_hour):
        assert sum(row.observed for row in rows) == 300
        assert sum(row.covered_h for row in rows) == pytest.approx(168)
    assert result.last.by_day[0].name == "2024-06-03"
    assert [row.carried_over for row in result.last.by_hour] == [True] * 4 + [False] * 20


def test_an_hour_with_a_cause_of_its_own_stands_out() -> None:
    extra = np.concatenate([day * 86400 + 14 * 3600 + np.arange(60) * 50.0 for day in range(7)])
    times = np.concatenate([spread_over(280), extra])
    result = follow(expectation_of(plan_of()), [(log_of(times), 75.0)])
    assert [row.name for row in result.last.by_hour if row.stands_out] == ["14"]
    assert not any(row.stands_out for row in _follow(280).last.by_hour)


def test_the_mower_of_the_sample_s_log_is_found(sample_audio: Path) -> None:
    active = expectation_of(plan_of(rate=60.0, sd=0.4, active=ACTIVE))
    reading = LogFormat(kinds=("sound",), begin=datetime(2024, 6, 5), end=datetime(2024, 6, 12))
    log = read_log(sample_audio / "camera_log.csv", reading)
    result = follow(active, [(log, 75.0)])
    assert result.last.exposure == pytest.approx(7.0)
    assert result.last.left_out == 0
    assert "10" in [row.name for row in result.last.by_hour if row.stands_out]
    assert {one.code for one in log.notices} == {"unsorted", "duplicates"}
    # the script's own rate: 110 a day by traffic in the active hours, and the mower's 45
    assert result.last.count == pytest.approx(7 * 57, rel=0.1)


def test_a_wet_log_is_held_against_wet_days() -> None:
    # by hand: a wet day is 1.39 dB louder than the mean one (a quarter of them, 2 dB), which at
    # 0.42 neper a decibel is 1.8 times as many: 72 a day of the 40 planned
    expectation, log = expectation_of(plan_of()), log_of(spread_over(501))
    wet, dry = (follow(expectation, [(log, 75.0)], [one]).last for one in (True, False))
    assert wet.expected_per_day.best == pytest.approx(40 * np.exp(0.42 * 1.386), rel=0.03)
    assert wet.p_value > 0.5
    assert follow(expectation, [(log, 75.0)]).last.p_value < wet.p_value / 2
    assert dry.p_value < follow(expectation, [(log, 75.0)]).last.p_value
    # dates and hours are held against the same
    assert not any(row.stands_out for row in wet.by_day)


@pytest.mark.parametrize("plan", [{"sd": 2.0}, {"sd": 2.0, "per_day": None}])
def test_after_a_log_what_is_expected_is_what_the_log_showed(plan: dict[str, Any]) -> None:
    # 40 a day planned, or an upper limit only; 140 a day seen at the same setting
    logs = [(log_of(spread_over(980, seed=seed)), 75.0) for seed in (1, 2)]
    first, second = follow(expectation_of(plan_of(**plan)), logs).comparisons
    assert first.expected_per_day.best == (40.0 if "per_day" not in plan else None)
    expected = second.expected_per_day
    assert expected.best == pytest.approx(140.0, rel=0.15)
    assert expected.low < 140.0 < expected.high


def test_what_a_wet_log_teaches_is_of_the_mean_day() -> None:
    expectation, log = expectation_of(plan_of(sd=2.0)), log_of(spread_over(644))
    told, untold = (follow(expectation, [(log, 75.0)], [one]).decision for one in (True, None))
    assert untold.level.best is not None
    assert told.level.best == pytest.approx(untold.level.best - 1.386, abs=0.3)


@pytest.mark.always
@pytest.mark.parametrize(
    ("hours", "told"),
    [
        ([0, 1, 22, 23], [22, 23, 0, 1]),
        ([9, 10, 11], [9, 10, 11]),
        (list(range(24)), list(range(24))),
        ([6, 7, 20, 21, 22], [20, 21, 22, 6, 7]),
        ([3], [3]),
        ([], []),
    ],
)
def test_a_night_is_told_in_one_piece(hours: list[int], told: list[int]) -> None:
    assert in_one_piece(hours) == told
