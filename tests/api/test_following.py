"""Following up from Python: a log as planned, several logs, and a corrected plan."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import audiolevel as al
from audiolevel.ground.records import json_text, to_object
from tests.followup.made_log import plan_of, spread_over

MONDAY = datetime(2024, 6, 3)


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("following") / "plan.json"
    path.write_text(
        json_text(to_object(plan_of(limit=80.0, by_hour=(40 / 24,) * 24))), encoding="utf-8"
    )
    return path


def _log(where: Path, count: int, days: float = 7.0, begin: datetime = MONDAY) -> Path:
    times = np.sort(spread_over(count, days)).tolist()
    rows = [f"{begin + timedelta(seconds=s)},sound" for s in times]
    where.write_text("\n".join(["time,kind", *rows]) + "\n", encoding="utf-8")
    return where


NEXT_MONDAY = MONDAY + timedelta(days=7)


@pytest.mark.always
def test_a_log_as_planned_keeps_the_setting(plan: Path, tmp_path: Path) -> None:
    # the made plan expects 40 a day and puts up with 80
    found = al.follow_up(plan, _log(tmp_path / "log.csv", 280), begins=[MONDAY], ends=[NEXT_MONDAY])
    assert found.verdict.value == "as expected"
    assert found.decision.keep
    assert repr(found) == "<FollowUp of plan.json: as expected; keep>"
    assert max(map(len, found.to_text().splitlines())) <= 80


def test_too_many_firings_give_a_corrected_plan_that_can_be_followed_up(
    plan: Path, tmp_path: Path
) -> None:
    log = _log(tmp_path / "log.csv", 980)
    found = al.follow_up(plan, log, begins=[MONDAY], ends=[NEXT_MONDAY])
    assert found.decision.set_db > found.expectation.set_db
    corrected = found.save_plan(tmp_path / "next.json")
    second = _log(tmp_path / "second.csv", 500, begin=NEXT_MONDAY)
    after = NEXT_MONDAY + timedelta(days=7)
    again = al.follow_up(corrected, second, begins=[NEXT_MONDAY], ends=[after])
    assert again.expectation.set_db == pytest.approx(found.decision.set_db)
    assert len(again.days) == 14
    # the week that the corrected plan has learned from would count twice
    with pytest.raises(al.AudioLevelError, match=r"in the plan already.*--from 2024-06-10T00:00"):
        al.follow_up(corrected, log, begins=[MONDAY], ends=[NEXT_MONDAY])


def test_no_time_counts_twice(plan: Path, tmp_path: Path) -> None:
    log = _log(tmp_path / "log.csv", 280)
    more = _log(tmp_path / "more.csv", 400, days=10.0)
    with pytest.raises(al.AudioLevelError, match=r"more\.csv: .* counted in log\.csv already"):
        al.follow_up(plan, [log, more])
    # an export of all that there is goes on where the first ended
    last = datetime.fromtimestamp(al.follow_up(plan, log).last.log.covered[-1][1], UTC)
    found = al.follow_up(plan, [log, more], begins=[None, last.replace(tzinfo=None)])
    assert found.comparisons[1].covered_s == pytest.approx(3 * 86400, rel=0.02)


@pytest.mark.parametrize("setting", [float("nan"), float("inf"), 7.8, 200.0])
def test_a_setting_of_another_scale_is_refused(plan: Path, tmp_path: Path, setting: float) -> None:
    log = _log(tmp_path / "log.csv", 280)
    with pytest.raises(al.AudioLevelError, match=r"the plan's curve goes from .* dB SPL; give"):
        al.follow_up(plan, log, settings=[setting])


def test_no_more_is_expected_than_the_detector_can_fire(plan: Path, tmp_path: Path) -> None:
    log = _log(tmp_path / "log.csv", 280)
    # far below the plan's curve, where its belief knows no end
    lowest = min(al.follow_up(plan, log).expectation.curve.settings_db)
    last = al.follow_up(plan, log, settings=[lowest - 12.0]).last
    rearm_s = 10.0
    for one in (*last.by_hour, *last.by_day):
        assert one.expected.high <= one.covered_h * 3600 / rearm_s + 1
    assert last.expected_per_day.high <= 86400 / rearm_s * 1.01


def test_a_plan_in_memory_is_the_plan_in_its_file(tmp_path: Path) -> None:
    from tests.made_street import SITE, plan

    made = al.Plan(plan())
    path = made.save_json(tmp_path / "plan.json")
    log = _log(tmp_path / "log.csv", 300, days=2.0)
    one, two = (al.follow_up(what, log) for what in (made, path))
    assert one.to_object() == two.to_object()
    assert one.plan_name == SITE.site.name
    assert two.plan_name == "plan.json"


def test_settings_and_spans_are_given_for_each_log(plan: Path, tmp_path: Path) -> None:
    logs = [_log(tmp_path / "a.csv", 280), _log(tmp_path / "b.csv", 250)]
    with pytest.raises(al.AudioLevelError, match="settings: 1 for 2 logs"):
        al.follow_up(plan, logs, settings=[75.0])
    with pytest.raises(al.AudioLevelError, match="begins, ends: 1 for 2 logs"):
        al.follow_up(plan, logs, begins=[MONDAY])


def test_a_gap_outside_all_logs_is_told(plan: Path, tmp_path: Path) -> None:
    logs = [_log(tmp_path / "a.csv", 280), _log(tmp_path / "b.csv", 280)]
    spans: Any = {
        "begins": [MONDAY, NEXT_MONDAY],
        "ends": [NEXT_MONDAY, NEXT_MONDAY + timedelta(days=7)],
    }
    # an hour of the second log lies outside the first, an hour a month later outside both
    hour = timedelta(hours=1)
    gaps = tuple((MONDAY + days, MONDAY + days + hour) for days in map(timedelta, (8, 30)))
    found = al.follow_up(plan, logs, log_format=al.LogFormat(gaps=gaps), **spans)
    told = [dict(one.facts) for one in found.notices if one.code == "gap outside"]
    assert told == [{"gap": "2024-07-03T00:00:00/2024-07-03T01:00:00"}]
    assert [round(one.covered_s / 3600) for one in found.comparisons] == [168, 167]


def test_the_weather_of_each_log_is_told_and_said(plan: Path, tmp_path: Path) -> None:
    logs = [_log(tmp_path / "a.csv", 280), _log(tmp_path / "b.csv", 644, begin=NEXT_MONDAY)]
    after = NEXT_MONDAY + timedelta(days=7)
    spans: Any = {"begins": [MONDAY, NEXT_MONDAY], "ends": [NEXT_MONDAY, after]}
    found = al.follow_up(plan, logs, weather=["dry", "wet"], **spans)
    assert "the road was wet: 1.4 dB louder than the mean day" in " ".join(found.to_text().split())
    assert found.verdict.value == "as expected"
    assert [one["louder_db"] for one in found.to_object()["logs"]] == [-0.61, 1.39]
    with pytest.raises(al.AudioLevelError, match="weather: 1 for 2 logs; give one for each"):
        al.follow_up(plan, logs, weather=["wet"], **spans)
    with pytest.raises(al.AudioLevelError, match='weather: "damp" is neither dry nor wet'):
        al.follow_up(plan, logs, weather=["damp", "dry"], **spans)
