"""Is the sample scenario what its README and its list of wanted sounds say?

The levels here are worked out with the filters of PyOctaveBand where it matters that they are not
our own; the rest compares the files with their own descriptions.
"""

import csv
import importlib.util
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

FOLDER = Path(__file__).parents[1] / "sample_audio"
RECORDING = FOLDER / "bridge_approach.ogg"
HIGH_GAIN = FOLDER / "bridge_approach_high_gain.flac"
BURIED = {409.0, 842.0}  # as the README says


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("make_sample", FOLDER / "make_sample.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_sample"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    yield module
    del sys.modules["make_sample"]


@pytest.fixture(scope="module")
def samples():
    return sf.read(RECORDING)[0]


@pytest.fixture(scope="module")
def laf_db(samples):
    """LAF every 10 ms in dB FS, by PyOctaveBand's filter and detector."""
    from pyoctaveband import time_weighting, weighting_filter

    square = time_weighting(weighting_filter(samples, 16_000, "A"), 16_000, "fast")
    return 10.0 * np.log10(np.maximum(square[159::160], 1e-12)) + 3.0103


def wanted():
    with (FOLDER / "wanted.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_folder_stays_small():
    total = sum(file.stat().st_size for file in FOLDER.iterdir() if file.is_file())
    assert total <= 12_000_000


def test_rates_and_durations():
    long, high = sf.info(RECORDING), sf.info(HIGH_GAIN)
    assert (long.samplerate, long.channels, long.duration) == (16_000, 1, 1200.0)
    assert (high.samplerate, high.channels, high.duration) == (16_000, 1, 120.0)
    assert (high.format, high.subtype) == ("FLAC", "PCM_16")


def test_the_good_recording_never_clips_and_leaves_some_headroom(samples):
    peak_db = 20.0 * np.log10(np.max(np.abs(samples)))
    assert -10.0 < peak_db < -6.0


def test_the_high_gain_recording_clips():
    high = sf.read(HIGH_GAIN, dtype="int16")[0].astype(np.int64)
    assert 0.005 < np.mean((high >= 32_767) | (high <= -32_768)) < 0.05


def test_the_high_gain_recording_is_the_same_two_minutes_24_db_up(samples):
    high = sf.read(HIGH_GAIN)[0]
    same = samples[540 * 16_000 : 660 * 16_000]
    apart = np.abs(same) < 0.02  # far from clipping, where the gain is the gain
    gain = np.dot(high[apart], same[apart]) / np.dot(same[apart], same[apart])
    assert 20.0 * np.log10(gain) == pytest.approx(24.0, abs=0.1)


def test_the_road_is_as_loud_as_a_main_road(laf_db):
    # 65 to 70 dB(A) at the kerb of a main road: common practice. SPL is dB FS + 110.
    spl_db = laf_db + 110.0
    assert 65.0 < 10.0 * np.log10(np.mean(10.0 ** (spl_db / 10.0))) < 70.0
    l10, l90 = np.percentile(spl_db, [90, 10])
    assert 10.0 < l10 - l90 < 20.0


def test_both_halves_come_from_the_same_traffic(laf_db):
    first, second = np.split(laf_db, 2)
    assert np.percentile(first, 90) == pytest.approx(np.percentile(second, 90), abs=1.5)
    assert np.percentile(first, 50) == pytest.approx(np.percentile(second, 50), abs=2.0)


@pytest.mark.parametrize("row", wanted(), ids=lambda row: f"{row['sound']} at {row['start_s']}")
def test_each_wanted_sound_is_heard_when_the_list_says(row, laf_db):
    start, end = (round(float(row[key]) * 100) for key in ("start_s", "end_s"))
    rise_db = np.max(laf_db[start : end + 5]) - np.max(laf_db[start - 20 : start])
    if float(row["start_s"]) in BURIED:
        assert rise_db < 3.0
        return
    assert rise_db > 20.0
    # The mixture reads at least the sound alone, and the traffic under it adds little.
    assert np.max(laf_db[start:end]) == pytest.approx(float(row["lafmax_db"]), abs=0.7)


def test_the_list_covers_every_kind_in_both_halves():
    rows = [row for row in wanted() if float(row["start_s"]) not in BURIED]
    for half in (0.0, 600.0):
        kinds = {r["sound"] for r in rows if half <= float(r["start_s"]) < half + 600.0}
        assert kinds == {"breaking glass", "shout", "vehicle horn", "metal bang"}


def test_the_site_file_matches_the_scene(script):
    site = tomllib.loads((FOLDER / "site.toml").read_text(encoding="utf-8"))
    assert site["microphone"]["spl_at_full_scale_db"] == script.SPL_AT_FULL_SCALE_DB
    steps = dict(site["gain"]["steps"])
    assert steps["highest"] - steps[site["gain"]["recorded_at"]] == script.HIGH_GAIN_DB
    assert site["schedule"]["traffic_by_hour"][7] == 7.03
    assert sum(site["schedule"]["traffic_by_hour"]) == pytest.approx(100.0, abs=0.1)


def test_vehicles_have_the_sound_power_of_the_directive(script):
    # Directive 2002/49/EC, annex II with table F-1 of 2021: A-weighted totals at 50 km/h, with
    # the A weighting of IEC 61672-1:2013, Table 3, at the octave frequencies.
    a_db = np.array([-26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1])
    for kind, expected_db in zip(script.CLASSES[:3], [98.44, 104.47, 107.24], strict=True):
        bands_db = script.sound_power_db(kind, 50.0) + a_db
        total_db = 10.0 * np.log10(np.sum(10.0 ** (bands_db / 10.0)))
        assert total_db == pytest.approx(expected_db, abs=0.03)


def test_a_passing_car_reads_what_half_space_spreading_says(script):
    # LWA 98.44 dB at 50 km/h over hard ground: LWA - 20 lg 7.5 - 8.0 = 72.9 dB(A) at 7.5 m.
    car = script.PassBy(7, 30.0, 7.5, 50.0 / 3.6, script.CLASSES[0], 0.0)
    start_s, pressure = script.pass_by(car)
    from pyoctaveband import weighting_filter

    weighted = weighting_filter(pressure, 16_000, "A")
    nearest = weighted[round((30.0 - start_s - 0.1) * 16_000) : round((30.1 - start_s) * 16_000)]
    level_db = 10.0 * np.log10(np.mean(nearest**2) / 4e-10)
    assert level_db == pytest.approx(72.9, abs=1.0)


def test_a_minute_made_again_is_the_minute_in_the_file(script, samples):
    from pyoctaveband import weighting_filter

    made = script.minute_samples(8)
    assert np.array_equal(made[:16_000], script.minute_samples(8)[:16_000])
    stored = samples[8 * 960_000 : 9 * 960_000]
    levels = []
    for minute in (made, stored):
        square = weighting_filter(minute, 16_000, "A") ** 2
        per_second = 10.0 * np.log10(square.reshape(60, -1).mean(axis=1))
        levels.append([10.0 * np.log10(square.mean()), *np.percentile(per_second, [10, 50, 90])])
    assert np.abs(np.subtract(levels[0], levels[1])).max() < 0.1
