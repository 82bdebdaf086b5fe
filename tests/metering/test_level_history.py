"""A level history stands in for its recording."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import RecordingError
from audiolevel.metering.gain import Gains
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.level_log import LevelLog
from audiolevel.metering.measurement import measure


def test_columns_and_grid(wave_and_history: tuple[Path, Path]) -> None:
    lines = wave_and_history[1].read_text().splitlines()
    assert lines[0].split(",")[:6] == [
        "time_s",
        "laf_db",
        "las_db",
        "lzf_db",
        "lcpeak_db",
        "clipped",
    ]
    assert [line.split(",")[0] for line in lines[1:4]] == ["0.01", "0.02", "0.03"]
    assert len(lines) == 1 + 7000


def test_a_history_tells_what_its_recording_told(wave_and_history: tuple[Path, Path]) -> None:
    wave = measure(wave_and_history[0], gains=Gains([0.0, -6.0]))
    read = measure(wave_and_history[1], gains=Gains([0.0, -6.0]))
    assert wave.laf is not None
    assert read.laf is not None
    assert np.array_equal(wave.laf, read.laf)
    assert wave.levels.percentiles_db == read.levels.percentiles_db
    assert read.levels.laeq_db == pytest.approx(wave.levels.laeq_db, abs=0.005)
    assert read.levels.lafmax_db == wave.levels.lafmax_db
    assert read.levels.clipping.clipped_share == pytest.approx(
        wave.levels.clipping.clipped_share, rel=1e-3
    )
    assert wave.onsets is not None
    assert read.onsets is not None
    assert np.array_equal(wave.onsets.start_s, read.onsets.start_s)


def test_a_history_of_levels_alone_is_enough(tmp_path: Path) -> None:
    path = tmp_path / "short.csv"
    path.write_text("time_s,laf_db\n" + "".join(f"{k / 100},{-40}\n" for k in range(1, 301)))
    heard = measure(path, gains=Gains([0.0]))
    assert heard.levels.laeq_db == pytest.approx(-40)
    assert heard.laf is not None
    assert len(heard.laf) == 300


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("time_s,level\n0.01,3\n", "no column laf_db"),
        ("time_s,laf_db\n", "no rows"),
        ("", "no column time_s"),
        ("time_s,laf_db\n0.01,-40\n0.02,loud\n", "line 3 is not 2 numbers"),
        ("time_s,laf_db\n0.01,-40\n0.02\n", "line 3 is not 2 numbers"),
        ("time_s,laf_db\n0.01,nan\n", "line 2 holds a value that is not finite"),
        ("time_s,laf_db\n0.01,-40\n0.03,-40\n", "line 3 is not 10 ms after"),
    ],
)
def test_what_is_no_history_is_refused(tmp_path: Path, text: str, match: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(RecordingError, match=match):
        list(LevelLog(path).rows())


def test_nothing_half_written_is_left(tmp_path: Path) -> None:
    sf.write(tmp_path / "bad.wav", np.array([0.0] * 20000 + [np.nan]), 16000, subtype="FLOAT")
    with (
        pytest.raises(RecordingError),
        HistoryWriter(tmp_path / "out.csv") as history,
    ):
        measure(tmp_path / "bad.wav", history=history)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.wav"]


def test_only_a_weighted_levels_change_within_a_second(wave_and_history: tuple[Path, Path]) -> None:
    """More than one band every 10 ms would tell of speech (docs/privacy.md)."""
    with wave_and_history[1].open() as file:
        names = file.readline().strip().split(",")
    table = np.loadtxt(wave_and_history[1], delimiter=",", skiprows=1)
    changing = {
        name
        for name, column in zip(names, table.T, strict=True)
        if (column.reshape(-1, 100) != column.reshape(-1, 100)[:, :1]).any()
    }
    assert changing <= {"time_s", "laf_db", "las_db", "lafmax_db", "clipped"}
    # what is held is the second's own: the highest sample of the 1,600 of each of ten steps
    samples = sf.read(wave_and_history[0])[0].reshape(-1, 16_000)
    peak = 20 * np.log10(np.abs(samples).max(axis=1))
    held = table[::100, names.index("sample_peak_db")]
    assert held == pytest.approx(peak, abs=0.006)


def test_a_coarse_history_is_for_reading_only(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    sf.write(tmp_path / "a.wav", 0.1 * rng.standard_normal(8000 * 7 + 4000), 8000)
    with HistoryWriter(tmp_path / "coarse.csv", coarse=True) as history:
        whole = measure(tmp_path / "a.wav", history=history)
    table = np.loadtxt(tmp_path / "coarse.csv", delimiter=",", skiprows=1)
    assert table[:, 0].tolist() == [1, 2, 3, 4, 5, 6, 7]
    # the energy mean of its seconds is the mean of the whole, but for the half second left out
    mean = 10 * np.log10((10 ** (table[:, 1] / 10)).mean())
    assert mean == pytest.approx(whole.levels.laeq_db, abs=0.05)
    assert table[:, 4].max() <= whole.levels.lafmax_db
    with pytest.raises(RecordingError, match="coarse history, one row a second"):
        list(LevelLog(tmp_path / "coarse.csv").rows())


def test_a_coarse_history_in_pieces_is_the_same(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    sf.write(tmp_path / "a.wav", 0.1 * rng.standard_normal(8000 * 5), 8000)
    with HistoryWriter(tmp_path / "fine.csv") as history:
        measure(tmp_path / "a.wav", history=history)
    rows = next(iter(LevelLog(tmp_path / "fine.csv").rows()))
    for name, size in (("one.csv", 500), ("many.csv", 130)):
        with HistoryWriter(tmp_path / name, coarse=True) as history:
            for at in range(0, 500, size):
                history.add(rows[at : at + size])
    assert (tmp_path / "one.csv").read_text() == (tmp_path / "many.csv").read_text()
    assert len((tmp_path / "one.csv").read_text().splitlines()) == 1 + 5
