"""The command `batch`: the same results however it is run, interrupted or resumed."""

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

from audiolevel.api import folders
from audiolevel.batch import runner
from audiolevel.metering.measurement import measure
from audiolevel.report.batch import record as batch_json
from tests.batch import killed_run
from tests.batch.killed_run import run_killed
from tests.batch.made_folder import RATE, bytes_in, keep_out, make_folder, run_command, wave_of
from tests.batch.poison import record_or_death


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("undisturbed")
    run = run_command(folder, "--out", out, "--jobs", 1)
    assert run.exit_code == 4  # one bad file
    assert "12 recordings: 11 measured (11 now), 1 failed" in run.stdout
    assert "bad.wav: is not a sound file" in run.stdout
    return bytes_in(out)


@pytest.mark.always
def test_results_are_what_measure_says(folder: Path, undisturbed: dict[str, bytes]) -> None:
    records = [json.loads(line) for line in undisturbed["results.jsonl"].decode().splitlines()]
    assert len(records) == 11
    assert [record["path"] for record in records] == sorted(record["path"] for record in records)
    own = next(record for record in records if record["path"] == "r3.wav")
    assert own["laeq_db"] == round(measure(folder / "r3.wav").levels.laeq_db, 2)
    wall = next(record for record in records if record["path"] == "wall/w3.flac")
    level = measure(folder / "wall" / "w3.flac").levels.laeq_db
    assert wall["laeq_db"] == pytest.approx(level + 118, abs=0.006)
    assert (wall["reference"], own["reference"]) == ("dB SPL", "dB FS")
    assert undisturbed["failures.csv"].startswith(b"path,reason\nbad.wav,")


def test_the_same_bytes_for_any_number_of_workers(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes]
) -> None:
    assert run_command(folder, "--out", tmp_path, "--jobs", 2).exit_code == 4
    assert bytes_in(tmp_path) == undisturbed


def test_a_second_run_does_only_what_is_new_or_changed(folder: Path, tmp_path: Path) -> None:
    copy, out = tmp_path / "copy", tmp_path / "out"
    copy.mkdir()
    for i in range(4):
        sf.write(copy / f"r{i}.wav", wave_of(3, i), RATE)
    assert "4 measured (4 now)" in run_command(copy, "--out", out, "--jobs", 1).stdout
    assert "4 measured (0 now)" in run_command(copy, "--out", out, "--jobs", 1).stdout
    sf.write(copy / "r1.wav", wave_of(4, 77), RATE)
    assert "4 measured (1 now)" in run_command(copy, "--out", out, "--jobs", 1).stdout
    (copy / "site.toml").write_text("[microphone]\nspl_at_full_scale_db = 100")
    runner._site_text.cache_clear()  # a new process would not know the old text
    batch_json._site.cache_clear()
    assert "4 measured (4 now)" in run_command(copy, "--out", out, "--jobs", 1).stdout


def test_what_moved_is_one_line_and_status_3(folder: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    for i in range(3):
        sf.write(copy / f"r{i}.wav", wave_of(3, i), RATE)
    assert run_command(copy, "--out", tmp_path / "old", "--jobs", 1).exit_code == 0
    same = run_command(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert same.exit_code == 0
    assert "nothing moved by more than 0.1 dB" in same.stdout
    changes = tmp_path / "new" / "changes.csv"
    assert changes.read_text() == "path,change,before,now,difference\n"
    sf.write(copy / "r1.wav", 2 * wave_of(3, 1), RATE)  # 6.02 dB
    sf.write(copy / "new.wav", wave_of(3, 5), RATE)
    run = run_command(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert run.exit_code == 3
    assert "  - r1.wav: all levels +6.0 dB\n" in run.stdout
    assert "  - new.wav: was not there, is measured\n" in run.stdout
    assert "r0.wav" not in run.stdout
    rows = list(csv.DictReader(changes.read_text().splitlines()))
    assert [(row["path"], row["change"]) for row in rows] == [
        ("new.wav", "recording"),
        ("r1.wav", "all levels"),
    ]
    assert float(rows[1]["difference"]) == pytest.approx(6.02, abs=0.011)
    (copy / "new.wav").unlink()
    wide = run_command(
        *(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old"),
        *("--tolerance-db", 7),
    )
    assert wide.exit_code == 0
    # a failure is worse than a difference
    (copy / "bad.wav").write_text("no sound")
    bad = run_command(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert bad.exit_code == 4
    # one that is known, from the earlier results or by the manifest, is none
    last = tmp_path / "last"
    known = run_command(copy, "--out", last, "--jobs", 1, "--compare", tmp_path / "new")
    assert known.exit_code == 0
    manifest = tmp_path / "known.csv"
    manifest.write_text("path,expect\nbad.wav,fails\n")
    run = run_command(copy, "--out", last, "--jobs", 1, "--manifest", manifest)
    assert run.exit_code == 0
    assert "1 failed" in run.stdout
    manifest.write_text("path,expect\nbad.wav,perhaps\n")
    run = run_command(copy, "--out", last, "--jobs", 1, "--manifest", manifest)
    assert run.exit_code == 1
    assert "expect 'perhaps' is not fails" in run.stderr


def test_a_setting_that_the_site_does_not_have_is_refused(folder: Path, tmp_path: Path) -> None:
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,gain_setting\nwall/w0.flac,3\n")
    run = run_command(folder, "--out", tmp_path / "out", "--manifest", manifest)
    assert run.exit_code == 1
    assert "wall/w0.flac: gain setting 3" in run.stderr


def test_silence_is_an_empty_cell(tmp_path: Path) -> None:
    sf.write(tmp_path / "off.wav", np.zeros(3 * RATE), RATE)
    assert run_command(tmp_path, "--out", tmp_path / "out", "--jobs", 1).exit_code == 0
    (row,) = csv.DictReader((tmp_path / "out" / "results.csv").read_text().splitlines())
    assert {row[name] for name in ("laeq_db", "l90_db", "sample_peak_dbfs")} == {""}
    assert row["warnings"].split(";")[0] == "silent"


def test_results_are_never_compared_with_themselves(folder: Path, tmp_path: Path) -> None:
    run_command(folder, "--out", tmp_path, "--jobs", 1)
    before = bytes_in(tmp_path)
    run = run_command(folder, "--out", tmp_path, "--jobs", 1, "--compare", tmp_path)
    assert run.exit_code == 1
    assert "results.jsonl: is read by this command" in run.stderr
    assert bytes_in(tmp_path) == before


def test_levels_are_those_of_the_gain_each_recording_was_made_at(tmp_path: Path) -> None:
    """The same sound at two settings 6.02 dB apart is one sound pressure."""
    site = tmp_path / "f" / "gate"
    site.mkdir(parents=True)
    calibrated = "[microphone]\nspl_at_full_scale_db = 118\n[gain]\nrecorded_at = 1\n"
    (site / "site.toml").write_text(calibrated + "steps = [[1, 0], [2, 6.02]]\n")
    untold = tmp_path / "f" / "wall"
    untold.mkdir()
    (untold / "site.toml").write_text(calibrated)
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,gain_setting\ngate/a.wav,1\ngate/b.wav,2\nwall/c.wav,3\n")
    louder = 10 ** (6.02 / 20)
    for folder, name, gain in ((site, "a", 1.0), (site, "b", louder), (untold, "c", 1.0)):
        sf.write(folder / f"{name}.wav", gain * wave_of(3, 5), RATE, subtype="FLOAT")
    out = tmp_path / "out"
    words = (tmp_path / "f", "--out", out, "--jobs", 1, "--manifest", manifest)
    assert run_command(*words).exit_code == 0
    a, b, c = map(json.loads, (out / "results.jsonl").read_text().splitlines())
    assert (a["reference"], b["reference"], c["reference"]) == ("dB SPL", "dB SPL", "dB FS")
    assert b["laeq_db"] == pytest.approx(a["laeq_db"], abs=0.011)
    assert c["laeq_db"] == pytest.approx(a["laeq_db"] - 118, abs=0.011)
    assert "gain not told" in c["warnings"]
    assert "setting 3, calibrated at 1" in c["warning_texts"]["gain not told"]
    # what cannot be compared is in two means
    assert [row.split(",")[-2] for row in (out / "summary.csv").read_text().splitlines()[1:]] == [
        "dB SPL",
        "dB FS",
    ]
    (site / "site.toml").write_text(calibrated)
    runner._site_text.cache_clear()
    batch_json._site.cache_clear()
    assert run_command(*words).exit_code == 0
    lines = (out / "results.jsonl").read_text().splitlines()
    assert [json.loads(one)["reference"] for one in lines] == ["dB SPL", "dB FS", "dB FS"]


def test_what_a_manifest_does_not_know_is_refused(folder: Path, tmp_path: Path) -> None:
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,strat\nr0.wav,2026-03-02T10:00\n")
    run = run_command(folder, "--out", tmp_path / "out", "--manifest", manifest)
    assert run.exit_code == 1
    assert "m.csv: unknown column 'strat'; did you mean start?" in run.stderr
    assert not (tmp_path / "out").exists()


def test_names_that_are_no_text_are_escaped_wherever_they_stand(tmp_path: Path) -> None:
    """The bytes of a Latin-1 é, in the name of the folder, of a site and of two recordings."""
    folder, out = tmp_path / os.fsdecode(b"visits \xe9"), tmp_path / "out"
    site = folder / os.fsdecode(b"gate \xe9")
    try:
        site.mkdir(parents=True)
    except OSError:
        pytest.skip("this file system has no such names")
    sf.write(tmp_path / "a.wav", wave_of(2, 1), RATE)
    shutil.copy(tmp_path / "a.wav", site / os.fsdecode(b"caf\xe9.wav"))
    (site / os.fsdecode(b"bad \xe9.wav")).write_text("no sound")
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,gain_setting\ngate \\xe9/caf\\xe9.wav,2\n")
    run = run_command(folder, "--out", out, "--jobs", 1, "--plans", "--manifest", manifest)
    assert run.exit_code == 4
    assert "! gate \\xe9/bad \\xe9.wav: is not a sound file" in run.stdout
    record = json.loads((out / "results.jsonl").read_text(encoding="utf-8"))
    assert (record["path"], record["site"]) == ("gate \\xe9/caf\\xe9.wav", "gate \\xe9")
    assert record["gain_setting"] == 2
    assert record["laeq_db"] == round(measure(tmp_path / "a.wav").levels.laeq_db, 2)
    for name in ("results.csv", "failures.csv", "summary.csv", "batch.html", "plans.txt"):
        assert "\\xe9" in (out / name).read_text(encoding="utf-8"), name


def test_a_folder_that_may_not_be_read_is_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a", "shut"):
        (tmp_path / "f" / name).mkdir(parents=True)
        sf.write(tmp_path / "f" / name / "r.wav", wave_of(1, 1), RATE)
    with monkeypatch.context() as held:
        keep_out(held, "shut")
        first = run_command(tmp_path / "f", "--out", tmp_path / "o", "--jobs", 1)
    assert first.exit_code == 4
    assert "1 recording: 1 measured (1 now), 0 failed; 1 folder not read" in first.stdout
    (failure,) = csv.DictReader((tmp_path / "o" / "failures.csv").read_text().splitlines())
    assert failure["path"] == "shut"
    assert failure["reason"].startswith("shut: the folder cannot be read (Permission denied);")
    again = run_command(tmp_path / "f", "--out", tmp_path / "o", "--jobs", 1)
    assert "2 recordings: 2 measured (1 now), 0 failed" in again.stdout


def test_a_slip_in_a_site_file_is_told_before_anything_is_measured(tmp_path: Path) -> None:
    folder = make_folder(tmp_path)
    (folder / "wall" / "site.toml").write_text("[microphone]\nspl_at_full_scal_db = 118")
    run = run_command(folder, "--out", tmp_path / "out")
    assert run.exit_code == 1
    assert "site.toml: unknown key spl_at_full_scal_db in [microphone]; did you mean" in run.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_without_recordings_is_no_success(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("none")
    run = run_command(tmp_path, "--out", tmp_path / "out")
    assert run.exit_code == 1
    assert "holds no recordings to measure" in run.stderr


def test_channels_that_are_dead_or_inverted_are_findings(tmp_path: Path) -> None:
    wave = wave_of(3, 1)
    sf.write(tmp_path / "dead.wav", np.column_stack([wave, 0 * wave]), RATE)
    sf.write(tmp_path / "inverted.wav", np.column_stack([wave, -wave]), RATE)
    run = run_command(tmp_path, "--out", tmp_path / "out", "--jobs", 1)
    assert "  - dead.wav: channel dead: " in run.stdout
    assert "  - inverted.wav: channel inverted: " in run.stdout


@pytest.mark.parametrize("count", [9, pytest.param(60, marks=pytest.mark.slow)])
def test_two_poisonous_among_many_cost_two(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, count: int
) -> None:
    folder, out = tmp_path / "many", tmp_path / "out"
    folder.mkdir()
    for i in range(count):
        name = f"r{i:02d}_poison.wav" if i in (2, 7) else f"r{i:02d}.wav"
        sf.write(folder / name, wave_of(0.5, i), RATE)
    monkeypatch.setattr(folders, "record_of", record_or_death)
    monkeypatch.setenv("AUDIOLEVEL_TEST_CURE", str(tmp_path / "cure"))
    run = run_command(folder, "--out", out, "--jobs", 2)
    assert run.exit_code == 4
    assert f"{count} recordings: {count - 2} measured ({count - 2} now), 2 failed" in run.stdout
    failed = list(csv.DictReader((out / "failures.csv").read_text().splitlines()))
    assert [row["path"] for row in failed] == ["r02_poison.wav", "r07_poison.wav"]
    assert all("SIGSEGV" in row["reason"] for row in failed)
    assert all("3 times, alone too" in row["reason"] for row in failed)
    (tmp_path / "cure").touch()
    again = run_command(folder, "--out", out, "--jobs", 2)
    assert again.exit_code == 0
    assert f"{count} recordings: {count} measured (2 now), 0 failed" in again.stdout


MOMENTS = (
    ("journal opened:1", "task made:3", "result come:1", "kept:1", "kept:7"),
    ("kept:12", "draft begun:2", "draft written:1", "draft written:4", "in place:3"),
)


@pytest.mark.parametrize("moments", MOMENTS)
def test_killed_at_any_moment_it_goes_on_to_the_same_results(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes], moments: tuple[str, ...]
) -> None:
    """Ten named moments here, two hundred among the slow tests."""
    for moment in moments:
        assert run_killed(moment, folder, "--out", tmp_path, "--jobs", 1), moment
    assert run_command(folder, "--out", tmp_path, "--jobs", 1).exit_code == 4
    assert bytes_in(tmp_path) == undisturbed
    assert [one.name for one in tmp_path.iterdir() if one.name.endswith(".part")] == []


@pytest.mark.slow
def test_two_hundred_kills_change_nothing(tmp_path: Path) -> None:
    """At named moments, and at calls of the package's functions drawn by chance."""
    folder, plain = tmp_path / "f", tmp_path / "plain"
    folder.mkdir()
    for i in range(24):
        sf.write(folder / f"r{i:02d}.wav", wave_of(0.5, i), RATE)
    assert run_command(folder, "--out", plain, "--jobs", 2).exit_code == 0
    rng = np.random.default_rng(2)
    killed = rounds = differ = 0
    while killed < 200:
        out = tmp_path / f"k{rounds}"
        rounds += 1
        for _ in range(4):
            if rng.random() < 0.5:
                moment = f"call:{round(10 ** rng.uniform(0, 4.5))}"
            else:
                name = sorted(killed_run.MOMENTS)[rng.integers(len(killed_run.MOMENTS))]
                moment = f"{name}:{rng.integers(1, 9)}"
            killed += run_killed(moment, folder, "--out", out, "--jobs", 2)
        assert run_command(folder, "--out", out, "--jobs", 2).exit_code == 0
        differ += bytes_in(out) != bytes_in(plain)
        assert not list(out.glob(".*.part"))
    print(f"{killed} kills in {rounds} folders: {differ} differ")
    assert differ == 0


def test_ctrl_c_says_how_far_it_came_and_keeps_it(tmp_path: Path) -> None:
    many, out = tmp_path / "many", tmp_path / "out"
    many.mkdir()
    for i in range(20):
        sf.write(many / f"r{i:02d}.wav", wave_of(1, i), RATE)
    code = (
        "import os, signal, sys; from audiolevel.batch.journal import Journal\n"
        "whole, kept = Journal.add, []\n"
        "def add(*words):\n"
        "    whole(*words); kept.append(1)\n"
        "    if len(kept) == 4: os.kill(os.getpid(), signal.SIGINT)\n"
        "Journal.add = add\n"
        "from audiolevel.cli import main; main(['batch', *sys.argv[1:]])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(many), "--out", str(out), "--jobs", "2"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr == (
        f"audiolevel: stopped: 4 of 20 recordings done and kept in {out}; the same command "
        "goes on from there\n"
    )
    run = run_command(many, "--out", out, "--jobs", 2)
    assert "20 measured (16 now)" in run.stdout
