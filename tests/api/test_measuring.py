"""Measuring from Python: a path, an array and a history are one and the same sound."""

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.site.sections import Limits, Microphone
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


def test_whole_numbers_are_scaled_by_their_type(samples: np.ndarray) -> None:
    """By hand: PCM of 8 bits in a WAV file is unsigned, 128 is silence (RIFF/WAVE, 1991)."""
    laeq = al.measure(samples, rate_hz=RATE_HZ).levels.laeq_db
    for same in (
        samples.astype(np.int32) << 16,
        (samples.astype(np.int32) + 32768).astype(np.uint16),
        samples / 32768,
    ):
        assert al.measure(same, rate_hz=RATE_HZ).levels.laeq_db == pytest.approx(laeq, abs=0.01)
    with pytest.raises(al.AudioLevelError, match="whole numbers of 64 bits have no full scale"):
        al.measure(samples.astype(np.int64), rate_hz=RATE_HZ)


def test_channels_in_rows_are_refused_at_once() -> None:
    for shape in ((2, 8000), (65, 8000)):
        with pytest.raises(al.AudioLevelError, match=r"give its transpose, \.T"):
            al.measure(np.zeros(shape), rate_hz=8000)
    with pytest.raises(al.AudioLevelError, match=r"has 65 channels.*\.T"):
        al.measure(np.zeros((8000, 65)), rate_hz=8000)


@pytest.mark.parametrize(
    "start",
    ["2026-03-03T12:00", np.datetime64("2026-03-03T12:00:00.000000000"), datetime(2026, 3, 3, 12)],
)
def test_a_moment_is_text_or_any_library_s_time(samples: np.ndarray, start: object) -> None:
    found = al.measure(samples, rate_hz=RATE_HZ, start=start)  # type: ignore[arg-type]  # of each
    assert found.start == datetime(2026, 3, 3, 12)


def test_slips_are_told_where_they_are_made(samples: np.ndarray) -> None:
    for wrong, said in (
        ({"start": "noon"}, "start: 'noon' is no date and time"),
        ({"start": "2026-03-03"}, "is no date and time"),
        ({"start": np.datetime64("NaT")}, "is no date and time"),
        ({"start": 5}, "is no date and time"),
        ({"channel": 0}, "channel: 0 is no channel"),
        ({"channel": "left"}, "channel: 'left' is no channel"),
        ({"from_s": "one"}, "from_s: 'one' is not seconds"),
        ({"rate_hz": "48k"}, "rate_hz = '48k' is no whole number"),
    ):
        with pytest.raises(al.AudioLevelError, match=said):
            al.Visit(samples, **{"rate_hz": RATE_HZ, **wrong})  # type: ignore[arg-type]  # wrong ones
    assert al.Visit(samples, rate_hz=RATE_HZ, from_s="0:01").part.begin_s == 1.0
    for slip, said in (
        ({"end_s": 1.0}, "ends at 1 s, before 2 s"),
        ({"label": "perhaps"}, "label 'perhaps'"),
        ({"start_s": float("nan")}, "are no seconds"),
    ):
        with pytest.raises(al.AudioLevelError, match=said):
            al.Mark(**{"start_s": 2.0, "end_s": 3.0, "sound": "horn", **slip})  # type: ignore[arg-type]  # wrong ones
    with pytest.raises(al.AudioLevelError, match=r"Site: limits\.false_triggers_per_day = -5 must"):
        al.measure(samples, rate_hz=RATE_HZ, site=al.Site(limits=Limits(-5)))


def test_progress_is_told_in_seconds_and_cancels_by_raising(file: Path, tmp_path: Path) -> None:
    told: list[tuple[float, float]] = []
    al.measure_all([file, file], progress=lambda done, total: told.append((done, total)))
    assert told[-1] == (60.0, 60.0)
    assert {total for _, total in told} == {60.0}
    assert [done for done, _ in told] == sorted(done for done, _ in told)

    def stop(done: float, total: float) -> None:
        raise KeyError("enough")

    history = tmp_path / "street.csv"
    with pytest.raises(KeyError, match="enough"):
        al.measure_all([file], history=history, progress=stop)
    # nothing half written is left
    assert list(tmp_path.iterdir()) == []


def test_levels_that_were_not_kept_are_no_assertion(file: Path) -> None:
    (bare,) = al.measure_all([file], keep_levels=False)
    with pytest.raises(al.AudioLevelError, match="its levels were not kept"):
        _ = bare.laf_db


def test_what_does_not_fit_is_refused(samples: np.ndarray, file: Path) -> None:
    with pytest.raises(al.AudioLevelError, match="rate_hz: samples in an array need"):
        al.measure(samples)
