"""Calibrating from Python: by tone, meter, data sheet and the camera's own numbers."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al

RATE_HZ = 8000


@pytest.fixture(scope="module")
def tone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A calibrator's tone at −20 dB FS (AES17: a sine that fills the scale is 0 dB FS)."""
    path = tmp_path_factory.mktemp("calibrating") / "tone.wav"
    time = np.arange(12 * RATE_HZ) / RATE_HZ
    sf.write(path, 0.1 * np.sin(2 * np.pi * 1000 * time), RATE_HZ)
    return path


def test_three_ways_to_the_same_microphone(tone: Path) -> None:
    ways = (
        al.calibrate(tone, tone_db=94.0),  # IEC 60942: 94 dB at 1 kHz
        al.calibrate(tone, meter_laeq_db=94.0),  # A weighting is 0 dB at 1 kHz
        al.calibrate(sensitivity_dbfs=-20.0),
    )
    for way in ways:
        assert way.calibration is not None
        assert way.calibration.spl_at_full_scale_db == pytest.approx(114.0, abs=0.1)
        assert way.display is None


def test_the_camera_s_scale_is_the_line_through_its_numbers(tone: Path) -> None:
    # 2 shown for each dB: 20 at −40, 60 at −20
    found = al.calibrate(readings=[(20.0, -40.0), (60.0, -20.0), (40.0, -30.0)])
    assert found.display is not None
    assert found.display.shown(-25.0) == pytest.approx(50.0)
    assert found.calibration is None
    # moments of a steady tone are all at −20 dB FS
    at = al.calibrate(tone, shown_at=[(4.0, 60.0)], readings=[(20.0, -40.0)])
    assert at.readings[0] == (20.0, -40.0)
    assert at.readings[1] == pytest.approx((60.0, -20.0), abs=0.05)


def test_a_site_file_is_made_and_completed(tone: Path, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    assert al.calibrate(tone, tone_db=94.0).write_site(path) == path
    al.calibrate(readings=[(20.0, -40.0), (60.0, -20.0)]).write_site(path)
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    assert written["microphone"]["spl_at_full_scale_db"] == pytest.approx(114.0, abs=0.1)
    site = al.read_site(path)
    assert site.display.readings == ((20.0, -40.0), (60.0, -20.0))
    before = path.read_bytes()
    with pytest.raises(al.AudioLevelError, match=r"site\.toml"):
        al.calibrate(sensitivity_dbfs=-20.0).write_site(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("what", ["tone_db", "meter_laeq_db"])
def test_a_level_needs_its_recording(what: str) -> None:
    with pytest.raises(al.AudioLevelError, match=f"{what}: needs a recording"):
        al.calibrate(None, **{what: 94.0})  # type: ignore[arg-type]  # one of the two levels
