"""The command `batch`: the same results however it is run, interrupted or resumed."""

import json
import os
import signal
import subprocess
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.batch import runner
from audiolevel.metering.measurement import measure
from audiolevel.report import batch_json
from tests.batch.made_folder import RATE, bytes_in, command_of, make_folder, run_command, wave_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("undisturbed")
    run = run_command(folder, "--out", out, "--jobs", 1)
    assert run.exit_code == 1  # one bad file
    assert "12 recordings: 11 measured (12 now), 1 failed" in run.stdout
    assert "bad.wav: is not a sound file" in run.stdout
    return bytes_in(out)


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
    assert run_command(folder, "--out", tmp_path, "--jobs", 2).exit_code == 1
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


def test_what_moved_is_listed_and_fails(folder: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    for i in range(3):
        sf.write(copy / f"r{i}.wav", wave_of(3, i), RATE)
    assert run_command(copy, "--out", tmp_path / "old", "--jobs", 1).exit_code == 0
    same = run_command(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert same.exit_code == 0
    assert "nothing moved by more than 0.1 dB" in same.stdout
    sf.write(copy / "r1.wav", 1.05 * wave_of(3, 1), RATE)  # 0.42 dB
    run = run_command(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert run.exit_code == 1
    assert "r1.wav: laeq_db was" in run.stdout
    assert "r0.wav" not in run.stdout
    wide = run_command(
        *(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old"),
        *("--tolerance-db", 1),
    )
    assert wide.exit_code == 0


def test_killed_at_any_moment_it_goes_on_to_the_same_results(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes]
) -> None:
    """Five random moments here; tests/benchmarks/soak_batch.py takes two hundred."""
    rng = np.random.default_rng(32)
    for wait_s in rng.uniform(0.3, 2.5, 5):
        process = subprocess.Popen(
            command_of(folder, "--out", tmp_path, "--jobs", 2),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        time.sleep(float(wait_s))
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    assert run_command(folder, "--out", tmp_path, "--jobs", 1).exit_code == 1
    assert bytes_in(tmp_path) == undisturbed


def test_ctrl_c_stops_without_the_rest_and_keeps_what_is_done(tmp_path: Path) -> None:
    many, out = tmp_path / "many", tmp_path / "out"
    many.mkdir()
    for i in range(60):
        sf.write(many / f"r{i:02d}.flac", wave_of(240, i), RATE)
    process = subprocess.Popen(
        command_of(many, "--out", out, "--jobs", 2), stderr=subprocess.PIPE, text=True
    )
    journal = out / ".journal.jsonl"
    give_up = time.monotonic() + 60
    while not (journal.exists() and journal.read_bytes().count(b"\n") >= 4):
        assert time.monotonic() < give_up
        time.sleep(0.02)
    done = journal.read_bytes().count(b"\n")
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=20)
    assert process.returncode == 1
    assert "Traceback" not in said
    kept = journal.read_bytes().count(b"\n")
    # two in work, and two that end between the count and the signal; not the fifty that remain:
    # counted in files, because how many seconds that takes depends on what else the machine does
    assert done <= kept <= done + 4
    run = run_command(many, "--out", out, "--jobs", 2)
    assert f"60 measured ({60 - kept} now)" in run.stdout
