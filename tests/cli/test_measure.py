"""The command `measure`."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import json_of as _json
from tests.cli.commands import run as _run

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


def test_a_coarse_history_has_a_row_a_second(street: Path, tmp_path: Path) -> None:
    fine, coarse = tmp_path / "fine.csv", tmp_path / "coarse.csv"
    assert _run("measure", street, "--history", fine).exit_code == 0
    assert _run("measure", street, "--history", coarse, "--coarse").exit_code == 0
    rows = [
        [line for line in path.read_text().splitlines() if line[0].isdigit()]
        for path in (fine, coarse)
    ]
    assert (len(rows[0]), len(rows[1])) == (9000, 90)
    run = _run("measure", street, "--coarse")
    assert run.exit_code == 2
    assert "--coarse goes with --history" in run.stderr


def test_a_history_reminds_in_one_line_of_what_it_still_shows(
    sample_audio: Path, tmp_path: Path
) -> None:
    words = ["measure", str(sample_audio / "bridge_approach_high_gain.flac")]
    words += ["--history", str(tmp_path / "h.csv")]
    run = _run(*words)
    reminders = [line for line in run.stderr.splitlines() if "for publication" in line]
    assert len(reminders) == 1
    assert "--coarse" in reminders[0]
    assert "for publication" not in _run(*words, "--quiet").stderr
    assert "for publication" not in _run(*words, "--coarse", "--force").stderr
