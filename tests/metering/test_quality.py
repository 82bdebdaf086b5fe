"""Each caution about a recording comes with its fault, and with nothing else."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from audiolevel.ground.arrays import Array
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.quality import clipping_notices, quality_notices
from audiolevel.metering.recordings import recording_of_array

RATE_HZ = 8000
SCALE = Scale(110.0)


def _noise(level: float = 0.03, seconds: float = 20.0) -> Array:
    return np.random.default_rng(6).normal(0, level, round(seconds * RATE_HZ))


@lru_cache(maxsize=1)
def _plain() -> Measurement:
    return _long(_noise())


def _long(samples: Array, gains: Gains | None = None) -> Measurement:
    """A measurement that counts as one of ten minutes."""
    one = measure(recording_of_array(samples, RATE_HZ), gains=gains)
    return replace(one, levels=replace(one.levels, duration_s=600.0))


def _codes(one: Measurement, scale: Scale = SCALE, floor_db: float | None = None) -> list[str]:
    # as a site file that states the converter's noise
    noise = None if floor_db is None else lambda _: OwnNoise(None, floor_db, stated=True)
    return [found.code for found in quality_notices(one, scale, noise)]


def test_a_good_recording_has_no_caution() -> None:
    assert _codes(_plain()) == []
    assert _codes(_plain(), Scale()) == ["uncalibrated"]


def test_silence_is_not_quiet_too() -> None:
    assert _codes(_long(np.zeros(10 * RATE_HZ))) == ["silent"]


@pytest.mark.parametrize(("share", "cause"), [(0.0004, "some"), (0.01, "heavy")])
def test_clipping_is_told_with_its_share(share: float, cause: str) -> None:
    samples = _noise(0.1)
    # in pairs: one sample at full scale may be a peak that just fits
    at = np.linspace(0, len(samples) - 9, round(share * len(samples) / 2)).astype(int)
    samples[at], samples[at + 1] = 1.0, 1.0
    clipped = next(n for n in quality_notices(_long(samples), SCALE) if n.code == "clipped")
    assert clipped.cause == cause
    assert clipped.facts["clipped_share"] == pytest.approx(share, rel=0.05)


def test_rumble_the_ear_does_not_hear_is_told() -> None:
    # 20 Hz at −1 dB FS: A weighting takes 50.5 dB (IEC 61672-1:2013, Table 3)
    time = np.arange(20 * RATE_HZ) / RATE_HZ
    swelling = np.minimum(time / 5, 1)  # or its start would be a click, which the ear does hear
    rumble = 10 ** (-1 / 20) * swelling * np.sin(2 * np.pi * 20 * time)
    found = [n for n in quality_notices(_long(rumble), SCALE) if n.code == "low-frequency overload"]
    assert len(found) == 1
    assert found[0].facts["peak_below_db"] == pytest.approx(1.0, abs=0.01)
    assert found[0].facts["crest_db"] == pytest.approx(50.5, abs=0.5)
    assert "low-frequency overload" not in _codes(_long(10 ** (-6 / 20) * rumble))


def test_quiet_is_judged_against_the_floor_that_is_known() -> None:
    l90 = _plain().levels.percentiles_db["L90"]
    assert _codes(_plain(), floor_db=l90 - 3.0) == ["quiet"]
    assert _codes(_plain(), floor_db=l90 - 30.0) == []


@pytest.mark.parametrize(("seconds", "short"), [(60.0, True), (598.0, True), (599.5, False)])
def test_less_than_ten_minutes_is_short_but_for_a_second(seconds: float, short: bool) -> None:
    one = replace(_plain(), levels=replace(_plain().levels, duration_s=seconds))
    found = quality_notices(one, SCALE)
    assert [n.code for n in found] == (["short"] if short else [])
    if short:
        assert found[0].facts["more_s"] == 600.0 - seconds


def test_a_broken_file_and_a_miswired_channel_are_told() -> None:
    one = replace(_plain(), truncated=True, channel_faults=[(2, "dead"), (3, "inverted")])
    found = quality_notices(one, SCALE)
    assert [(n.code, n.facts.get("channel")) for n in found] == [
        ("truncated", None),
        ("channel dead", 2),
        ("channel inverted", 3),
    ]


def test_a_gain_is_cautioned_against_only_where_it_clips_more_than_the_recording() -> None:
    # 3σ of the noise at full scale: 0.27 % of a normal distribution lie beyond
    gain_db = 20 * np.log10(1 / 0.09)
    one = _long(_noise(), Gains((0.0, gain_db)))
    (found,) = clipping_notices(one, gain_db)
    assert found.cause == "at gain"
    assert found.facts["clipped_share"] == pytest.approx(0.0027, rel=0.1)
    assert clipping_notices(one, 0.0) == []


def test_a_narrow_recording_and_an_irregular_one_are_told() -> None:
    # 2 kHz of a possible 4
    narrow = np.asarray(sosfilt(butter(10, 1800, fs=RATE_HZ, output="sos"), _noise()))
    coded = _long(np.round(narrow * 32768) / 32768)
    (found,) = [one for one in quality_notices(coded, SCALE) if one.code == "bandwidth"]
    assert found.facts["half_hz"] == 4000.0
    assert found.facts["top_hz"] == pytest.approx(1900, rel=0.15)
    broken = _noise()
    broken[4 * RATE_HZ : 4 * RATE_HZ + 800] = 0.0
    broken[8 * RATE_HZ : 8 * RATE_HZ + 1024] = broken[8 * RATE_HZ - 1024 : 8 * RATE_HZ]
    found_here = [(n.code, n.cause) for n in quality_notices(_long(broken), SCALE)]
    assert found_here == [("irregular", "dropouts"), ("irregular", "repeats")]
