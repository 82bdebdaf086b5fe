"""No command loses a file: inputs, sounds and others' reports stay, what is written is named."""

import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import run


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder with one of each file that a command reads."""
    wave = np.random.default_rng(1).normal(0, 0.05, 8000 * 12)
    sf.write(tmp_path / "a.wav", wave, 8000)
    (tmp_path / "site.toml").write_text("[site]\nname = 'gate'\n")
    (tmp_path / "marks.csv").write_text("start_s,end_s,sound\n1,2,glass\n")
    (tmp_path / "manifest.csv").write_text("path,start\na.wav,2026-03-02T10:00\n")
    (tmp_path / "log.csv").write_text("time\n2026-03-02T10:00:05\n2026-03-03T11:00:05\n")
    assert run("measure", tmp_path / "a.wav", "--history", tmp_path / "h.csv").exit_code == 0
    done = run("plan", tmp_path / "a.wav", "--json", tmp_path / "plan.json")
    assert done.exit_code == 0, done.output
    return tmp_path


def _state(folder: Path) -> dict[str, str]:
    return {
        str(one.relative_to(folder)): hashlib.sha256(one.read_bytes()).hexdigest()
        for one in folder.rglob("*")
        if one.is_file()
    }


OVER_AN_INPUT = [
    "measure a.wav --history a.wav",
    "measure a.wav --json a.wav",
    "measure a.wav --site site.toml --json site.toml",
    "measure h.csv --history h.csv",
    "measure h.csv --json h.csv --force",
    "trial a.wav --level -20 --marks marks.csv --json marks.csv --force",
    "plan a.wav --marks marks.csv --json marks.csv --force",
    "privacy a.wav --site site.toml --json site.toml --force",
    "calibrate a.wav --meter-laeq-db 60 --json a.wav",
    "calibrate a.wav --meter-laeq-db 60 --write a.wav",
    "followup plan.json log.csv --json plan.json --force",
    "followup plan.json log.csv --write-plan plan.json --force",
    "followup plan.json log.csv --write-plan log.csv --force",
]
OVER_A_SOUND = [
    "measure h.csv --json a.wav --force",
    "followup plan.json log.csv --write-plan a.wav --force",
    "sounds --json a.wav --force",
    "calibrate --sensitivity-dbfs -26 --write a.wav --force",
]
OVER_A_REPORT = [
    "measure a.wav --json plan.json",
    "measure a.wav --history log.csv",
    "trial a.wav --level -20 --json plan.json",
    "privacy a.wav --json plan.json",
    "calibrate --sensitivity-dbfs -26 --json plan.json",
    "sounds --json plan.json",
    "followup plan.json log.csv --json h.csv",
    "plan a.wav --json h.csv",
]


def _words(place: Path, line: str) -> list[str]:
    return [str(place / one) if "." in one and one[-1].isalpha() else one for one in line.split()]


UNDER_A_FALSE_NAME = [
    ("sounds --render glass g.mp3", "sounds are written as WAV; give a name that ends in .wav"),
    ("sounds --render glass g.flac", "give a name that ends in .wav"),
    ("sounds --render glass g", "give a name that ends in .wav"),
    ("sounds --json g.wav", "choose another ending"),
    ("measure a.wav --history g.flac", "choose another ending"),
]


@pytest.mark.parametrize(
    ("line", "said"),
    [(line, "is read by this command") for line in OVER_AN_INPUT]
    + [(line, "never replaced") for line in OVER_A_SOUND]
    + [("sounds --render glass a.wav --force", "never replaced")]
    + UNDER_A_FALSE_NAME
    + [(line, "was not made by this command") for line in OVER_A_REPORT],
)
def test_nothing_is_lost(place: Path, line: str, said: str) -> None:
    before = _state(place)
    words = ["breaking glass" if one == "glass" else one for one in _words(place, line)]
    done = run(*words)
    assert done.exit_code == 1, done.output
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert _state(place) == before


def test_a_command_replaces_its_own_reports_and_others_by_force(place: Path) -> None:
    out = place / "out"
    for more in ([], ["--start", "2026-03-02T10:00"]):
        done = run("plan", place / "a.wav", "--out", out, *more)
        assert done.exit_code == 0, done.output
    (out / "trial.txt").write_text("notes of somebody\n")
    before = _state(place)
    refused = run("trial", place / "a.wav", "--level", -20, "--out", out)
    assert refused.exit_code == 1
    assert "trial.txt: is there and was not made by this command" in refused.stderr
    assert _state(place) == before
    assert run("trial", place / "a.wav", "--level", -20, "--out", out, "--force").exit_code == 0
    assert (out / "trial.txt").read_text() != "notes of somebody\n"


@pytest.mark.parametrize(
    "line",
    [
        "measure a.wav --history h.csv --json m.json --out out",
        "trial a.wav --level -20 --out out --json t.json",
        "plan a.wav --out out --json plan.json",
        "privacy a.wav --out out",
        "calibrate --sensitivity-dbfs -26 --json c.json --write new.toml",
        "followup plan.json log.csv --json f.json --write-plan p2.json",
        "sounds --json s.json",
        "sounds --render hammer hammer.wav",
    ],
)
def test_the_last_line_names_what_was_written(place: Path, line: str) -> None:
    before = _state(place)
    words = [str(place / one) if one == "out" else one for one in _words(place, line)]
    words = ["metal bang" if one == "hammer" else one for one in words]
    done = run(*words)
    assert done.exit_code == 0, done.output
    after = _state(place)
    new = {str(place / name) for name in after.keys() - before.keys()}
    # a history has a reminder before it
    said = done.stderr.splitlines()[-1]
    named = said.removeprefix("audiolevel: wrote ").split(", ")
    assert new <= set(named)
    assert all(Path(one).is_file() for one in named)
    for name in after.keys() - before.keys():
        if not name.endswith(".wav"):
            (place / name).unlink()
    if "--render" in line:
        return
    again = run(*words, "--quiet")
    assert (again.exit_code, again.output) == (0, "")
    assert _state(place) == after


def test_json_names_its_command_and_two_outputs_are_two_files(place: Path) -> None:
    done = run("measure", place / "a.wav", "--json", "-", "--quiet")
    assert list(json.loads(done.stdout))[:2] == ["audiolevel", "command"]
    assert json.loads(done.stdout)["command"] == "measure"
    one = str(place / "one")
    twice = run("measure", place / "a.wav", "--json", one, "--history", one)
    assert twice.exit_code == 1
    assert "is named for two outputs" in twice.stderr
    assert not Path(one).exists()


def test_two_recordings_of_one_name_have_two_pictures(place: Path) -> None:
    (place / "b").mkdir()
    sf.write(place / "b" / "a.wav", np.random.default_rng(2).normal(0, 0.01, 80_000), 8000)
    assert run("measure", place / "a.wav", place / "b/a.wav", "--out", place / "o").exit_code == 0
    names = {one.name for one in (place / "o").glob("*.png")}
    assert names == {"levels_a.png", "levels_a_2.png"}
