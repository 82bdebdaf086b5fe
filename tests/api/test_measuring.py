"""Measuring from Python: a path, an array and a history are one and the same sound."""

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.site.sections import Microphone
from tests.made_street import RATE_HZ, wave_of
from tests.triggers.test_trigger import slow_firings


@pytest.fixture(scope="module")
def samples() -> np.ndarray:
    """Half a minute of street in the steps of a file of 16 bits."""
    return np.round(wave_of(30.0, 3) * 32767).astype(np.int16)


@pytest.fixture(scope="module")
def file(samples: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("measuring") / "street.wav"
    sf.write(path, samples, RATE_HZ, subtype="PCM_16")
    return path


def test_an_array_measures_what_its_file_measures(samples: np.ndarray, file: Path) -> None:
    by_file = al.measure(file)
    by_array = al.measure(samples, rate_hz=RATE_HZ)
    assert by_array.levels == by_file.levels
    assert np.array_equal(by_array.laf_db, by_file.laf_db)
    one, two = (result.to_object()["recordings"][0] for result in (by_file, by_array))
    assert {key for key in one if one[key] != two[key]} == {"path"}


def test_a_history_measures_what_its_recording_measured(file: Path, tmp_path: Path) -> None:
    history = tmp_path / "street.csv"
    (by_sound,) = al.measure_all([file], history=history).each
    by_history = al.measure(history)
    assert by_history.levels.laeq_db == pytest.approx(by_sound.levels.laeq_db, abs=0.01)
    assert by_history.levels.lafmax_db == pytest.approx(by_sound.levels.lafmax_db, abs=0.005)
    assert np.array_equal(by_history.laf_db, al.measure(file).laf_db)


def test_levels_and_firings_are_in_the_unit_of_the_site(file: Path) -> None:
    plain = al.measure(file)
    site = al.Site(microphone=Microphone(spl_at_full_scale_db=118.0))
    shown = al.measure(file, site=site, start=datetime(2026, 3, 3, 12))
    assert shown.laf_db == pytest.approx(plain.laf_db + 118.0)
    assert "dB SPL" in repr(shown)
    assert shown.start == datetime(2026, 3, 3, 12)
    trigger = al.Trigger.threshold(level_db=80.0, rearm_s=2.0)
    expected = slow_firings(plain.laf_db, trigger.at(80.0 - 118.0))
    assert len(expected) > 1
    assert shown.firings(trigger) == pytest.approx((np.array(expected) + 1) / 100)


def test_several_are_measured_each_by_itself(file: Path, tmp_path: Path) -> None:
    both = al.measure_all([file, al.Visit(file, start=datetime(2026, 3, 3, 12))])
    assert [one["start"] for one in both.to_object()["recordings"]] == [
        None,
        "2026-03-03T12:00:00",
    ]
    assert both.each[0].levels == al.measure(file).levels
    names = {path.name for path in both.save(tmp_path)}
    # two of one name keep a picture each
    pictures = {"levels_street.png", "levels_street_2.png"}
    assert names == {"measure.json", "measure.txt", *pictures}


def test_a_length_is_the_file_s_own_account(file: Path, tmp_path: Path) -> None:
    assert al.length_s(file) == 30.0
    (tmp_path / "no.wav").write_text("no sound")
    with pytest.raises(al.AudioLevelError, match=r"no\.wav"):
        al.length_s(tmp_path / "no.wav")


def test_what_does_not_fit_is_refused(samples: np.ndarray, file: Path) -> None:
    with pytest.raises(al.AudioLevelError, match="rate_hz: samples in an array need"):
        al.measure(samples)
