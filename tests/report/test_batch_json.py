"""The record that a batch keeps: that of `measure`, in the unit of the site's calibration."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.batch.discovery import Item
from audiolevel.metering.measurement import measure
from audiolevel.report.batch.record import record_of


def test_levels_are_in_the_unit_of_the_site_file(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.05, 8000)
    sf.write(tmp_path / "a.wav", noise, 8000)
    (tmp_path / "site.toml").write_text(
        "[microphone]\nspl_at_full_scale_db = 118\n[gain]\nrecorded_at = 2\n"
    )
    measurement = measure(tmp_path / "a.wav")
    plain = record_of(Item("a.wav", "gate"), measurement)
    calibrated = record_of(
        Item("a.wav", "gate", str(tmp_path / "site.toml"), gain_setting=2.0), measurement
    )
    # white noise of rms 0.05 is -23.0 dB FS unweighted: 20 lg 0.05 and 3.0 dB for a full-scale sine
    assert plain["lzeq_db"] == pytest.approx(-23.0, abs=0.15)
    assert calibrated["lzeq_db"] == pytest.approx(plain["lzeq_db"] + 118, abs=0.011)
    assert (plain["reference"], calibrated["reference"]) == ("dB FS", "dB SPL")
    assert (plain["gain_setting"], calibrated["gain_setting"]) == (None, 2.0)
    assert plain["path"] == "a.wav"  # as in the folder, not where it lay
    assert "uncalibrated" in plain["warnings"]
    assert "uncalibrated" not in calibrated["warnings"]
