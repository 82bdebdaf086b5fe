"""The command `trial`."""

import csv
from pathlib import Path

import numpy as np
import pytest

from tests.cli.commands import json_of as _json
from tests.cli.commands import run as _run
from tests.triggers.test_trigger import slow_firings


@pytest.mark.parametrize("settings", [12, pytest.param(50, marks=pytest.mark.slow)])
@pytest.mark.parametrize("mode", ["threshold", "rise", "fall", "change"])
def test_trial_counts_are_an_independent_recount_of_the_history(
    recordings: Path, tmp_path: Path, mode: str, settings: int
) -> None:
    """Random settings of a mode on the street, recounted row by row from the CSV."""
    from audiolevel.triggers.trigger import Trigger

    history = tmp_path / "h.csv"
    assert _run("measure", recordings / "street_long.wav", "--history", history).exit_code == 0
    with history.open(newline="") as file:
        laf = np.array([float(row["laf_db"]) for row in csv.DictReader(file)])
    rng = np.random.default_rng(16)
    seen = 0
    for _ in range(settings):
        at = rng.uniform(-44, -24) if mode == "threshold" else rng.uniform(2, 15)
        window, hold = rng.choice([0.2, 0.5, 1.0, 3.0]), rng.choice([0.0, 0.1])
        rearm, release = rng.choice([0.5, 2.0, 10.0]), rng.choice([0.0, 2.0, 4.0])
        result = _json(
            "trial",
            recordings / "street_long.wav",
            *("--mode", mode, "--level" if mode == "threshold" else "--change", at),
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
    assert seen > 2 * settings


def test_trial_of_several_gains_and_a_warning_where_one_clips(street: Path) -> None:
    result = _json("trial", street, "--level", -30, "--gain-db", 0, "--gain-db", 30)
    assert [trial["gain_db"] for trial in result["trials"]] == [0.0, 30.0]
    assert result["trials"][1]["clipped_share"] > 0.01
    assert "clipped" in {warning["code"] for warning in result["warnings"]}
    assert result["trials"][0]["expected"]["rate_high_per_day"] > 0


def test_a_mode_needs_its_own_setting(street: Path) -> None:
    for words, needed in (
        (["--change", 10], "--mode threshold needs --level, or --plan"),
        (["--mode", "rise", "--level", -30], "--mode rise needs --change, or --plan"),
        (
            ["--mode", "rise", "--change", 12, "--level", -30],
            "--level says nothing to --mode rise; leave it out",
        ),
        (
            ["--level", -30, "--change", 12],
            "--change says nothing to --mode threshold; leave it out",
        ),
    ):
        run = _run("trial", street, *words)
        assert run.exit_code == 2
        assert needed in run.stderr


@pytest.mark.always
def test_the_camera_s_own_setting_is_the_gain_of_the_site_file(
    street: Path, tmp_path: Path
) -> None:
    site = tmp_path / "site.toml"
    site.write_text('[gain]\nrecorded_at = "mid"\nsteps = [["low", 4], ["mid", 10]]')
    by_name = _json("trial", street, "--site", site, "--gain", "low", "--level", -40)
    by_db = _json("trial", street, "--site", site, "--gain-db", -6, "--level", -40)
    assert by_name == by_db
    assert by_name["trials"][0]["gain_db"] == -6.0


def test_times_of_the_site_file_hold_unless_an_option_says_otherwise(
    street: Path, tmp_path: Path
) -> None:
    site = tmp_path / "site.toml"
    site.write_text("[trigger]\nrearm_s = 5\nhold_s = 0.2")
    result = _json("trial", street, "--site", site, "--level", -40, "--hold-s", 0)
    assert (result["trials"][0]["rearm_s"], result["trials"][0]["hold_s"]) == (5.0, 0.0)
