"""Where nothing at all was recorded, and the line that is drawn across it."""

import numpy as np
import pytest

from audiolevel.ground.arrays import Array
from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.silence import bridged, silent_stretches, within

RATE_HZ = 8000


def _noise(seconds: float) -> Array:
    return np.random.default_rng(3).normal(0.0, 0.01, round(seconds * RATE_HZ))


def _laf(wave: Array) -> np.ndarray:
    laf = measure(recording_of_array(wave, RATE_HZ), keep_levels=True).laf
    assert laf is not None
    return laf


def test_a_stretch_begins_with_the_fall_and_ends_when_the_sound_has_settled() -> None:
    wave = _noise(60.0)
    wave[20 * RATE_HZ : 35 * RATE_HZ] = 0.0
    ((first, stop),) = silent_stretches(_laf(wave), 0.01)
    # the falling level is monotone from the first row on, give or take one
    assert first == pytest.approx(2000, abs=3)
    assert stop == 3600


def test_silence_at_both_ends_and_short_dropouts() -> None:
    wave = _noise(60.0)
    wave[: 5 * RATE_HZ] = 0.0
    wave[-7 * RATE_HZ :] = 0.0
    # a second falls by 35 dB and is a dropout, not a stretch
    wave[30 * RATE_HZ : 31 * RATE_HZ] = 0.0
    (_, opened), (closed, end) = silent_stretches(_laf(wave), 0.01)
    assert opened == 600
    assert closed == pytest.approx(5300, abs=3)
    assert end == 6000
    assert silent_stretches(_laf(_noise(10.0)), 0.01) == ()
    assert silent_stretches(_laf(0 * _noise(10.0)), 0.01) == ((0, 1000),)


def test_a_sound_of_half_a_second_between_two_silences_is_no_time_to_listen() -> None:
    wave = _noise(60.0)
    wave[20 * RATE_HZ : 30 * RATE_HZ] = 0.0
    wave[round(30.5 * RATE_HZ) : 40 * RATE_HZ] = 0.0
    stretches = silent_stretches(_laf(wave), 0.01)
    assert len(stretches) == 1
    assert stretches[0][1] == 4100


def test_the_noise_of_the_last_bit_is_sound() -> None:
    # one step of 24 bits up and down: the quietest that a file can hold beside nothing
    wave = 2.0**-23 * np.random.default_rng(1).choice([-1.0, 0.0, 1.0], 10 * RATE_HZ)
    assert silent_stretches(_laf(wave), 0.01) == ()


def test_the_line_joins_what_was_heard_and_holds_at_the_ends() -> None:
    laf = np.array([-20000, -20000, -5000, -4000, -20000, -20000, -20000, -6000, -20000], np.int16)
    gaps = ((0, 2), (4, 7), (8, 9))
    line = [-5000, -5000, -5000, -4000, -4500, -5000, -5500, -6000, -6000]
    assert bridged(laf, gaps).tolist() == line
    assert laf[0] == -20000
    assert within(gaps, 9).sum() == 6
    # nothing to go by
    assert bridged(laf, ((0, 9),)).tolist() == laf.tolist()
