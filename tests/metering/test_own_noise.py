"""Own noise in two parts: by hand, and against a simulated camera recorded at five gains."""

from functools import lru_cache

import numpy as np
import pytest
from scipy.signal import sosfilt

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import RecordingError
from audiolevel.metering.gain import Gains
from audiolevel.metering.headroom import gain_margins
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.own_noise import OwnNoise, quiet_level_db, two_parts
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.weighting import filters

RATE_HZ = 16_000
SPL_AT_FULL_SCALE_DB = 110.0
# dB(A) of the capsule, dB FS of the converter
CAPSULE_DBA, CONVERTER_DB = 31.0, -90.0
GAINS_DB = (-24.0, -12.0, 0.0, 12.0, 24.0)


def _white(level_db: float, seconds: float, seed: int) -> Array:
    """White noise of an A-weighted level in dB FS."""
    noise = np.random.default_rng(seed).normal(0, 1, round(seconds * RATE_HZ))
    weighted = sosfilt(filters(RATE_HZ).a, noise)
    return noise * 10 ** (level_db / 20) * np.sqrt(0.5 / np.mean(weighted**2))


@lru_cache(maxsize=8)
def _recorded(gain_db: float, site_dba: float | None = 50.0, seconds: float = 60.0) -> Measurement:
    """What the simulated camera records of a quiet yard, or of silence, at a gain."""
    wave = _white(CAPSULE_DBA - SPL_AT_FULL_SCALE_DB + gain_db, seconds, 1)
    wave = wave + _white(CONVERTER_DB, seconds, 40 + round(gain_db))
    if site_dba is not None:
        # a yard whose level wanders by some decibels
        slow = np.interp(np.arange(len(wave)), np.linspace(0, len(wave), 13), np.arange(13) % 3)
        yard = _white(site_dba - SPL_AT_FULL_SCALE_DB + gain_db, seconds, 9)
        wave = wave + yard * 10 ** (3 * (slow - 1) / 20)
    return measure(
        recording_of_array(wave, RATE_HZ),
        gains=Gains(GAINS_DB, OwnNoise(CAPSULE_DBA - SPL_AT_FULL_SCALE_DB, CONVERTER_DB, True)),
    )


def test_two_parts_add_as_powers() -> None:
    noise = OwnNoise(-80.0, -90.0, stated=True)
    assert noise.at(0.0) == pytest.approx(10 * np.log10(1e-8 + 1e-9))
    assert noise.at(-10.0) == pytest.approx(-90.0 + 3.01, abs=0.01)
    assert [noise.limiting(gain) for gain in (-24.0, -10.0, 0.0)] == [
        "converter",
        "converter",
        "capsule",
    ]
    assert OwnNoise(None, -98.0).at(12.0) == pytest.approx(-98.0)


def test_noise_recorded_alone_moves_to_what_the_camera_has_there() -> None:
    noise = OwnNoise(-80.0, -90.0, stated=True)
    for gain_db in (-24.0, -6.0, 6.0, 24.0):
        moved = float(noise.moved(np.array(noise.at(0.0)), gain_db))
        assert moved == pytest.approx(noise.at(gain_db), abs=1e-6)
    # a loud site is a shift
    assert float(noise.moved(np.array(-30.0), -24.0)) == pytest.approx(-54.0, abs=0.01)
    # of which nothing is stated nothing is changed
    assert float(OwnNoise(-80.0, -90.0).moved(np.array(-85.0), -24.0)) == pytest.approx(-109.0)


@pytest.mark.parametrize("recorded_at", [-12.0, 0.0, 12.0])
def test_footroom_at_five_gains_is_what_the_camera_s_own_recordings_show(
    recorded_at: float,
) -> None:
    """The room from L90 to the noise, worked out from one gain and measured at the others."""
    heard = _recorded(recorded_at)
    known = OwnNoise(CAPSULE_DBA - SPL_AT_FULL_SCALE_DB + recorded_at, CONVERTER_DB, stated=True)
    for gain_db in GAINS_DB:
        shift_db = gain_db - recorded_at
        worked_out = gain_margins(
            shift_db,
            clipped_share=0.0,
            sample_peak_db=-10.0,
            percentiles_db=heard.levels.percentiles_db,
            noise=known,
            clipped_share_limit=0.001,
        )
        there = _recorded(gain_db).levels.percentiles_db["L90"]
        silence = _recorded(gain_db, None).levels.laeq_db
        assert worked_out.footroom_db == pytest.approx(there - silence, abs=1.0)


def test_simulated_levels_are_those_of_the_camera_s_own_recording() -> None:
    heard = _recorded(0.0)
    for gain, gain_db in zip(heard.gains, GAINS_DB, strict=True):
        own = _recorded(gain_db).laf
        assert own is not None
        assert gain.laf is not None
        for percent in (10, 50, 90):
            ours, truth = (np.percentile(laf[100:], percent) / 100 for laf in (gain.laf, own))
            assert ours == pytest.approx(truth, abs=0.4)


def test_two_quiet_recordings_tell_both_parts() -> None:
    quiet = []
    for gain_db in (-12.0, 24.0):
        laf = _recorded(gain_db, None).laf
        assert laf is not None
        seconds = 10 ** (laf[:6000].reshape(60, 100) / 1000)
        quiet.append((gain_db, quiet_level_db(10 * np.log10(seconds.mean(axis=1)))))
    found = two_parts(quiet)
    assert found.capsule_db == pytest.approx(CAPSULE_DBA - SPL_AT_FULL_SCALE_DB, abs=0.3)
    assert found.converter_db == pytest.approx(CONVERTER_DB, abs=1.0)
    assert found.stated


def test_what_cannot_be_told_apart_is_not_told() -> None:
    # a camera whose converter drowns its capsule: the level does not rise at all
    flat = two_parts([(0.0, -90.0), (20.0, -90.0)])
    assert flat.capsule_db is None
    assert flat.converter_db == pytest.approx(-90.0, abs=0.1)
    with pytest.raises(RecordingError, match="at least 10 dB apart"):
        two_parts([(0.0, -90.0), (6.0, -88.0)])
    with pytest.raises(RecordingError, match=r"rises by 26\.0 dB where the gain rises by 20 dB"):
        two_parts([(0.0, -90.0), (20.0, -64.0)])


def test_somebody_who_moves_a_chair_is_left_out_of_the_quiet() -> None:
    seconds = np.full(40, -80.0)
    seconds[5:25] = -60.0
    assert quiet_level_db(seconds) == pytest.approx(-80.0)


def test_a_level_that_falls_where_the_gain_rises_is_of_swapped_gains() -> None:
    # a capsule of -70 dB FS alone: 12 dB more gain are 12 dB more noise
    with pytest.raises(RecordingError) as refused:
        two_parts([(0.0, -58.0), (12.0, -70.0)])
    assert str(refused.value) == (
        "--noise: the level falls by 12.0 dB where the gain rises by 12 dB: were the gains "
        "swapped? Give each recording with the gain that it was made at"
    )
    # the error of measurement alone
    assert two_parts([(0.0, -80.0), (12.0, -80.4)]).capsule_db is None
    # the two outermost are right, and the one between them is not
    with pytest.raises(RecordingError, match=r"falls by 9\.0 dB where the gain rises by 6 dB"):
        two_parts([(12.0, -58.0), (6.0, -79.0), (-12.0, -82.0), (0.0, -70.0)])
