"""A folder of recordings: the same results however it is run, interrupted or resumed."""

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner, Result

import audiolevel.batch.runner as batches
from audiolevel.batch.discovery import find_items
from audiolevel.batch.journal import Journal
from audiolevel.batch.overview import by_site_and_hour, drifts, gain_steps, moved, outliers
from audiolevel.cli import main
from audiolevel.errors import AudioLevelError, SettingError
from audiolevel.metering.measurement import measure
from audiolevel.report import batch_json
from audiolevel.report.batch_json import record_of

RATE = 8000


def _wave(seconds: float, seed: int, level: float = 0.05) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, level, round(seconds * RATE))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sites, one within the other, a few formats, a bad file and one that is no sound."""
    root = tmp_path_factory.mktemp("batch") / "visits"
    (root / "wall").mkdir(parents=True)
    (root / "wall" / "night").mkdir()
    (root / "wall" / "site.toml").write_text(
        "[microphone]\nspl_at_full_scale_db = 118\n"
        "[gain]\nrecorded_at = 1\nsteps = [[1, 0], [2, 6]]"
    )
    for i in range(5):
        sf.write(root / f"r{i}.wav", _wave(3, i), RATE)
        sf.write(root / "wall" / f"w{i}.flac", _wave(3, 10 + i), RATE)
    sf.write(root / "wall" / "night" / "n.ogg", _wave(3, 20), RATE)
    (root / "bad.wav").write_text("no sound at all")
    (root / "notes.txt").write_text("not looked at")
    return root


def _run(*words: object) -> Result:
    return CliRunner().invoke(main, ["batch", *(str(word) for word in words)])


def _command(*words: object) -> list[str]:
    return [sys.executable, "-m", "audiolevel", "batch", *(str(word) for word in words)]


def _bytes(out: Path) -> dict[str, bytes]:
    names = ("results.jsonl", "results.csv", "failures.csv", "summary.csv", "findings.txt")
    return {name: (out / name).read_bytes() for name in names}


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("undisturbed")
    run = _run(folder, "--out", out, "--jobs", 1)
    assert run.exit_code == 1  # one bad file
    assert "12 recordings: 11 measured (12 now), 1 failed" in run.stdout
    assert "bad.wav: is not a sound file" in run.stdout
    return _bytes(out)


def test_items_sites_and_manifest(folder: Path, tmp_path: Path) -> None:
    items = find_items(folder)
    assert [item.path for item in items] == sorted(item.path for item in items)
    site = {item.path: item.site for item in items}
    assert site["r0.wav"] == "visits"
    assert site["wall/w0.flac"] == "wall"
    assert site["wall/night/n.ogg"] == "wall"  # the nearest site file above it
    assert len(find_items(folder, include=["*.flac"], exclude=["*w4*"])) == 4
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,start,gain_setting,site\nr1.wav,2026-03-02T10:00,50,gate\n")
    item = next(i for i in find_items(folder, manifest=manifest) if i.path == "r1.wav")
    assert (item.site, item.gain_setting, item.start.hour) == ("gate", 50.0, 10)
    manifest.write_text("path,start\nr1.wav,soon\n")
    with pytest.raises(SettingError, match=r"r1\.wav"):
        find_items(folder, manifest=manifest)
    manifest.write_text("path\nr99.wav\n")
    with pytest.raises(SettingError, match=r"names r99\.wav, which is not in"):
        find_items(folder, manifest=manifest)


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
    assert _run(folder, "--out", tmp_path, "--jobs", 2).exit_code == 1
    assert _bytes(tmp_path) == undisturbed


def test_a_second_run_does_only_what_is_new_or_changed(folder: Path, tmp_path: Path) -> None:
    copy, out = tmp_path / "copy", tmp_path / "out"
    copy.mkdir()
    for i in range(4):
        sf.write(copy / f"r{i}.wav", _wave(3, i), RATE)
    assert "4 measured (4 now)" in _run(copy, "--out", out, "--jobs", 1).stdout
    assert "4 measured (0 now)" in _run(copy, "--out", out, "--jobs", 1).stdout
    sf.write(copy / "r1.wav", _wave(4, 77), RATE)
    assert "4 measured (1 now)" in _run(copy, "--out", out, "--jobs", 1).stdout
    (copy / "site.toml").write_text("[microphone]\nspl_at_full_scale_db = 100")
    batches._site_text.cache_clear()  # a new process would not know the old text
    batch_json._site.cache_clear()
    assert "4 measured (4 now)" in _run(copy, "--out", out, "--jobs", 1).stdout


def test_what_moved_is_listed_and_fails(folder: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    for i in range(3):
        sf.write(copy / f"r{i}.wav", _wave(3, i), RATE)
    assert _run(copy, "--out", tmp_path / "old", "--jobs", 1).exit_code == 0
    same = _run(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert same.exit_code == 0
    assert "nothing moved by more than 0.1 dB" in same.stdout
    sf.write(copy / "r1.wav", 1.05 * _wave(3, 1), RATE)  # 0.42 dB
    run = _run(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old")
    assert run.exit_code == 1
    assert "r1.wav: laeq_db was" in run.stdout
    assert "r0.wav" not in run.stdout
    wide = _run(
        *(copy, "--out", tmp_path / "new", "--jobs", 1, "--compare", tmp_path / "old"),
        *("--tolerance-db", 1),
    )
    assert wide.exit_code == 0


def test_a_long_file_in_pieces_is_the_file_as_a_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    level = np.repeat(np.random.default_rng(30).uniform(0.01, 0.3, 200), RATE)
    sf.write(tmp_path / "long.wav", np.clip(level * _wave(200, 31, 1.0), -1, 1), RATE)
    monkeypatch.setattr(batches, "PIECE_S", 45)
    monkeypatch.setattr(batches, "_LONG_BYTES", 0)
    items = find_items(tmp_path)
    with Journal(tmp_path) as journal:
        done = batches.run_batch(
            tmp_path, items, journal, lambda: ThreadPoolExecutor(2), record_of, in_flight=8
        )
        record = journal.result(done.keys[0])["record"]
    whole = measure(tmp_path / "long.wav")
    assert record["duration_s"] == 200.0
    for name in ("laeq_db", "lceq_db", "lafmax_db", "lasmax_db", "lcpeak_db"):
        assert record[name] == pytest.approx(getattr(whole.levels, name), abs=0.01)
    for name, value in whole.levels.percentiles_db.items():
        assert record["percentiles_db"][name] == pytest.approx(value, abs=0.015)
    assert record["onset_count"] == len(whole.onsets)


def test_a_broken_line_is_passed_over_and_a_second_run_kept_out(tmp_path: Path) -> None:
    with Journal(tmp_path) as journal:
        journal.add("a", {"x": 1})
        journal.add("b", {"x": 2})
        with pytest.raises(AudioLevelError, match="another batch is at work there"):
            Journal(tmp_path).__enter__()
    path = tmp_path / ".journal.jsonl"
    path.write_bytes(path.read_bytes()[:-7])
    with Journal(tmp_path) as journal:
        assert "a" in journal
        assert "b" not in journal
        journal.add("c", {"x": 3})
    with Journal(tmp_path) as journal:
        assert journal.result("c") == {"x": 3}


def test_killed_at_any_moment_it_goes_on_to_the_same_results(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes]
) -> None:
    """Five random moments here; tests/benchmarks/soak_batch.py takes two hundred."""
    rng = np.random.default_rng(32)
    for wait_s in rng.uniform(0.3, 2.5, 5):
        process = subprocess.Popen(
            _command(folder, "--out", tmp_path, "--jobs", 2),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        time.sleep(float(wait_s))
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    assert _run(folder, "--out", tmp_path, "--jobs", 1).exit_code == 1
    assert _bytes(tmp_path) == undisturbed


def test_ctrl_c_stops_within_two_seconds_and_keeps_what_is_done(tmp_path: Path) -> None:
    many, out = tmp_path / "many", tmp_path / "out"
    many.mkdir()
    for i in range(60):
        sf.write(many / f"r{i:02d}.flac", _wave(60, i), RATE)
    process = subprocess.Popen(
        _command(many, "--out", out, "--jobs", 2), stderr=subprocess.PIPE, text=True
    )
    journal = out / ".journal.jsonl"
    give_up = time.monotonic() + 60
    while not (journal.exists() and journal.read_bytes().count(b"\n") >= 4):
        assert time.monotonic() < give_up
        time.sleep(0.02)
    begin = time.monotonic()
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=20)
    assert time.monotonic() - begin < 2.0
    assert process.returncode == 1
    assert "Traceback" not in said
    kept = journal.read_bytes().count(b"\n")
    assert kept >= 4
    run = _run(many, "--out", out, "--jobs", 2)
    assert f"60 measured ({60 - kept} now)" in run.stdout


def test_a_worker_that_dies_is_replaced(folder: Path, tmp_path: Path) -> None:
    items = find_items(folder, include=["*.flac", "r*.wav"])
    made = []

    def make() -> ProcessPoolExecutor:
        made.append(ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")))
        return made[-1]

    def kill_one() -> None:
        while not multiprocessing.active_children():
            time.sleep(0.01)
        multiprocessing.active_children()[0].kill()

    killer = threading.Thread(target=kill_one)
    killer.start()
    with Journal(tmp_path) as journal:
        done = batches.run_batch(folder, items, journal, make, record_of, in_flight=4)
        killer.join()
        assert len(made) > 1
        assert done.failed == 0
        assert all("record" in journal.result(key) for key in done.keys)


@pytest.fixture
def cluster() -> Iterator[object]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as local:
        yield local


@pytest.mark.filterwarnings("ignore")  # the cluster's own farewell to its killed worker
def test_a_cluster_gives_the_same_results_even_if_a_worker_is_killed(
    folder: Path, tmp_path: Path, undisturbed: dict[str, bytes], cluster: object
) -> None:
    """A real scheduler and two real worker processes on this machine; one is killed in mid-run."""
    worker = next(iter(cluster.workers.values()))

    def kill() -> None:
        journal = tmp_path / ".journal.jsonl"
        while not (journal.exists() and journal.stat().st_size):
            time.sleep(0.01)
        os.kill(worker.pid, signal.SIGKILL)

    killer = threading.Thread(target=kill)
    killer.start()
    run = _run(folder, "--out", tmp_path, "--scheduler", cluster.scheduler_address)
    killer.join()
    assert isinstance(run.exception, SystemExit), run.exception
    assert run.exit_code == 1, run.output
    assert _bytes(tmp_path) == undisturbed


def test_no_scheduler_is_said_in_one_line(folder: Path, tmp_path: Path) -> None:
    run = _run(folder, "--out", tmp_path, "--scheduler", "tcp://127.0.0.1:1")
    assert run.exit_code == 1
    assert "no scheduler answers there" in run.stderr


def test_pooled_plans_are_one_a_site(folder: Path, tmp_path: Path) -> None:
    run = _run(folder, "--out", tmp_path, "--jobs", 1, "--plan")
    assert run.exit_code == 1
    plans = [json.loads(line) for line in (tmp_path / "plans.jsonl").read_text().splitlines()]
    assert [plan["site"] for plan in plans] == ["visits", "wall"]
    assert plans[0]["heard_s"] == pytest.approx(15)
    assert plans[1]["heard_s"] == pytest.approx(18)


def test_pictures_of_settings_and_visits_where_they_are_known(folder: Path, tmp_path: Path) -> None:
    manifest = tmp_path / "m.csv"
    rows = [f"wall/w{i}.flac,2026-03-{1 + 9 * i:02d}T10:00,{1 + i % 2}" for i in range(3)]
    manifest.write_text("path,start,gain_setting\n" + "\n".join(rows) + "\n")
    run = _run(folder, "--out", tmp_path / "out", "--jobs", 1, "--manifest", manifest)
    assert run.exit_code == 1
    said = (tmp_path / "out" / "gain_settings.alt.txt").read_text()
    assert "wall: settings 1, 2" in said
    assert (
        "3 visits from 2026-03-01 to 2026-03-19"
        in (tmp_path / "out" / "visits.alt.txt").read_text()
    )
    plain = _run(folder, "--out", tmp_path / "plain", "--jobs", 1)
    assert plain.exit_code == 1
    assert not (tmp_path / "plain" / "visits.png").exists()


# --- the overview, by hand ------------------------------------------------------------------------


def _record(path: str, laeq: float, **more: object) -> dict[str, object]:
    levels = dict.fromkeys(("lceq_db", "lzeq_db", "lafmax_db", "lasmax_db", "lae_db"), laeq)
    return {
        "path": path,
        "site": "s",
        "start": None,
        "gain_setting": None,
        "duration_s": 60.0,
        "reference": "dB FS",
        "laeq_db": laeq,
        "lafmin_db": laeq,
        "lcpeak_db": laeq,
        **levels,
        "percentiles_db": {"L50": laeq, "L90": laeq},
        "clipping": {"verdict": "none"},
        "warnings": [],
        **more,
    }


def test_levels_are_averaged_as_energy() -> None:
    # half of the time at 60 and half at 70 dB is 67.40 dB, not 65
    rows = by_site_and_hour(
        [
            _record("a", -40.0, start="2026-03-02T10:05:00"),
            _record("b", -30.0, start="2026-03-03T10:40:00"),
            _record("c", -50.0),
        ]
    )
    assert [(row.hour, row.recordings) for row in rows] == [(None, 1), (10, 2)]
    assert rows[1].laeq_db == pytest.approx(67.4036 - 100, abs=1e-3)


def test_gain_steps_and_drift_by_hand() -> None:
    records = [_record(f"a{i}", -40.0 + i, gain_setting=1.0) for i in (-1, 0, 1)]
    records += [_record(f"b{i}", -30.0 + i, gain_setting=2.0) for i in (-1, 0, 1)]
    (step,) = gain_steps(records, {"s": {1.0: 0.0, 2.0: 12.0}})
    assert (step.measured_db, step.stated_db) == (pytest.approx(10.0), 12.0)
    assert step.standard_error_db == pytest.approx(np.sqrt(1 / 3 + 1 / 3))
    days = [_record(f"d{d}", -40.0 - d / 10, start=f"2026-03-{d:02d}T10:00") for d in (1, 11, 21)]
    (drift,) = drifts(days)
    assert drift.db_per_30_days == pytest.approx(-3.0)
    assert drift.standard_error_db == pytest.approx(0.0, abs=1e-6)


def test_what_stands_out() -> None:
    records = [_record(f"a{i}", -40.0 + 0.1 * i) for i in range(6)]
    records += [_record("loud", -20.0), _record("cut", -40.0, warnings=["clipped"])]
    found = {one.path: one.why for one in outliers(records)}
    assert set(found) == {"loud", "cut"}
    assert "19.8 dB above" in found["loud"]


def test_moved_sees_what_came_and_went() -> None:
    old = {"a": _record("a", -40.0), "gone": _record("gone", -40.0)}
    found = moved(old, [_record("a", -40.05), _record("new", -40.0)], 0.1)
    assert [(one.path, one.now) for one in found] == [("new", "there"), ("gone", "not there")]
