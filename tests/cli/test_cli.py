"""What holds of every command: 80 columns, errors in one line, nothing left behind."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import run as _run


@pytest.mark.parametrize("command", ["measure", "trial", "plan"])
def test_text_fits_80_columns(street: Path, command: str, tmp_path: Path) -> None:
    more = ["--level-db", "-30"] if command == "trial" else []
    run = _run(command, street, *more)
    assert run.exit_code == 0
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    assert run.stderr == ""


@pytest.mark.parametrize(
    ("words", "match"),
    [
        (["measure", "nowhere.wav"], "nowhere.wav: no such file; check the name"),
        (["measure", "."], ".: is a folder; name a sound file, or use `audiolevel batch`"),
        (["plan", "{street}", "--site", "nowhere.toml"], "nowhere.toml: cannot be read"),
        (["measure", "{street}", "--channel", "3"], "has no channel 3; it has 1"),
        (["measure", "{street}", "--history", "/nowhere/h.csv"], "/nowhere/h.csv: cannot be"),
        (
            ["trial", "{street}", "--mode", "rise", "--change-db", "-3"],
            "must lie between 0.01 and 200",
        ),
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
