"""Logs of sound level meters and parts of recordings, as a person gives them to the commands."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner, Result

from audiolevel.cli import main


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def _json(*words: object) -> dict:
    run = _run(*words, "--json", "-")
    assert run.exit_code == 0, run.output
    return json.loads(run.stdout)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A meter's log of a quarter of an hour, 1 s, dB SPL, and a site file; a sound of 90 s."""
    where = tmp_path_factory.mktemp("logs")
    rng = np.random.default_rng(31)
    level = 55 + 2 * rng.standard_normal(900)
    level[60::90] = 78.4
    lines = [
        f"2026-03-02 07:{k // 60:02d}:{k % 60:02d};{one:.1f};-".replace(".", ",")
        for k, one in enumerate(level.tolist())
    ]
    (where / "meter.csv").write_text("\n".join(["Date;LAFmax;Remark", *lines]) + "\n")
    (where / "site.toml").write_text(
        "[microphone]\nspl_at_full_scale_db = 110\n[trigger]\nmodes = ['threshold', 'rise']\n"
    )
    wave = rng.standard_normal(90 * 8000) * np.repeat(10 ** rng.uniform(-3, -1.2, 90), 8000)
    sf.write(where / "street.wav", wave, 8000)
    return where


COLUMNS = ("--level-column", "LAFmax", "--time-column", "Date")


def test_measure_says_what_a_log_does_not_tell(folder: Path) -> None:
    command = ("measure", folder / "meter.csv", "--site", folder / "site.toml", *COLUMNS)
    (one,) = _json(*command)["recordings"]
    assert (one["row_s"], one["duration_s"], one["start"]) == (1.0, 900.0, "2026-03-02T07:00:00")
    assert one["lafmax_db"] == 78.4
    for key in ("onset_count", "onsets", "rises_within_1_s_per_hour", "lcpeak_db", "lceq_db"):
        assert one[key] is None
    assert one["clipping"] == {"clipped_share": None, "longest_run_s": None, "verdict": None}
    assert {"coarse history", "no peaks"} <= set(one["warnings"])
    said = " ".join(_run(*command).output.split())
    assert "not computed: rows of 1 s; the method needs 10 to 25 ms" in said
    assert "NT ACOU 112" in said


def test_trial_and_plan_work_on_a_log(folder: Path) -> None:
    log = (folder / "meter.csv", "--site", folder / "site.toml", *COLUMNS)
    trial = _json("trial", *log, "--level", 78.4)["trials"][0]
    assert [one["time_s"] for one in trial["triggers"]] == list(range(61, 900, 90))
    plan = _json("plan", *log)
    assert {option["mode"] for option in plan["options"]} == {"threshold"}
    codes = [one["code"] for one in plan["warnings"]]
    assert "modes not told" in codes


def test_from_and_to_give_what_cutting_gives(folder: Path, tmp_path: Path) -> None:
    samples, rate = sf.read(folder / "street.wav", dtype="int16")
    sf.write(tmp_path / "street.wav", samples[30 * rate : 75 * rate], rate)
    for command in (
        ("measure",),
        ("trial", "--level", "-30"),
        ("plan",),
    ):
        cut = _json(*command, tmp_path / "street.wav")
        part = _json(*command, folder / "street.wav", "--from", "0:30", "--to", "0:01:15")
        for one in (*cut.get("recordings", ()), *part.get("recordings", ())):
            one.pop("path")
        for one in (*cut.get("trials", ()), *part.get("trials", ())):
            one.pop("path")
        assert cut == part


def test_a_part_written_as_a_history_is_a_history_of_its_own(folder: Path, tmp_path: Path) -> None:
    history = tmp_path / "part.csv"
    run = _run("measure", folder / "street.wav", "--from", "10", "--to", "20", "--history", history)
    assert run.exit_code == 0
    assert len(history.read_text().splitlines()) == 1 + 1000
    (one,) = _json("measure", history, "--from", "5")["recordings"]
    assert one["duration_s"] == 5.0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["measure", "{log}"], "no column time_s; its header has Date, LAFmax, Remark"),
        (["measure", "{log}", *COLUMNS], "sound pressure, not dB FS"),
        (["measure", "{log}", "--level-column", "Remark", "--time-column", "Date"], "line 2"),
        (
            ["trial", "{log}", *COLUMNS, "--site", "{site}", "--mode", "fall", "--change", "9"],
            "mode fall: a window of 1 s holds fewer than 4 rows of 1 s",
        ),
        (
            ["trial", "{log}", *COLUMNS, "--site", "{site}", "--level", "70", "--gain-db", "6"],
            "whether it would clip at +6 dB is not known",
        ),
        (["plan", "{log}", "{wav}", *COLUMNS, "--site", "{site}"], "of one interval"),
        (
            ["plan", "{log}", *COLUMNS, "--site", "{site}", "--mode", "rise", "--change", "9"],
            "fewer than 4 rows",
        ),
        (["measure", "{log}", *COLUMNS, "--site", "{site}", "--history", "{new}"], "rows of 1 s"),
        (
            ["measure", "{wav}", "--from", "2:00"],
            "the part from 120 s on lies beyond its end at 90.0 s",
        ),
        (["measure", "{log}", *COLUMNS, "--site", "{site}", "--from", "1:00:00"], "no row from"),
        (["measure", "{wav}", "--from", "20", "--to", "10"], "must lie after --from 20 s"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(
    folder: Path, tmp_path: Path, words: list[str], said: str
) -> None:
    places = {
        "{log}": folder / "meter.csv",
        "{wav}": folder / "street.wav",
        "{site}": folder / "site.toml",
        "{new}": tmp_path / "new.csv",
    }
    run = _run(*(places.get(word, word) for word in words))
    assert run.exit_code == 1, run.output
    assert said in run.output
    assert len(run.output.strip().splitlines()) == 1
    assert not (tmp_path / "new.csv").exists()


@pytest.mark.parametrize("value", ["soon", "1:75", "-3", "1:2:3:4", "1:-2", "nan", "inf"])
def test_a_place_that_is_none_is_wrong_usage(folder: Path, value: str) -> None:
    run = _run("measure", folder / "street.wav", f"--from={value}")
    assert run.exit_code == 2
    assert "Traceback" not in run.output


def test_a_part_for_each_recording_or_one_for_all(folder: Path) -> None:
    wav = folder / "street.wav"
    one_for_all = _json("measure", wav, wav, "--to", "20")["recordings"]
    assert [one["duration_s"] for one in one_for_all] == [20, 20]
    each = _json("measure", wav, wav, "--to", "20", "--to", "30.5")["recordings"]
    assert [one["duration_s"] for one in each] == [20, 30.5]
    assert _run("measure", wav, wav, wav, "--to", "1", "--to", "2").exit_code == 2
