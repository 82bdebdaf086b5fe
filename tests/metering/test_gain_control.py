"""The test for gain control, on cameras that do and do not bend levels."""

import os
from pathlib import Path

import numpy as np
import pytest

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import RecordingError
from audiolevel.metering.gain_control import steadiness, steady_tone
from audiolevel.metering.recordings import recording_of_array
from tests.studies import gain_control_study

RATE_HZ = 16_000


def _scene(claps: int = 9, tone: float = 0.05, site: float = 0.002) -> Array:
    """Half a minute of noise with a tone and claps 2.5 s apart."""
    rng = np.random.default_rng(7)
    time = np.arange(28 * RATE_HZ) / RATE_HZ
    wave = rng.normal(0, site, len(time)) + tone * np.sin(2 * np.pi * 1000.3 * time)
    for i in range(claps):
        at = round((3 + 2.5 * i) * RATE_HZ)
        wave[at : at + 800] += 0.4 * np.exp(-np.arange(800) / 150) * rng.normal(0, 1, 800)
    return wave


def _held(wave: Array) -> float:
    return steadiness(recording_of_array(wave, RATE_HZ)).change_db


def test_a_steady_camera_is_steady_to_a_tenth_of_a_decibel() -> None:
    held = steadiness(recording_of_array(_scene(), RATE_HZ))
    assert held.change_db == pytest.approx(0.0, abs=0.1)
    assert held.claps == 9
    assert not held.gain_control
    # tone of 0.05 (−26.0 dB FS) over white noise whose A-weighted share is about a half
    assert held.tone_above_db == pytest.approx(27, abs=3)


@pytest.mark.parametrize("dip_db", [-6.0, -3.0, -0.5, 4.0])
def test_a_gain_that_moves_after_a_clap_is_found_with_its_size(dip_db: float) -> None:
    wave = _scene()
    for i in range(9):
        at = round((3.02 + 2.5 * i) * RATE_HZ)
        wave[at : at + RATE_HZ] *= 10 ** (dip_db / 20)
    held = steadiness(recording_of_array(wave, RATE_HZ))
    assert held.change_db == pytest.approx(dip_db, abs=0.15)
    assert held.gain_control


@pytest.mark.parametrize(
    ("wave", "said"),
    [
        (_scene(tone=0.0), "holds no steady tone near 1 kHz"),
        (_scene(tone=0.005), "dB above the site, 10 are needed"),
        (_scene(claps=3), "claps heard: 3, needed: 5"),
        (_scene()[: 5 * RATE_HZ], "is too short"),
    ],
)
def test_what_cannot_be_judged_is_refused_with_what_helps(wave: Array, said: str) -> None:
    with pytest.raises(RecordingError, match=said):
        _held(wave)


def test_the_tone_to_play_is_steady_harmless_and_judged_steady() -> None:
    tone = steady_tone(RATE_HZ)
    assert len(tone) == 60 * RATE_HZ
    # 12 dB below full scale, and no click at either end
    assert np.abs(tone).max() == pytest.approx(0.25, rel=0.01)
    assert np.abs(tone[:20]).max() < 1e-3
    assert np.abs(tone[-20:]).max() < 1e-3
    played = 0.2 * tone[3 * RATE_HZ : 31 * RATE_HZ] + _scene(tone=0.0)
    assert _held(played) == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("cameras", [24, pytest.param(100, marks=pytest.mark.slow)])
def test_simulated_cameras_over_real_streets_are_told_apart(
    recordings: Path, cameras: int, capsys: pytest.CaptureFixture[str]
) -> None:
    found = gain_control_study.streets(Path(os.environ["AUDIOLEVEL_RECORDINGS"]))
    share, false = gain_control_study.report(
        [gain_control_study.camera(number, found) for number in range(cameras)]
    )
    assert share >= 0.95
    assert false <= 0.02
