"""From calibrator, meter, data sheet and display to the scale."""

from math import inf, nan
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.metering.calibration import (
    CalibrationMethod,
    Scale,
    fit_display,
    from_meter,
    from_sensitivity,
    from_tone,
    readings_at,
)
from audiolevel.metering.sound_files import open_recording
from audiolevel.site.site_file import read_site

RATE = 16000


def _tone(
    path: Path,
    level_dbfs: float = -20.0,
    hertz: float = 1000.0,
    seconds: float = 8.0,
    noise: float = 0.0005,
    shake_db: float = 0.0,
    lead_in_s: float = 3.0,
) -> Path:
    """Handling noise, then a calibrator's tone, as an installer would record it."""
    rng = np.random.default_rng(13)
    time = np.arange(round(seconds * RATE)) / RATE
    level = level_dbfs + shake_db * np.sin(2 * np.pi * time / 2.5)
    tone = 10 ** (level / 20) * np.sin(2 * np.pi * hertz * time)
    lead = rng.normal(0, 0.1, round(lead_in_s * RATE))
    wave = np.concatenate([lead, tone, lead])
    rumble = 0.05 * np.sin(2 * np.pi * 20 * np.arange(len(wave)) / RATE)
    sf.write(path, np.clip(wave + rumble + rng.normal(0, noise, len(wave)), -1, 1), RATE)
    return path


@pytest.mark.parametrize("tone_db", [94.0, 114.0])
def test_a_calibrators_tone_gives_full_scale(tmp_path: Path, tone_db: float) -> None:
    # a sine at −20 dB FS that stands for 94 dB SPL puts full scale at 114 dB SPL
    found = from_tone(open_recording(_tone(tmp_path / "tone.wav")), tone_db)
    assert found.spl_at_full_scale_db == pytest.approx(tone_db + 20, abs=0.03)
    assert 0.3 < found.uncertainty_db < 0.6
    assert found.method is CalibrationMethod.TONE
    assert found.tone_s in (7, 8)


def test_what_is_no_calibrator_is_refused_with_the_reason(tmp_path: Path) -> None:
    cases = {
        "a tone at 250 Hz, not 1000 Hz": {"hertz": 250.0},
        "not steady": {"shake_db": 3.0},
        "no steady tone": {"level_dbfs": -60.0, "noise": 0.05},
        "clips": {"level_dbfs": 0.5},
        "too short": {"seconds": 1.2, "lead_in_s": 0.2},
    }
    for match, change in cases.items():
        path = _tone(tmp_path / "x.wav", **change)
        with pytest.raises(RecordingError, match=match):
            from_tone(open_recording(path))


def test_data_sheet_and_meter() -> None:
    # AES17 full scale and a sensitivity of −26 dB FS at 94 dB SPL: full scale at 120 dB SPL
    assert from_sensitivity(-26.0).spl_at_full_scale_db == 120.0
    assert from_meter(68.5, -41.5).spl_at_full_scale_db == pytest.approx(110.0)
    with pytest.raises(SettingError, match="other units"):
        from_sensitivity(3.0)
    with pytest.raises(SettingError, match="between 10 and 150"):
        from_meter(-12.0, -40.0)


def test_spl_does_not_move_with_the_gain() -> None:
    scale = Scale(110.0)
    assert scale.unit == "dB SPL"
    assert scale.shown(-20.0) == 90.0
    # the same sound at 12 dB more gain reads 12 dB more on the input, and the same SPL
    assert scale.shown(-8.0, gain_db=12.0) == 90.0
    assert scale.full_scale(90.0, gain_db=12.0) == -8.0
    assert Scale().shown(-8.0, gain_db=12.0) == -8.0


def test_display_line_by_hand() -> None:
    line = fit_display([(40, -60.0), (60, -40.0), (80, -20.0)])
    assert (line.slope, line.offset, line.residual_db) == pytest.approx((1.0, 100.0, 0.0))
    assert line.shown(-33.0) == pytest.approx(67.0)
    # one reading 1.5 off: residuals of a least-squares line through three equidistant points
    assert fit_display([(40, -60.0), (61.5, -40.0), (80, -20.0)]).residual_db == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("readings", "match"),
    [
        ([(40, -60.0)], "two different levels"),
        ([(40, -60.0), (40, -40.0)], "two different"),
        ([(40, -40.0), (60, -60.0)], "falls as the level rises"),
        ([(40, -60.0), (80, -40.0), (60, -20.0)], "contradict each other"),
    ],
)
def test_contradictory_readings_are_refused(
    readings: list[tuple[float, float]], match: str
) -> None:
    with pytest.raises(SettingError, match=match):
        fit_display(readings)


def test_the_command_writes_a_site_file_once(tmp_path: Path) -> None:
    tone, site = _tone(tmp_path / "tone.wav"), tmp_path / "site.toml"
    run = CliRunner().invoke(
        main, ["calibrate", str(tone), "--tone-db", "94", "--write", str(site)]
    )
    assert run.exit_code == 0, run.output
    assert "full scale  114.0 dB SPL" in run.stdout
    assert read_site(site).microphone.spl_at_full_scale_db == pytest.approx(114.0, abs=0.03)
    pairs = ["--reading", "40", "-60", "--reading", "60", "-40", "--write", str(site)]
    assert CliRunner().invoke(main, ["calibrate", *pairs]).exit_code == 0
    assert len(read_site(site).display.readings) == 2
    before = site.read_text()
    again = CliRunner().invoke(main, ["calibrate", *pairs])
    assert again.exit_code == 1
    assert "already" in again.stderr
    assert site.read_text() == before


def test_the_camera_s_scale_is_read_at_moments_of_a_recording() -> None:
    # three steady tones 12 dB apart, each for ten seconds; the camera shows half of the decibels
    laf_db = np.repeat([-60.0, -48.0, -36.0], 1000)
    shown_at = [(5.0, 10.0), (15.0, 16.0), (25.0, 22.0)]
    readings = readings_at(laf_db, shown_at, "minutes.wav")
    assert readings == [(10.0, pytest.approx(-60)), (16.0, pytest.approx(-48)), (22.0, -36.0)]
    line = fit_display(readings)
    assert line.slope == pytest.approx(0.5)
    assert line.shown(-40.0) == pytest.approx(20.0)


def test_a_moment_between_two_sounds_is_refused() -> None:
    laf_db = np.repeat([-60.0, -48.0], 1000)
    with pytest.raises(SettingError, match="moves by 12 dB around 10 s"):
        readings_at(laf_db, [(10.0, 12.0)], "minutes.wav")
    with pytest.raises(SettingError, match=r"minutes\.wav: has no moment at 45 s; it is 20 s long"):
        readings_at(laf_db, [(45.0, 12.0)], "minutes.wav")


def test_the_uncertainty_of_a_shown_number_is_that_of_the_line_through_the_readings() -> None:
    # Draper and Smith 1998, section 1.4: s·√(1/n + (x − mean)²/Sxx), with s the 1 dB of a reading
    line = fit_display([(10.0, -60.0), (16.0, -48.0), (22.0, -36.0)])
    assert line.uncertainty(-48.0) == pytest.approx(1.96 * 0.5 * np.sqrt(1 / 3))
    by_hand = 1.96 * 0.5 * np.sqrt(1 / 3 + 24**2 / (2 * 12**2))
    assert line.uncertainty(-24.0) == pytest.approx(by_hand)
    assert line.beyond_db(-24.0) == pytest.approx(12.0)
    assert line.beyond_db(-50.0) == 0.0


@pytest.mark.parametrize("pair", [(3.4, nan), (nan, -50.0), (inf, -50.0), (3.4, 1e308)])
def test_a_reading_that_is_no_number_is_refused(pair: tuple[float, float]) -> None:
    with pytest.raises(SettingError, match="then dB FS between -300 and 0"):
        fit_display([pair, (6.0, -40.0)])


def test_readings_that_are_no_pairs_are_refused() -> None:
    triples = [(1.0, 2.0, 3.0), (2.0, 3.0, 4.0)]
    for given in (triples, [triples[0], (2.0, 3.0)], [("a", "b")]):
        with pytest.raises(SettingError, match="give pairs of a number shown and a level"):
            fit_display(given)  # type: ignore[arg-type]  # as a slip of the pen makes them


@pytest.mark.parametrize("at_s", [nan, inf])
def test_a_moment_that_is_no_number_is_refused(at_s: float) -> None:
    with pytest.raises(SettingError, match="has no moment at"):
        readings_at(np.full(3000, -50.0), [(at_s, 3.0)], "a.wav")


def test_silence_is_no_level_to_read_a_number_at() -> None:
    with pytest.raises(SettingError, match=r"a\.wav: holds only digital silence around 10 s"):
        readings_at(np.full(3000, -200.0), [(10.0, 3.0)], "a.wav")
