"""Ranges say what they accept, and accept what they say; errors name the file and the key."""

from pathlib import Path
from typing import Any

import click
import pytest
import soundfile as sf

from audiolevel.cli import main
from tests.batch.made_folder import RATE, wave_of
from tests.cli.commands import run

RANGES = [
    (command.name, one)
    for command in main.commands.values()
    for one in command.params
    if isinstance(one.type, click.FloatRange | click.IntRange)
]


def test_there_are_ranges() -> None:
    assert {one.name for _, one in RANGES} >= {"confidence", "jobs", "seed", "distance_m"}


@pytest.mark.parametrize(("command", "option"), RANGES, ids=lambda one: getattr(one, "name", one))
def test_help_prints_the_range_that_is_accepted(command: str, option: click.Parameter) -> None:
    kind = option.type
    assert isinstance(kind, click.FloatRange | click.IntRange)
    told = " ".join(run(command, "--help").stdout.split())
    assert kind._describe_range() in told
    convert: Any = kind.convert
    step = 1 if isinstance(kind, click.IntRange) else 1e-6
    for end, opened, outside in ((kind.min, kind.min_open, -step), (kind.max, kind.max_open, step)):
        if end is None:
            continue
        for value, good in ((end, not opened), (end + outside, False), (end - outside, True)):
            if good:
                assert convert(value, option, None) == value
            else:
                with pytest.raises(click.BadParameter):
                    convert(value, option, None)


@pytest.mark.parametrize(("command", "option"), RANGES, ids=lambda one: getattr(one, "name", one))
def test_what_is_no_number_lies_in_no_range(command: str, option: click.Parameter) -> None:
    with pytest.raises(click.BadParameter):
        option.type.convert("nan", option, None)


@pytest.mark.parametrize("gain_db", ["nan", "inf", "800", "-100000"])
def test_a_gain_that_no_camera_has_is_refused(place: Path, gain_db: str) -> None:
    done = run("trial", place / "a.wav", "--level", -25, "--gain-db", gain_db)
    assert done.exit_code == 1
    assert done.stderr.endswith("must lie between -120 and 120 dB\n")
    assert done.stderr.count("\n") == 1


def test_both_ends_of_the_gain_are_tried(place: Path) -> None:
    # of a step, which no gain moves
    words = ("trial", place / "a.wav", "--mode", "rise", "--change", 6)
    assert run(*words, "--gain-db", -120, "--gain-db", 120).exit_code == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--level", "1e308"), "level 1e+308 dB FS: lies above full scale"),
        (("--mode", "rise", "--change", "inf"), "db = "),
    ],
)
def test_a_setting_asked_for_is_refused_before_it_is_worked_out(
    place: Path, words: tuple[str, ...], said: str
) -> None:
    done = run("plan", place / "a.wav", *words)
    assert done.exit_code == 1
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize("moment", ["0:05=nan", "nan=3", "inf=3"])
def test_a_moment_or_a_number_shown_that_is_none_is_refused(place: Path, moment: str) -> None:
    done = run("calibrate", "--record", place / "a.wav", "--at", moment, "--at", "0:02=3")
    assert done.exit_code == 2
    assert "is not like 1:05=63" in done.stderr


@pytest.fixture
def place(tmp_path: Path) -> Path:
    sf.write(tmp_path / "a.wav", wave_of(8, 1), RATE)
    return tmp_path


def test_both_ends_of_the_confidence_do_as_they_say(place: Path) -> None:
    words = ("trial", place / "a.wav", "--level", -30, "--confidence")
    assert run(*words, 0.5).exit_code == 2
    assert "0.5 must be above 0.5 and at most 0.999" in run(*words, 0.5).stderr
    for good in (0.501, 0.999):
        assert run(*words, good).exit_code == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[wanted]]\nsound = 'gunshot'\n", "wanted.sound: no wanted sound is called 'gunshot'"),
        ("[schedule]\nzone = 'Londn'\n", "schedule.zone: no time zone 'Londn'"),
        ("[schedule]\nactive = ['mon 25:00-07:00']\n", "schedule.active: "),
        ("[display]\nreadings = [[58, -42]]\n", "display.readings: "),
        ("[storage]\ncard_gb = 64\naudio_codec = 'aacc'\n", "storage.audio_codec: no codec 'aacc'"),
    ],
)
def test_errors_name_the_site_file_and_the_key_whatever_else_is_missing(
    place: Path, text: str, said: str
) -> None:
    """Nothing here is calibrated: unknown names are refused all the same."""
    (place / "gate.toml").write_text(text)
    done = run("plan", place / "a.wav", "--site", place / "gate.toml")
    assert done.exit_code == 1
    assert done.stderr.startswith(f"audiolevel: {place / 'gate.toml'}: {said}")
    assert done.stderr.count("\n") == 1


def test_two_cautions_of_one_code_are_both_told(place: Path) -> None:
    (place / "b").mkdir()
    for name in ("a.wav", "b/c.wav"):
        data = (place / "a.wav").read_bytes()
        (place / name).write_bytes(data[:60_000])
    done = run("trial", place / "a.wav", place / "b/c.wav", "--level", -30)
    assert done.exit_code == 0
    told = " ".join(done.stdout.split())
    assert "truncated: a.wav: the file breaks off" in told
    assert "truncated: c.wav: the file breaks off" in told
