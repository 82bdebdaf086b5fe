"""The command `plan`."""

from pathlib import Path

import pytest

from tests.cli.commands import json_of as _json
from tests.cli.commands import run as _run

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


@pytest.mark.always
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
    assert names == ["plan.alt.txt", "plan.html", "plan.json", "plan.png", "plan.txt"]
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert "firings a day" in (tmp_path / "a" / "plan.alt.txt").read_text()


def test_a_count_never_stands_without_its_interval(street: Path) -> None:
    text = " ".join(_run("plan", street).stdout.split())
    assert "95 % sure: " in text or "fewer than" in text


def test_an_asked_setting_is_told_and_its_options_go_with_it(street: Path) -> None:
    told = _json("plan", street, "--mode", "rise", "--change", 12)
    assert (told["asked"]["mode"], told["asked"]["change_db"]) == ("rise", 12.0)
    trial = _json("trial", street, "--mode", "rise", "--change", 12)["trials"][0]
    assert told["asked"]["expected"] == trial["expected"]
    for words in (["--mode", "rise"], ["--gain", "mid"]):
        run = _run("plan", street, *words)
        assert run.exit_code == 2
        assert "--gain and --mode go with --level, --shown or --change" in run.stderr


def test_the_decision_is_printed_and_all_of_it_on_demand(street: Path, tmp_path: Path) -> None:
    brief, full = _run("plan", street), _run("plan", street, "--full")
    assert len(brief.stdout.splitlines()) <= 20 < len(full.stdout.splitlines())
    assert "more        --full: " in brief.stdout
    assert brief.stderr == ""
    saved = _run("plan", street, "--out", tmp_path)
    assert "more        --full or plan.html: " in saved.stdout
    assert saved.stdout.split("more  ")[0] == brief.stdout.split("more  ")[0]
    # what is printed in full is what stands in the file, but for its mark
    assert (tmp_path / "plan.txt").read_text(encoding="utf-8").startswith(full.stdout)
