"""Files that a recorder split: the one recording that they were, without what is missing."""

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.metering.measurement import measure
from audiolevel.metering.parts import Part
from audiolevel.metering.sequences import sequence_of
from audiolevel.metering.visit import Visit

RATE = 8000


@pytest.fixture
def wave() -> np.ndarray:
    rng = np.random.default_rng(3)
    level = np.repeat(10 ** rng.uniform(-2, -0.7, 61), RATE)[: 60 * RATE + 1234]
    return np.asarray(np.clip(level * rng.normal(0, 1, len(level)), -1, 1))


def split(folder: Path, wave: np.ndarray, names: list[str], edges_s: list[float]) -> list[Path]:
    edges = [0, *(round(s * RATE) for s in edges_s), len(wave)]
    paths = []
    for name, first, stop in zip(names, edges[:-1], edges[1:], strict=True):
        sf.write(folder / name, wave[first:stop], RATE, subtype="FLOAT")
        paths.append(folder / name)
    return paths


def test_split_files_measure_as_the_whole(tmp_path: Path, wave: np.ndarray) -> None:
    sf.write(tmp_path / "whole.wav", wave, RATE, subtype="FLOAT")
    names = ["r_20260302_100000.wav", "r_20260302_100017.wav", "r_20260302_100041.wav"]
    paths = split(tmp_path, wave, names, [17.3, 41.05])
    whole = measure(tmp_path / "whole.wav", keep_levels=True)
    joined = measure(sequence_of(paths[::-1]), keep_levels=True)
    assert joined.levels == whole.levels
    np.testing.assert_array_equal(joined.laf, whole.laf)
    assert joined.start == datetime(2026, 3, 2, 10)
    assert joined.jumps == ()
    assert joined.path.name == "r_20260302_100000 to r_20260302_100041.wav"
    assert not joined.truncated


def test_parts_and_stretches_reach_across_the_files(tmp_path: Path, wave: np.ndarray) -> None:
    sf.write(tmp_path / "whole.wav", wave, RATE, subtype="FLOAT")
    paths = split(tmp_path, wave, ["r2.wav", "r10.wav", "r11.wav"], [17.3, 41.05])
    joined = sequence_of([paths[1], paths[0], paths[2]])  # r2 before r10
    of_both = (Visit(one, from_s=15.0, to_s=45.0) for one in (joined, tmp_path / "whole.wav"))
    parts = [measure(visit) for visit in of_both]
    assert parts[0].levels == parts[1].levels
    for at_s in (16.0, 40.0, 3.0):
        first = round(at_s * RATE)
        expected = wave[first : first + 2 * RATE].astype(np.float32)
        found = np.concatenate(list(joined.part(Part(at_s, at_s + 2)).blocks()))
        np.testing.assert_array_equal(found[:, 0], expected)


def test_a_gap_is_neither_silence_nor_counted(tmp_path: Path, wave: np.ndarray) -> None:
    names = ["r_20260302_100000.wav", "r_20260302_101000.wav"]
    measured = measure(sequence_of(split(tmp_path, wave, names, [30.0])))
    assert measured.duration_s == pytest.approx(len(wave) / RATE)
    # ten minutes later by its name, less the thirty seconds of the first
    assert measured.jumps == ((30.0, 570.0),)
    assert measured.levels.lafmin_db > -60
    # what begins with the second file began at its time, and not thirty seconds after the first
    second = measure(Visit([tmp_path / name for name in names], from_s=30.0))
    assert second.start == datetime(2026, 3, 2, 10, 10)


def test_files_hours_apart_are_no_sequence(tmp_path: Path, wave: np.ndarray) -> None:
    names = ["r_20260302_080000.wav", "r_20260302_220000.wav"]
    with pytest.raises(SettingError, match=r"leave out 14\.0 h by their names.*its --start"):
        sequence_of(split(tmp_path, wave, names, [30.0]))


def test_what_is_no_sequence_is_refused(tmp_path: Path, wave: np.ndarray) -> None:
    paths = split(tmp_path, wave, ["a.wav", "b.wav"], [30.0])
    sf.write(tmp_path / "c.wav", wave[:RATE], 16_000)
    with pytest.raises(RecordingError, match=r"c\.wav: has 16000 Hz"):
        sequence_of([*paths, tmp_path / "c.wav"])
    with pytest.raises(SettingError, match="names a file twice"):
        sequence_of([paths[0], paths[0]])
    early = split(tmp_path, wave, ["r_20260302_100000.wav", "r_20260302_100010.wav"], [30.0])
    with pytest.raises(SettingError, match="ends 20 s after the next of the sequence begins"):
        sequence_of(early)
    assert sequence_of(paths[:1]).path == paths[0]
    assert sequence_of(early[:1], datetime(2026, 1, 1)).start == datetime(2026, 1, 1)
