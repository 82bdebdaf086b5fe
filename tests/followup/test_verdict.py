"""A plan against a log: verdicts, hours, stuck detectors, several settings, the corrected plan."""

import csv
import json
import math
import runpy
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.errors import SettingError
from audiolevel.followup.event_log import Log, Reading, read_log
from audiolevel.followup.plan_file import Expectation, expectation_of, read_plan
from audiolevel.followup.verdict import corrected_plan, follow
from audiolevel.report import followup as report
from audiolevel.report.followup import in_words
from audiolevel.report.wording import notice_text

MONDAY = datetime(2024, 6, 3, tzinfo=UTC).timestamp()
SHARES = [0.005, 0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975, 0.995]
SCORES = [-2.576, -1.96, -1.2816, -0.6745, 0.0, 0.6745, 1.2816, 1.96, 2.576]
ACTIVE = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]


def _plan(rate=40.0, sd=0.3, limit=40.0, by_hour=None, active=(), **expected):
    """A plan's JSON whose true curve falls by 0.42 neper a decibel."""
    levels = np.arange(60.0, 90.0)
    per_day = rate * np.exp(-0.42 * (levels - 75.0))
    option = {
        "gain_db": 0.0,
        "gain_setting": 2,
        "mode": "threshold",
        "level_db": 75.0,
        "hold_s": 0.0,
        "rearm_s": 10.0,
        "release_db": 2.0,
        "display_level": 50.0,
        "level_for_limit": None,
        "detection": [],
        "storage": None,
        "expected": {
            "per_hour": rate / 24,
            "per_day": rate,
            "rate_low_per_day": rate * math.exp(-1.96 * sd),
            "rate_high_per_day": rate * math.exp(1.96 * sd),
            "low_per_day": 15.0,
            "high_per_day": 90.0,
            "confidence": 0.95,
            "method": "counted",
            "by_hour": by_hour,
            "hours_not_heard": [0, 1, 2, 3],
            "seen": 30,
            "rate_quantiles": {
                "shares": SHARES,
                "per_day": [rate * math.exp(sd * score) for score in SCORES],
            },
            **expected,
        },
    }
    louder = {**option, "gain_db": 12.0, "display_level": 62.0}
    return {
        "audiolevel": "0",
        "reference": "dB SPL",
        "false_triggers_per_day_limit": limit,
        "recommended": option,
        "options": [option, louder],
        "gains": [],
        "curves": [
            {
                "gain_db": 0.0,
                "mode": "threshold",
                "settings_db": levels.tolist(),
                "seen": np.round(per_day).astype(int).tolist(),
                "per_day": per_day.tolist(),
            }
        ],
        "schedule": {"active": list(active), "zone": ""},
        "reliable": True,
        "warnings": [],
        "reason": "",
    }


def _log(times_s, days=7.0, **changes):
    log = Log(
        name="log.csv",
        fired_s=MONDAY + np.sort(np.asarray(times_s, dtype=float)),
        other_s=np.empty(0),
        covered=((MONDAY, MONDAY + days * 86400),),
        zone=UTC,
        own_span=False,
        told_apart=True,
        recorded_s=math.nan,
        cautions=(),
    )
    return replace(log, **changes)


def _spread(count, days=7.0, seed=1):
    """Firings at random, none within the re-arm time of another."""
    rng = np.random.default_rng(seed)
    return rng.choice(int(days * 8640), count, replace=False) * 10.0


def _follow(count, promise: Expectation | None = None, days=7.0):
    return follow(promise or expectation_of(_plan()), [(_log(_spread(count, days), days), 75.0)])


def _codes(made):
    return [caution.code for caution in made.cautions]


# --- verdicts ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("count", "verdict"), [(280, "as expected"), (1000, "more"), (60, "fewer"), (0, "stuck")]
)
def test_verdicts(count, verdict):
    made = _follow(count)
    assert made.verdict == verdict
    assert made.last.observed_per_day == pytest.approx(count / 7)
    assert made.last.expected_per_day == 40.0
    assert made.last.low_per_day < 40 < made.last.high_per_day
    assert (made.last.p_value < 0.05) == (verdict != "as expected")


def test_none_when_few_were_to_come_cannot_be_told():
    made = follow(expectation_of(_plan(rate=0.3)), [(_log([]), 75.0)])
    assert made.verdict == "cannot tell"
    assert "silent" in _codes(made)


def test_an_upper_limit_cannot_be_told_from_fewer():
    plan = _plan(per_day=None, method="upper limit", by_hour=None)
    made = follow(expectation_of(plan), [(_log(_spread(300)), 75.0)])
    assert made.verdict == "cannot tell"
    assert math.isnan(made.last.expected_per_day)
    assert report.followed(made)["expected_per_day"] is None


def test_the_shift_is_the_ratio_over_the_slope():
    # by hand: 140 a day where 40 are allowed, ln(3.5)/0.42 = 2.98 dB; a third: -2.62 dB
    assert _follow(980).shift_db[0] == pytest.approx(2.98, abs=0.35)
    assert _follow(93).shift_db[0] == pytest.approx(-2.62, abs=0.5)
    best, low, high = _follow(980).shift_db
    assert low < 2.98 < high
    assert low < best < high


@pytest.mark.parametrize(
    ("p", "said"),
    [(0.6, "often"), (0.1, "now and then"), (0.03, "seldom"), (0.002, "hardly ever")],
)
def test_p_values_in_words(p, said):
    assert said in in_words(p)
    assert f"p = {p:g}" in in_words(p)
    assert "p < 0.001" in in_words(1e-9)


# --- time covered --------------------------------------------------------------------------------


def test_only_active_hours_count():
    promise = expectation_of(_plan(active=ACTIVE))
    made = follow(promise, [(_log(_spread(280)), 75.0)])
    last = made.last
    # by hand: 106 h of the week are active, a day is 106/7 h, so a week is seven days
    assert last.covered_s == 106 * 3600
    assert last.days == pytest.approx(7.0)
    assert last.exposure == pytest.approx(7.0)
    assert last.count + last.left_out == 280
    assert "inactive" in _codes(made)


def test_part_of_a_day_counts_by_its_traffic():
    by_hour = [0.0] * 12 + [40 / 12] * 12
    promise = expectation_of(_plan(by_hour=by_hour))
    morning = _log(np.array([3.0, 7.0]) * 3600, covered=((MONDAY, MONDAY + 18 * 3600.0),))
    made = follow(promise, [(morning, 75.0)])
    assert made.last.days == pytest.approx(0.75)
    assert made.last.exposure == pytest.approx(0.5)
    assert [row.name for row in made.last.by_hour] == [f"{hour:02d}" for hour in range(12, 18)]


def test_a_log_s_first_row_opens_its_own_span():
    times = np.arange(11) * 86400.0 / 2  # eleven rows over five days: ten intervals
    log = _log(times, covered=((MONDAY, MONDAY + 5 * 86400.0),), own_span=True)
    made = follow(expectation_of(_plan()), [(log, 75.0)])
    assert made.last.count == 10
    assert "span" in _codes(made)


def test_dates_and_hours_add_up():
    made = _follow(300)
    for rows in (made.last.by_day, made.last.by_hour):
        assert sum(row.observed for row in rows) == 300
        assert sum(row.covered_h for row in rows) == pytest.approx(168)
    assert made.last.by_day[0].name == "2024-06-03"
    assert [row.carried_over for row in made.last.by_hour] == [True] * 4 + [False] * 20


# --- what stands out, what is stuck --------------------------------------------------------------


def test_an_hour_with_a_cause_of_its_own_stands_out():
    extra = np.concatenate([day * 86400 + 14 * 3600 + np.arange(60) * 50.0 for day in range(7)])
    times = np.concatenate([_spread(280), extra])
    made = follow(expectation_of(_plan()), [(_log(times), 75.0)])
    assert [row.name for row in made.last.by_hour if row.stands_out] == ["14"]
    assert not any(row.stands_out for row in _follow(280).last.by_hour)


def test_a_silence_too_long_is_stuck():
    times = _spread(280)
    times = times[(times < 3 * 86400) | (times > 5 * 86400)]
    made = follow(expectation_of(_plan()), [(_log(times), 75.0)])
    assert made.verdict == "stuck"
    assert "did not fire for 4" in made.stuck
    alive = follow(
        expectation_of(_plan()), [(_log(times, other_s=MONDAY + 86400 * np.r_[4.0]), 75.0)]
    )
    assert "while other events were logged" in alive.stuck


def test_a_quiet_night_is_not_stuck():
    by_hour = [0.02] * 6 + [40 / 18] * 18
    times = _spread(280)
    times = times[(times % 86400) > 6 * 3600]
    made = follow(expectation_of(_plan(by_hour=by_hour)), [(_log(times), 75.0)])
    assert made.verdict == "as expected"


def test_firing_at_every_re_arm_is_stuck():
    times = np.concatenate([_spread(200, 5.0), 5.5 * 86400 + np.arange(40) * 10.0])
    made = follow(expectation_of(_plan()), [(_log(times), 75.0)])
    assert made.verdict == "stuck"
    assert "at every re-arm (10 s)" in made.stuck


def test_firing_like_a_clock_is_stuck():
    made = follow(expectation_of(_plan()), [(_log(np.arange(168) * 3600.0), 75.0)])
    assert made.verdict == "stuck"
    assert "every 3600 s" in made.stuck


def test_random_firings_are_hardly_ever_stuck():
    verdicts = [
        follow(expectation_of(_plan()), [(_log(_spread(280, seed=seed)), 75.0)]).verdict
        for seed in range(12)
    ]
    assert verdicts.count("stuck") == 0


# --- several logs, corrected plans ---------------------------------------------------------------


def test_several_settings_narrow_the_level():
    one = follow(expectation_of(_plan(sd=1.5)), [(_log(_spread(300, 1.0), 1.0), 75.0)])
    two = follow(
        expectation_of(_plan(sd=1.5)),
        [(_log(_spread(300, 1.0), 1.0), 75.0), (_log(_spread(55, 1.0), 1.0), 80.0)],
    )
    assert two.high_db - two.low_db < one.high_db - one.low_db
    # by hand: 55 a day at 80 dB, 40 wanted: ln(55/40)/0.42 = 0.8 dB more
    assert two.best_db == pytest.approx(80.8, abs=0.5)
    assert two.shift_db[0] == pytest.approx(two.best_db - 80.0)


def test_one_after_the_other_by_corrected_plans_is_the_same():
    first, second = _log(_spread(300, 2.0), 2.0), _log(_spread(90, 2.0, seed=4), 2.0)
    promise = expectation_of(_plan(sd=1.0))
    made = follow(promise, [(first, 75.0)])
    plan = json.loads(json.dumps(corrected_plan(made)))
    set_db = plan["recommended"]["level_db"]
    chained = follow(expectation_of(plan), [(second, set_db)])
    together = follow(promise, [(first, 75.0), (second, set_db)])
    assert chained.best_db == pytest.approx(together.best_db, abs=1e-9)
    assert chained.low_db == pytest.approx(together.low_db, abs=1e-9)
    again = corrected_plan(chained)
    assert again["followed"]["planned"]["level_db"] == 75.0
    assert len(again["followed"]["days"]) == 4


def test_a_corrected_plan_is_a_plan_with_another_setting():
    plan = _plan(by_hour=[40 / 24] * 24)
    made = follow(expectation_of(plan), [(_log(_spread(980)), 75.0)])
    corrected = corrected_plan(made)
    assert corrected.keys() >= plan.keys()
    option, before = corrected["recommended"], plan["recommended"]
    assert option.keys() == before.keys()
    assert option["level_db"] == math.ceil(made.best_db * 2) / 2
    # the camera's own scale goes up one for one, by the option 12 dB higher
    assert option["display_level"] == 50.0 + option["level_db"] - 75.0
    expected = option["expected"]
    assert expected["rate_low_per_day"] < expected["per_day"] < expected["rate_high_per_day"]
    assert expected["per_day"] == pytest.approx(40, rel=0.25)
    assert sum(expected["by_hour"]) == pytest.approx(expected["per_day"], rel=0.01)
    assert plan["recommended"]["level_db"] == 75.0  # the plan given is left as it was


def test_what_is_stuck_says_nothing_about_the_site():
    made = follow(
        expectation_of(_plan()), [(_log(np.arange(2000) * 10.0), 75.0), (_log(_spread(280)), 75.0)]
    )
    assert made.verdict == "as expected"
    assert len(made.days) == 7


def test_kinds_that_cannot_be_told_apart_are_said_with_what_follows():
    made = follow(expectation_of(_plan()), [(_log(_spread(980), told_apart=False), 75.0)])
    text = next(notice_text(c) for c in made.cautions if c.code == "not told apart")
    assert "upper limit" in text


# --- plans that are none -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "is not JSON"),
        ("[]", "is not a plan"),
        ('{"recommended": null, "curves": []}', "recommends nothing"),
        ('{"recommended": {"mode": "threshold"}, "curves": []}', "of another version"),
    ],
)
def test_what_is_no_plan_is_refused_by_name(tmp_path: Path, text, words):
    path = tmp_path / "plan.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingError, match=words) as refused:
        read_plan(path)
    assert "plan.json" in str(refused.value)


# --- the command ---------------------------------------------------------------------------------


@pytest.fixture
def files(tmp_path: Path):
    plan = tmp_path / "plan.json"
    plan.write_text(json.dumps(_plan(by_hour=[40 / 24] * 24)), encoding="utf-8")
    log = tmp_path / "log.csv"
    start = datetime(2024, 6, 3)
    rows = [f"{start + timedelta(seconds=s)},sound" for s in np.sort(_spread(980)).tolist()]
    log.write_text("\n".join(["time,kind", *rows]) + "\n", encoding="utf-8")
    return plan, log


def _run(*words):
    return CliRunner().invoke(main, ["followup", *map(str, words)])


def test_the_command_prints_lines_of_eighty_columns(files):
    plan, log = files
    run = _run(plan, log, "--from", "2024-06-03", "--to", "2024-06-10", "--kind", "sound")
    assert run.exit_code == 0, run.output
    assert max(map(len, run.output.splitlines())) <= 80
    assert "more firings than the plan allows for" in run.output
    assert "SET NOW     78." in run.output
    assert "carried over" in run.output


def test_the_command_s_json_has_the_fixed_keys(files, tmp_path):
    plan, log = files
    corrected = tmp_path / "corrected.json"
    run = _run(plan, log, "--json", "-", "--write-plan", corrected)
    assert run.exit_code == 0, run.output
    made = json.loads(run.output)
    fixed = (
        "expected_per_day observed_per_day observed_days low_per_day high_per_day p_value verdict "
        "shift_db shift_low_db shift_high_db warnings"
    )
    assert made.keys() >= set(fixed.split())
    assert made["verdict"] == "more"
    assert made["shift_low_db"] < made["shift_db"] < made["shift_high_db"]
    again = _run(corrected, log, "--setting", "75", "--json", "-")
    assert again.exit_code == 0, again.output
    assert json.loads(again.output)["setting_db"] == 75.0


def test_the_command_refuses_in_one_line(files, tmp_path):
    plan, log = files
    run = _run(plan, tmp_path / "none.csv")
    assert run.exit_code == 1
    assert "none.csv" in run.output
    assert _run(plan, log, log, "--setting", "75").exit_code == 2
    assert _run(plan, log, "--zone", "Nowhere").exit_code == 1
    outside = _run(plan, log, "--from", "2024-06-03", "--to", "2024-06-10", "--gap", "yesterday")
    assert outside.exit_code == 2


def test_the_same_log_gives_the_same_bytes(files):
    plan, log = files
    assert _run(plan, log, "--json", "-").output == _run(plan, log, "--json", "-").output


# --- the sample scenario -------------------------------------------------------------------------


def test_the_sample_s_log_is_what_its_script_makes(sample_audio: Path):
    script = runpy.run_path(str(sample_audio / "make_log.py"))
    with (sample_audio / "camera_log.csv").open(encoding="utf-8", newline="") as file:
        kept = list(csv.reader(file))
    assert kept[0] == ["time", "event", "length_s"]
    assert [tuple(row) for row in kept[1:]] == [tuple(map(str, row)) for row in script["rows"]()]


def test_the_mower_of_the_sample_s_log_is_found(sample_audio: Path):
    active = expectation_of(_plan(rate=60.0, sd=0.4, active=ACTIVE))
    reading = Reading(kinds=("sound",), begin=datetime(2024, 6, 5), end=datetime(2024, 6, 12))
    log = read_log(sample_audio / "camera_log.csv", reading)
    made = follow(active, [(log, 75.0)])
    assert made.last.exposure == pytest.approx(7.0)
    assert made.last.left_out == 0
    assert "10" in [row.name for row in made.last.by_hour if row.stands_out]
    assert {caution.code for caution in log.cautions} == {"unsorted", "duplicates"}
    # the script's own rate: 110 a day by traffic in the active hours, and the mower's 45
    assert made.last.count == pytest.approx(7 * 57, rel=0.1)
