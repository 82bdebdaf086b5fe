"""What commands read besides sound files: video, split recordings, standard input, parts of any."""

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import json_of, run
from tests.metering.made_video import write_video

RATE = 16_000


@pytest.fixture(scope="module")
def wave() -> np.ndarray:
    rng = np.random.default_rng(7)
    level = np.repeat(10 ** rng.uniform(-2.3, -1.2, 40), RATE)
    return np.asarray(level * rng.normal(0, 1, len(level)))


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory, wave: np.ndarray) -> Path:
    """The same sound as a WAV, as a camera's video and in three files of a recorder."""
    where = tmp_path_factory.mktemp("inputs")
    sf.write(where / "a.wav", wave, RATE)
    write_video(where / "cam_20260302_173005.mov", wave, RATE, "pcm_s16le")
    names = ("rec_20260302_100000.wav", "rec_20260302_100010.wav", "rec_20260302_101500.wav")
    for name, first, stop in zip(names, (0, 10, 20), (10, 20, 40), strict=True):
        sf.write(where / name, wave[first * RATE : stop * RATE], RATE)
    return where


def levels(told: dict) -> dict:
    (one,) = told["recordings"]
    return {key: one[key] for key in ("laeq_db", "lafmax_db", "percentiles_db", "duration_s")}


def piped(place: Path, *words: object, data: bytes | None = None) -> subprocess.CompletedProcess:
    given = (place / "a.wav").read_bytes() if data is None else data
    command = [sys.executable, "-m", "audiolevel", *map(str, words)]
    return subprocess.run(command, input=given, capture_output=True, check=False)


def test_a_video_is_a_recording_for_every_command(place: Path) -> None:
    video = place / "cam_20260302_173005.mov"
    told = json_of("measure", video)
    # the two writers round to 16 bits in different ways
    theirs = levels(json_of("measure", place / "a.wav"))
    assert levels(told)["laeq_db"] == pytest.approx(theirs["laeq_db"], abs=0.011)
    assert levels(told)["percentiles_db"] == pytest.approx(theirs["percentiles_db"], abs=0.011)
    assert told["recordings"][0]["start"] == "2026-03-02T17:30:05"
    assert "start found" in told["recordings"][0]["warnings"]
    given = json_of("measure", video, "--start", "2026-03-02T09:00")
    assert given["recordings"][0]["start"] == "2026-03-02T09:00:00"
    assert "start found" not in given["recordings"][0]["warnings"]
    for command in (["trial", "--level", "-30"], ["plan"], ["privacy"]):
        done = run(*command, video)
        assert done.exit_code == 0, done.output
    tone = run("calibrate", video, "--meter-laeq-db", 60)
    assert tone.exit_code == 0, tone.output


def test_a_batch_measures_video_and_names_what_needs_an_extra(
    place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "clips"
    folder.mkdir()
    (folder / "a.mov").write_bytes((place / "cam_20260302_173005.mov").read_bytes())
    # a worker of a fresh interpreter finds no PyAV where the first on its path is none
    (tmp_path / "hidden").mkdir()
    (tmp_path / "hidden" / "av.py").write_text("raise ImportError")
    monkeypatch.syspath_prepend(tmp_path / "hidden")
    words = ("batch", folder, "--out", tmp_path / "out", "--jobs", 1)
    without = run(*words)
    assert without.exit_code == 4
    assert "1 recording: 0 measured (0 now), 1 failed" in without.stdout
    (row,) = csv.DictReader((tmp_path / "out" / "failures.csv").read_text().splitlines())
    assert "a.mov: reading video needs the extra: pip install 'audiolevel[video]'" in row["reason"]
    monkeypatch.undo()
    done = run(*words)
    assert done.exit_code == 0, done.output
    record = json.loads((tmp_path / "out" / "results.jsonl").read_text())
    theirs = levels(json_of("measure", place / "a.wav"))
    assert record["laeq_db"] == pytest.approx(theirs["laeq_db"], abs=0.011)


def test_a_split_recording_is_one(place: Path) -> None:
    files = sorted(place.glob("rec_*.wav"), reverse=True)
    told = json_of("measure", "--sequence", *files)
    assert levels(told) == levels(json_of("measure", place / "a.wav"))
    (one,) = told["recordings"]
    assert one["start"] == "2026-03-02T10:00:00"
    assert "1 gap or jump of its time stamps" in one["warning_texts"]["time gaps"]
    for command in (["trial", "--level", "-30"], ["plan"], ["privacy"]):
        done = run(*command, "--sequence", *files, "--start", "2026-03-02T09:00")
        assert done.exit_code == 0, done.output
    trial = json_of("trial", "--level", "-30", "--sequence", *files)
    assert trial["trials"][0]["duration_s"] == 40.0


def test_standard_input_is_measured_as_it_comes(place: Path) -> None:
    done = piped(place, "measure", "-", "--json", "-")
    assert done.stderr == b""
    assert levels(json.loads(done.stdout)) == levels(json_of("measure", place / "a.wav"))
    # a recorder that does not know how long it will go on
    data = bytearray((place / "a.wav").read_bytes())
    at = data.index(b"data")
    data[4:8] = data[at + 4 : at + 8] = b"\xff\xff\xff\xff"
    endless = json.loads(piped(place, "measure", "-", "--json", "-", data=bytes(data)).stdout)
    assert levels(endless) == levels(json.loads(done.stdout))
    assert "truncated" not in endless["recordings"][0]["warnings"]
    part = json.loads(
        piped(place, "measure", "-", "--json", "-", "--from", "5", "--to", "15").stdout
    )
    alone = json_of("measure", place / "a.wav", "--from", "5", "--to", "15")
    assert levels(part) == levels(alone)
    # a wanted sound that clips is placed by its levels: the stream's samples are gone
    site = place / "wanted.toml"
    site.write_text(
        "[microphone]\nspl_at_full_scale_db = 90\n[[wanted]]\nsound = 'metal bang'\n"
        "distance_m = 2\n[gain]\nrecorded_at = 2\nsteps = [[1, 0], [2, 12], [3, 18]]\n"
    )
    for command in (
        *(["trial", "--level", "-30"], ["plan"], ["privacy"]),
        *(["plan", "--site", site], ["privacy", "--site", site]),
    ):
        done = piped(place, *command, "-")
        assert done.returncode == 0, done.stderr


def test_a_stream_that_breaks_off_or_is_none_is_told(place: Path) -> None:
    whole = (place / "a.wav").read_bytes()
    cut = json.loads(piped(place, "measure", "-", "--json", "-", data=whole[:200_000]).stdout)
    assert "truncated" in cut["recordings"][0]["warnings"]
    assert cut["recordings"][0]["duration_s"] == pytest.approx(200_000 / 2 / RATE, abs=0.01)
    # seventy million frames of two bytes are announced: long, and yet no length that is not known
    long = bytearray(whole)
    at = long.index(b"data")
    long[at + 4 : at + 8] = (140_000_000).to_bytes(4, "little")
    cut = json.loads(piped(place, "measure", "-", "--json", "-", data=bytes(long)).stdout)
    assert "truncated" in cut["recordings"][0]["warnings"]
    for data in (b"", b"none", whole[:30]):
        done = piped(place, "measure", "-", data=data)
        assert done.returncode == 1
        assert done.stderr.startswith(b"audiolevel: -: standard input is no WAV stream")
        assert done.stderr.count(b"\n") == 1


def test_every_command_takes_a_part(place: Path) -> None:
    cut = ("--from", "0:05", "--to", "25")
    privacy = json_of("privacy", place / "a.wav", *cut)
    assert privacy["speech_share"] is None or privacy["speech_share"] >= 0
    whole, part = (
        json_of("calibrate", place / "a.wav", "--meter-laeq-db", 60, *more) for more in ((), cut)
    )
    a, b = (
        json_of("measure", place / "a.wav", *more)["recordings"][0]["laeq_db"] for more in ((), cut)
    )
    step = part["spl_at_full_scale_db"] - whole["spl_at_full_scale_db"]
    assert step == pytest.approx(a - b, abs=0.02)


def test_a_name_that_is_no_text_is_escaped(place: Path, tmp_path: Path) -> None:
    odd = tmp_path / os.fsdecode(b"caf\xe9.wav")
    try:
        shutil.copy(place / "a.wav", odd)
    except OSError:
        pytest.skip("this file system has no such names")
    told = json_of("measure", odd)
    assert levels(told) == levels(json_of("measure", place / "a.wav"))
    assert told["recordings"][0]["path"] == f"{tmp_path}/caf\\xe9.wav"
    assert run("measure", odd).stdout.startswith("caf\\xe9.wav: 40 s")
    done = run("plan", odd, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert "caf\\xe9.wav" in (tmp_path / "out" / "plan.html").read_text(encoding="utf-8")
    odd.write_text("no sound")
    assert "/caf\\xe9.wav: is not a sound file" in run("measure", odd).stderr


# root may read everything, unless it gives up two of its rights
_OVERRIDES = "-dac_override,-dac_read_search"
_AS_ANYBODY = ["setpriv", f"--bounding-set={_OVERRIDES}", f"--inh-caps={_OVERRIDES}"]


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or shutil.which("setpriv") is None,
    reason="no permissions here, or no way to give up root's rights",
)
def test_what_lies_in_a_folder_that_may_not_be_entered_is_told_in_one_line(
    place: Path, tmp_path: Path
) -> None:
    shut = tmp_path / "shut"
    shut.mkdir()
    shutil.copy(place / "a.wav", shut)
    (shut / "a.csv").write_text("time_s,laf_db\n0,-40\n")
    shut.chmod(0o444)
    prefix = [] if os.geteuid() else _AS_ANYBODY
    for words, said in (
        (["measure", shut / "a.wav"], "a.wav: may not be read; check its folder's permissions"),
        (["measure", shut / "a.csv"], "a.csv: cannot be read (Permission denied); check its"),
        (["measure", place / "a.wav", "--json", shut / "m.json"], "m.json: cannot be written"),
    ):
        command = [*prefix, sys.executable, "-m", "audiolevel", *map(str, words)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == 1
        assert said in done.stderr
        assert done.stderr.count("\n") == 1
