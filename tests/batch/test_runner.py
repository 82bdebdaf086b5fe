"""The run of a batch: pieces of a long file, and workers that die."""

import multiprocessing
import threading
import time
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.batch import runner
from audiolevel.batch.discovery import find_items
from audiolevel.batch.journal import Journal
from audiolevel.metering.measurement import measure
from audiolevel.report.batch_json import record_of
from tests.batch.made_folder import RATE, make_folder, wave_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


def test_a_long_file_in_pieces_is_the_file_as_a_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    level = np.repeat(np.random.default_rng(30).uniform(0.01, 0.3, 200), RATE)
    sf.write(tmp_path / "long.wav", np.clip(level * wave_of(200, 31, 1.0), -1, 1), RATE)
    monkeypatch.setattr(runner, "PIECE_S", 45)
    monkeypatch.setattr(runner, "_LONG_BYTES", 0)
    items = find_items(tmp_path)
    with Journal(tmp_path) as journal:
        done = runner.run_batch(
            tmp_path, items, journal, lambda: ThreadPoolExecutor(2), record_of, in_flight=8
        )
        record = journal.result(done.keys[0])["record"]
    whole = measure(tmp_path / "long.wav")
    assert record["duration_s"] == 200.0
    for name in ("laeq_db", "lceq_db", "lafmax_db", "lasmax_db", "lcpeak_db"):
        assert record[name] == pytest.approx(getattr(whole.levels, name), abs=0.01)
    for name, value in whole.levels.percentiles_db.items():
        assert record["percentiles_db"][name] == pytest.approx(value, abs=0.015)
    assert whole.onsets is not None
    assert record["onset_count"] == len(whole.onsets)


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
        done = runner.run_batch(folder, items, journal, make, record_of, in_flight=4)
        killer.join()
        assert len(made) > 1
        assert done.failed == 0
        assert all("record" in journal.result(key) for key in done.keys)
