"""The commands as a person runs them."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner, Result

from audiolevel.cli import main
from tests.triggers.test_trigger import slow_firings

MEASURE_KEYS = [
    "path",
    "duration_s",
    "sample_rate_hz",
    "channels",
    "reference",
    "laeq_db",
    "lceq_db",
    "lzeq_db",
    "lafmax_db",
    "lasmax_db",
    "lafmin_db",
    "lae_db",
    "lcpeak_db",
    "percentiles_db",
    "clipping",
    "onset_count",
    "onsets",
    "warnings",
]
OPTION_KEYS = [
    "gain_db",
    "gain_setting",
    "mode",
    "hold_s",
    "rearm_s",
    "release_db",
    "display_level",
    "expected",
    "level_for_limit",
    "detection",
    "storage",
]
EXPECTED_KEYS = [
    "per_hour",
    "per_day",
    "rate_low_per_day",
    "rate_high_per_day",
    "low_per_day",
    "high_per_day",
    "confidence",
    "method",
    "by_hour",
]


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def _json(*words: object) -> dict:
    run = _run(*words, "--json", "-")
    assert run.exit_code == 0, run.output
    return json.loads(run.stdout)


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> Path:
    rng = np.random.default_rng(15)
    level = np.repeat(10 ** rng.uniform(-3, -1, 90), 16000)
    path = tmp_path_factory.mktemp("cli") / "street.wav"
    sf.write(path, np.clip(level * rng.normal(0, 1, len(level)), -1, 1), 16000)
    return path


def test_measure_has_the_promised_keys(street: Path) -> None:
    result = _json("measure", street, street)
    assert result["audiolevel"]
    one = result["recordings"][1]
    for key in MEASURE_KEYS:
        assert key in one, key
    assert set(one["percentiles_db"]) == {"L1", "L5", "L10", "L50", "L90", "L95", "L99"}
    assert set(one["clipping"]) == {"clipped_share", "longest_run_s", "verdict"}
    assert one["reference"] == "dB FS"
    assert all(onset["level_difference_db"] >= 3 for onset in one["onsets"])
    assert one["onset_count"] >= len(one["onsets"]) > 0
    assert {"short", "uncalibrated"} <= set(one["warnings"])


def test_a_site_file_turns_levels_into_sound_pressure(street: Path, tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    site.write_text("[microphone]\nspl_at_full_scale_db = 118")
    plain = _json("measure", street)["recordings"][0]
    shown = _json("measure", street, "--site", site)["recordings"][0]
    assert shown["reference"] == "dB SPL"
    assert shown["laeq_db"] == pytest.approx(plain["laeq_db"] + 118, abs=0.011)
    assert "uncalibrated" not in shown["warnings"]


@pytest.mark.parametrize("mode", ["threshold", "rise", "fall", "change"])
def test_trial_counts_are_an_independent_recount_of_the_history(
    recordings: Path, tmp_path: Path, mode: str
) -> None:
    """Fifty random settings a mode on the street, recounted row by row from the CSV."""
    from audiolevel.triggers.trigger import Trigger

    history = tmp_path / "h.csv"
    assert _run("measure", recordings / "street_long.wav", "--history", history).exit_code == 0
    with history.open(newline="") as file:
        laf = np.array([float(row["laf_db"]) for row in csv.DictReader(file)])
    rng = np.random.default_rng(16)
    seen = 0
    for _ in range(50):
        at = rng.uniform(-44, -24) if mode == "threshold" else rng.uniform(2, 15)
        window, hold = rng.choice([0.2, 0.5, 1.0, 3.0]), rng.choice([0.0, 0.1])
        rearm, release = rng.choice([0.5, 2.0, 10.0]), rng.choice([0.0, 2.0, 4.0])
        result = _json(
            "trial",
            recordings / "street_long.wav",
            *("--mode", mode, "--level-db" if mode == "threshold" else "--change-db", at),
            *("--window-s", window, "--hold-s", hold, "--rearm-s", rearm),
            *("--release-db", release),
        )
        trial = result["trials"][0]
        expected = slow_firings(
            laf, Trigger(mode, at, float(window), float(hold), float(rearm), float(release))
        )
        assert trial["count"] == len(expected)
        assert [fired["time_s"] for fired in trial["triggers"]] == pytest.approx(
            [(row + 1) / 100 for row in expected]
        )
        seen += len(expected)
    assert seen > 100


def test_trial_of_several_gains_and_a_warning_where_one_clips(street: Path) -> None:
    result = _json("trial", street, "--level-db", -30, "--gain-db", 0, "--gain-db", 30)
    assert [trial["gain_db"] for trial in result["trials"]] == [0.0, 30.0]
    assert result["trials"][1]["clipped_share"] > 0.01
    assert "clipped" in {warning["code"] for warning in result["warnings"]}
    assert result["trials"][0]["expected"]["rate_high_per_day"] > 0


def test_plan_has_the_promised_keys_and_takes_a_history(street: Path, tmp_path: Path) -> None:
    history = tmp_path / "h.csv"
    assert _run("measure", street, "--history", history).exit_code == 0
    for source in (street, history):
        result = _json("plan", source)
        assert {"recommended", "options", "gains", "reliable", "warnings"} <= set(result)
        option = result["recommended"]
        for key in OPTION_KEYS:
            assert key in option, key
        for key in EXPECTED_KEYS:
            assert key in option["expected"], key
        assert option["level_db"] is not None
        for gain in result["gains"]:
            assert {
                "gain_db",
                "gain_setting",
                "clipped_share",
                "headroom_db",
                "footroom_db",
                "usable",
            } <= set(gain)
    by_sound, by_history = _json("plan", street), _json("plan", history)
    assert by_sound["recommended"]["level_db"] == by_history["recommended"]["level_db"]


def test_plan_writes_its_folder_and_the_same_bytes_twice(street: Path, tmp_path: Path) -> None:
    for name in ("a", "b"):
        run = _run("plan", street, "--out", tmp_path / name)
        assert run.exit_code == 0, run.output
    names = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert names == ["plan.alt.txt", "plan.json", "plan.png", "plan.txt"]
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert "firings a day" in (tmp_path / "a" / "plan.alt.txt").read_text()


@pytest.mark.parametrize("command", ["measure", "trial", "plan"])
def test_text_fits_80_columns(street: Path, command: str, tmp_path: Path) -> None:
    more = ["--level-db", "-30"] if command == "trial" else []
    run = _run(command, street, *more)
    assert run.exit_code == 0
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    assert run.stderr == ""


def test_a_count_never_stands_without_its_interval(street: Path) -> None:
    text = " ".join(_run("plan", street).stdout.split())
    assert "95 % sure: the rate" in text or "fewer than" in text


@pytest.mark.parametrize(
    ("words", "match"),
    [
        (["measure", "nowhere.wav"], "nowhere.wav: no such file; check the name"),
        (["measure", "."], ".: is a folder; name a sound file, or use `audiolevel batch`"),
        (["plan", "{street}", "--site", "nowhere.toml"], "nowhere.toml: cannot be read"),
        (["measure", "{street}", "--channel", "3"], "has no channel 3; it has 1"),
        (["measure", "{street}", "--history", "/nowhere/h.csv"], "/nowhere/h.csv: cannot be"),
        (["trial", "{street}", "--mode", "rise", "--change-db", "-3"], "must be above 0 dB"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    street: Path, words: list[str], match: str
) -> None:
    run = _run(*(word.format(street=street) for word in words))
    assert run.exit_code == 1
    assert run.stdout == ""
    assert run.stderr.startswith("audiolevel: ")
    assert run.stderr.count("\n") == 1
    assert match in run.stderr


@pytest.mark.parametrize(
    "words",
    [
        ["measure"],
        ["measure", "a.wav", "b.wav", "--history", "h.csv"],
        ["trial", "a.wav", "--mode", "rise"],
        ["plan", "a.wav", "--start", "yesterday"],
        ["plan", "a.wav", "b.wav", "--start", "2026-03-02T10:00"],
        ["plan", "a.wav", "--channel", "left"],
        ["calibrate"],
        ["calibrate", "--tone-db", "94"],
    ],
)
def test_wrong_usage_is_status_2(words: list[str]) -> None:
    assert _run(*words).exit_code == 2


def test_bad_files_leave_nothing_behind(tmp_path: Path) -> None:
    bad = tmp_path / "bad.wav"
    sf.write(bad, np.array([0.1] * 50_000 + [np.nan]), 16000, subtype="FLOAT")
    for words in (
        ["measure", bad, "--history", tmp_path / "h.csv", "--json", tmp_path / "m.json"],
        ["plan", bad, "--out", tmp_path / "out", "--json", tmp_path / "p.json"],
    ):
        assert _run(*words).exit_code == 1
    assert [path.name for path in tmp_path.iterdir()] == ["bad.wav"]


def test_channels_are_told_and_a_dead_or_inverted_one_is_named(tmp_path: Path) -> None:
    wave = np.random.default_rng(17).normal(0, 0.1, 5 * 16000)
    sf.write(tmp_path / "dead.wav", np.column_stack([wave, 0 * wave]), 16000)
    sf.write(tmp_path / "mirror.wav", np.column_stack([wave, -wave]), 16000)
    sf.write(tmp_path / "good.wav", np.column_stack([wave, 0.7 * wave]), 16000)
    dead, mirror, good = (
        _json("measure", tmp_path / f"{name}.wav")["recordings"][0]
        for name in ("dead", "mirror", "good")
    )
    assert dead["channel_faults"] == [{"channel": 2, "fault": "dead"}]
    assert "channel dead" in dead["warnings"]
    assert mirror["channel_faults"] == [{"channel": 2, "fault": "inverted"}]
    assert good["channel_faults"] == []
    levels = [channel["laeq_db"] for channel in good["channel_levels"]]
    assert levels[0] - levels[1] == pytest.approx(20 * np.log10(1 / 0.7), abs=0.02)
