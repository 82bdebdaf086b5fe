"""The command `followup`."""

import csv
import json
import runpy
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.ground.records import json_text, to_object
from tests.followup.made_log import plan_of, spread_over


@pytest.fixture
def files(tmp_path: Path) -> Any:
    plan = tmp_path / "plan.json"
    plan.write_text(json_text(to_object(plan_of(by_hour=(40 / 24,) * 24))), encoding="utf-8")
    log = tmp_path / "log.csv"
    start = datetime(2024, 6, 3)
    rows = [f"{start + timedelta(seconds=s)},sound" for s in np.sort(spread_over(980)).tolist()]
    log.write_text("\n".join(["time,kind", *rows]) + "\n", encoding="utf-8")
    return plan, log


def _run(*words: Any) -> Any:
    return CliRunner().invoke(main, ["followup", *map(str, words)])


def test_the_command_prints_lines_of_eighty_columns(files: Any) -> None:
    plan, log = files
    run = _run(plan, log, "--from", "2024-06-03", "--to", "2024-06-10", "--kind", "sound", "--full")
    assert run.exit_code == 0, run.output
    assert max(map(len, run.output.splitlines())) <= 80
    said = " ".join(run.output.split())
    assert "VERDICT the limit of 40 a day is passed; more firings than the plan" in said
    assert "SET NOW     gain 2 (as recorded); threshold at 7" in run.output
    assert "not heard" in run.output


def test_the_command_s_json_has_the_fixed_keys(files: Any, tmp_path: Path) -> None:
    plan, log = files
    corrected = tmp_path / "corrected.json"
    run = _run(plan, log, "--json", "-", "--write-plan", corrected)
    assert run.exit_code == 0, run.output
    result = json.loads(run.stdout)
    fixed = (
        "expected_per_day observed_per_day observed_days low_per_day high_per_day p_value verdict "
        "shift_db shift_low_db shift_high_db keep fault warnings"
    )
    assert result.keys() >= set(fixed.split())
    assert result["verdict"] == "more"
    assert result["shift_low_db"] <= result["shift_db"] <= result["shift_high_db"]
    # the same week once more would count twice
    same = _run(corrected, log, "--setting", "75", "--json", "-")
    assert same.exit_code == 1
    assert "is counted in the plan already" in same.output
    week = log.with_name("week.csv")
    rows = [f"{datetime(2024, 6, 10) + timedelta(seconds=s)},sound" for s in range(0, 604800, 2160)]
    week.write_text("\n".join(["time,kind", *rows]) + "\n", encoding="utf-8")
    again = _run(corrected, week, "--setting", "75", "--json", "-")
    assert again.exit_code == 0, again.output
    assert json.loads(again.output)["setting_db"] == 75.0


def test_the_command_refuses_in_one_line(files: Any, tmp_path: Path) -> None:
    plan, log = files
    run = _run(plan, tmp_path / "none.csv")
    assert run.exit_code == 1
    assert "none.csv" in run.output
    assert _run(plan, log, log, "--setting", "75").exit_code == 2
    assert _run(plan, log, "--zone", "Nowhere").exit_code == 1
    outside = _run(plan, log, "--from", "2024-06-03", "--to", "2024-06-10", "--gap", "yesterday")
    assert outside.exit_code == 2


def test_a_gap_told_the_wrong_way_round_is_refused(files: Any) -> None:
    run = _run(*files, "--gap", "2024-06-05T12:00/2024-06-04T12:00")
    assert run.exit_code == 1
    assert run.output == (
        "audiolevel: --gap 2024-06-05T12:00:00/2024-06-04T12:00:00: ends before it begins; give "
        "the earlier time first\n"
    )


def test_the_same_log_gives_the_same_bytes(files: Any) -> None:
    plan, log = files
    assert _run(plan, log, "--json", "-").output == _run(plan, log, "--json", "-").output


def test_the_sample_s_log_is_what_its_script_makes(sample_audio: Path) -> None:
    script = runpy.run_path(str(sample_audio / "make_log.py"))
    with (sample_audio / "camera_log.csv").open(encoding="utf-8", newline="") as file:
        kept = list(csv.reader(file))
    assert kept[0] == ["time", "event", "length_s"]
    assert [tuple(row) for row in kept[1:]] == [tuple(map(str, row)) for row in script["rows"]()]


def test_one_word_on_the_weather_holds_for_all_logs(files: Any) -> None:
    plan, log = files
    span = ("--from", "2024-06-03", "--to", "2024-06-10")
    run = _run(plan, log, *span, "--weather", "wet", "--json", "-")
    assert run.exit_code == 0, run.output
    assert json.loads(run.stdout)["louder_db"] == 1.39
    assert _run(plan, log, *span, "--weather", "damp").exit_code == 2
