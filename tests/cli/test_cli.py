"""What holds of every command: 80 columns, errors in one line, nothing left behind."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import run as _run


@pytest.mark.parametrize("command", ["measure", "trial", "plan"])
def test_text_fits_80_columns(street: Path, command: str, tmp_path: Path) -> None:
    more = ["--level", "-30"] if command == "trial" else []
    run = _run(command, street, *more)
    assert run.exit_code == 0
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    assert run.stderr == ""


@pytest.mark.parametrize(
    ("words", "match"),
    [
        (["measure", "nowhere.wav"], "nowhere.wav: no such file; check the name"),
        (
            ["measure", "."],
            ".: is a folder, and no site's, which holds site.toml and visits",
        ),
        (["plan", "{street}", "--site", "nowhere.toml"], "nowhere.toml: cannot be read"),
        (["measure", "{street}", "--channel", "3"], "has no channel 3; it has 1"),
        (["measure", "{street}", "--history", "/nowhere/h.csv"], "/nowhere/h.csv: cannot be"),
        (
            ["trial", "{street}", "--mode", "rise", "--change", "-3"],
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


def test_what_a_file_or_a_name_holds_moves_no_cursor(street: Path, tmp_path: Path) -> None:
    log = tmp_path / "nul.csv"
    log.write_bytes(b"1,2\0\0\x1b[31m\n3,4\n")
    refused = _run("trial", str(log), "--level", "-30")
    assert refused.exit_code == 1
    assert "its header has 1, 2���[31m: name one" in refused.stderr
    named = tmp_path / "o\x1b[31m\n.json"
    done = _run("measure", str(street), "--json", str(named))
    assert done.exit_code == 0
    assert named.exists()
    assert done.stderr.endswith("o�[31m�.json\n")
    long = tmp_path / "long.csv"
    long.write_bytes(bytes(3000) + b"\n")
    assert len(_run("trial", str(long), "--level", "-30").stderr) < 300 + len(str(long))
