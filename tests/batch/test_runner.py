"""The run of a batch: pieces of a long file, and recordings that kill their worker."""

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf

from audiolevel.batch import runner
from audiolevel.batch.discovery import find_items
from audiolevel.batch.executors import Borrowed, processes
from audiolevel.batch.journal import Journal
from audiolevel.ground.errors import AudioLevelError
from audiolevel.metering.measurement import measure
from audiolevel.metering.parts import ALL, Part
from audiolevel.report.batch.record import record_of
from tests.batch.made_folder import RATE, wave_of
from tests.batch.poison import record_or_death, record_or_death_once


def test_a_long_file_in_pieces_is_the_file_as_a_whole(tmp_path: Path) -> None:
    """The pieces are measured by other processes, as those of any batch are."""
    level = np.repeat(np.random.default_rng(30).uniform(0.01, 0.3, 200), RATE)
    sf.write(tmp_path / "long.wav", np.clip(level * wave_of(200, 31, 1.0), -1, 1), RATE)
    items = find_items(tmp_path)
    assert len(list(runner._tasks(str(tmp_path), [("", items[0])], record_of, 45))) == 5
    with Journal(tmp_path) as journal, processes(2) as workers:
        done = runner.run_batch(tmp_path, items, journal, workers, record_of, piece_s=45)
        assert (done.failed, done.passing) == (0, {})
        record = journal.result(done.keys[0])["record"]
    whole = measure(tmp_path / "long.wav")
    assert record["duration_s"] == 200.0
    for name in ("laeq_db", "lceq_db", "lafmax_db", "lasmax_db", "lcpeak_db"):
        assert record[name] == pytest.approx(getattr(whole.levels, name), abs=0.01)
    for name, value in whole.levels.percentiles_db.items():
        assert record["percentiles_db"][name] == pytest.approx(value, abs=0.015)
    assert whole.onsets is not None
    assert record["onset_count"] == len(whole.onsets)


@pytest.fixture
def poisonous(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nine recordings, of which the second and the last kill whoever measures them."""
    folder = tmp_path / "visits"
    folder.mkdir()
    for i in range(7):
        sf.write(folder / f"r{i}.wav", wave_of(1, i), RATE)
    for name in ("r0_poison.wav", "z_poison.wav"):
        sf.write(folder / name, wave_of(1, 9), RATE)
    monkeypatch.setenv("AUDIOLEVEL_TEST_CURE", str(tmp_path / "cure"))
    return folder


# several at a time: tests/cli/test_batch.py, two among many
def test_a_recording_that_kills_its_worker_costs_itself_alone(
    poisonous: Path, tmp_path: Path
) -> None:
    items = find_items(poisonous)
    with Journal(tmp_path) as journal, processes(1) as workers:
        done = runner.run_batch(poisonous, items, journal, workers, record_or_death)
        assert done.failed == 2
        reasons = [done.passing[key] for key in done.keys if key in done.passing]
        kept = [key for key in done.keys if key in journal]
    assert [reason.split(":")[0] for reason in reasons] == ["r0_poison.wav", "z_poison.wav"]
    assert all("3 times, alone too; the next run tries it again" in one for one in reasons)
    assert all("SIGSEGV" in one for one in reasons)
    assert len(kept) == 7  # neither crash is kept as a result
    # the cause is gone, and the next run measures these two alone
    (tmp_path / "cure").touch()
    with Journal(tmp_path) as journal, processes(1) as workers:
        again = runner.run_batch(poisonous, items, journal, workers, record_or_death)
        assert (again.measured, again.failed) == (2, 0)


@pytest.mark.always
def test_a_worker_that_is_killed_once_costs_nothing(poisonous: Path, tmp_path: Path) -> None:
    items = find_items(poisonous)
    with Journal(tmp_path) as journal, processes(2) as workers:
        done = runner.run_batch(poisonous, items, journal, workers, record_or_death_once)
        assert (done.measured, done.failed, done.passing) == (9, 0, {})
        assert all("record" in one for one in journal.results(list(done.keys)))


def test_what_cannot_be_read_for_now_is_tried_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Out of memory, say: neither the recording's fault nor a result to keep."""
    sf.write(tmp_path / "r.wav", wave_of(1, 1), RATE)
    items = find_items(tmp_path)

    def fail(*_: object) -> dict[str, Any]:
        raise MemoryError

    with Journal(tmp_path) as journal, ThreadPoolExecutor(1) as threads:
        done = runner.run_batch(tmp_path, items, journal, Borrowed(threads, 1), fail)
        (reason,) = done.passing.values()
        assert "r.wav: unexpected: MemoryError()" in reason
        again = runner.run_batch(tmp_path, items, journal, Borrowed(threads, 1), record_of)
        assert (again.measured, again.failed) == (1, 0)


def test_a_cluster_that_goes_is_one_line_and_costs_nothing_kept(tmp_path: Path) -> None:
    """A scheduler that ends cancels what it was given."""
    sf.write(tmp_path / "r.wav", wave_of(1, 1), RATE)

    class Gone(ThreadPoolExecutor):
        def submit(self, *_: Any, **__: Any) -> Any:
            future = Future[Any]()
            future.cancel()
            future.set_running_or_notify_cancel()
            return future

    with Journal(tmp_path) as journal, Gone(1) as gone:
        workers = Borrowed(gone, 1)
        with pytest.raises(AudioLevelError, match="the cluster is gone"):
            runner.run_batch(tmp_path, find_items(tmp_path), journal, workers, record_of)


def test_a_worker_need_not_stand_in_the_same_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("f").mkdir()
    sf.write("f/r.wav", wave_of(1, 1), RATE)
    Path("f/site.toml").write_text("[site]\nname = 'gate'\n")
    ((_, task),) = runner._tasks("f", [("", find_items(Path("f"))[0])], record_of, 3600)
    monkeypatch.chdir("/")
    assert "record" in runner.measure_task(task)


def test_a_part_is_what_cutting_it_by_hand_gives(tmp_path: Path) -> None:
    """In one piece and in several, whose hours are counted from the part's beginning."""
    folder, cut = tmp_path / "visits", tmp_path / "cut.wav"
    folder.mkdir()
    level = np.repeat(np.random.default_rng(40).uniform(0.01, 0.3, 150), RATE)
    wave = np.clip(level * wave_of(150, 41, 1.0), -1, 1)
    sf.write(folder / "r.wav", wave, RATE)
    sf.write(cut, wave[round(20.5 * RATE) : 140 * RATE], RATE)
    expected = measure(cut).levels
    item = replace(find_items(folder)[0], start=datetime(2026, 3, 2, 8), part=Part(20.5, 140.0))
    for piece_s in (3600, 45):
        out = tmp_path / str(piece_s)
        out.mkdir()
        with Journal(out) as journal, ThreadPoolExecutor(2) as threads:
            workers = Borrowed(threads, 8)
            done = runner.run_batch(folder, [item], journal, workers, record_of, piece_s=piece_s)
            record = journal.result(done.keys[0])["record"]
        assert record["duration_s"] == 119.5
        assert (record["from_s"], record["to_s"]) == (20.5, 140.0)
        assert record["start"] == "2026-03-02T08:00:20.500000"
        for name in ("laeq_db", "lafmax_db", "lcpeak_db"):
            assert record[name] == pytest.approx(getattr(expected, name), abs=0.01)


def test_another_part_is_another_result(tmp_path: Path) -> None:
    sf.write(tmp_path / "r.wav", wave_of(1, 1), RATE)
    item = find_items(tmp_path)[0]
    parts = [ALL, Part(0.5), Part(None, 0.5), Part(0.5, 0.75)]
    keys = {runner.key_of(tmp_path, replace(item, part=part)) for part in parts}
    assert len(keys) == 4


def test_whatever_bytes_a_site_file_holds_are_part_of_the_key(tmp_path: Path) -> None:
    sf.write(tmp_path / "r.wav", wave_of(1, 1), RATE)
    item = find_items(tmp_path)[0]
    keys = set()
    for number, text in enumerate((b"", b'name = "Caf\xe9"', b'name = "Caf\xe8"')):
        file = tmp_path / f"{number}.toml"
        file.write_bytes(text)
        keys.add(runner.key_of(tmp_path, replace(item, site_file=str(file))))
    assert len(keys) == 3


def test_a_part_beyond_the_end_is_a_failure_that_says_so(tmp_path: Path) -> None:
    sf.write(tmp_path / "r.wav", wave_of(1, 1), RATE)
    item = replace(find_items(tmp_path)[0], part=Part(60.0))
    result = runner.measure_task(runner.Task(str(tmp_path), item, record_of))
    assert result["reason"] == "r.wav: the part from 60 s on lies beyond its end at 1.0 s"
