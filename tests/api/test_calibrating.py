"""Calibrating from Python: by tone, meter, data sheet and the camera's own numbers."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.api.sounding import render_gain_test

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
        al.calibrate(al.Tone(tone, 94.0)),  # IEC 60942: 94 dB at 1 kHz
        al.calibrate(al.BesideMeter(tone, 94.0)),  # A weighting is 0 dB at 1 kHz
        al.calibrate(al.DataSheet(-20.0)),
    )
    for way in ways:
        assert way.calibration is not None
        assert way.unit in repr(way)
        assert "114.0 dB SPL at full scale" in repr(way)
        assert way.calibration.spl_at_full_scale_db == pytest.approx(114.0, abs=0.1)
        assert way.display is None


def test_the_camera_s_scale_is_the_line_through_its_numbers(tone: Path) -> None:
    # 2 shown for each dB: 20 at −40, 60 at −20
    found = al.calibrate(readings=[(20.0, -40.0), (60.0, -20.0), (40.0, -30.0)])
    assert found.display is not None
    assert found.display.shown(-25.0) == pytest.approx(50.0)
    assert found.calibration is None
    assert repr(found) == "<CalibrationResult: full scale not known; levels in dB FS>"
    # moments of a steady tone are all at −20 dB FS
    at = al.calibrate(filmed=al.Filmed(tone, [(4.0, 60.0)]), readings=[(20.0, -40.0)])
    assert at.readings[0] == (20.0, -40.0)
    assert at.readings[1] == pytest.approx((60.0, -20.0), abs=0.05)


def test_a_site_file_is_made_and_completed(tone: Path, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    assert al.calibrate(al.Tone(tone, 94.0)).write_site(path) == path
    al.calibrate(readings=[(20.0, -40.0), (60.0, -20.0)]).write_site(path)
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    assert written["microphone"]["spl_at_full_scale_db"] == pytest.approx(114.0, abs=0.1)
    site = al.read_site(path)
    assert site.display.readings == ((20.0, -40.0), (60.0, -20.0))
    before = path.read_bytes()
    with pytest.raises(al.AudioLevelError, match=r"site\.toml"):
        al.calibrate(al.DataSheet(-20.0)).write_site(path)
    assert path.read_bytes() == before


def _quiet(path: Path, gain_db: float) -> Path:
    """White noise of a capsule (−70 dB FS at gain 0) and of a converter (−80 dB FS)."""
    rng = np.random.default_rng(round(gain_db) + 50)
    noise = [rng.normal(0, 10 ** (level / 20), 20 * RATE_HZ) for level in (-70 + gain_db, -80)]
    sf.write(path, sum(noise), RATE_HZ, subtype="FLOAT")
    return path


def test_noise_in_two_parts_joins_what_is_known(tone: Path, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text('[gain]\nrecorded_at = "mid"\nsteps = [["mid", 6.0], ["high", 30.0]]\n')
    al.calibrate(al.Tone(tone, 94.0)).write_site(path)
    recordings = [
        (_quiet(tmp_path / "a.wav", 0.0), "mid"),
        (_quiet(tmp_path / "b.wav", 24.0), "high"),
    ]
    found = al.calibrate(noise=recordings, site=path)
    assert found.noise is not None
    assert found.noise.capsule_db is not None
    # both are white, so A weighting takes the same from each
    assert found.noise.capsule_db - found.noise.converter_db == pytest.approx(10.0, abs=0.7)
    assert found.self_noise_dba == pytest.approx(found.noise.capsule_db + 114.0, abs=0.1)
    found.write_site(path)
    microphone = al.read_site(path).microphone
    assert microphone.converter_noise_dbfs == pytest.approx(found.noise.converter_db, abs=0.05)
    assert microphone.calibration_within_db == pytest.approx(0.4, abs=0.05)


@pytest.fixture
def silent(tmp_path: Path) -> Path:
    sf.write(tmp_path / "silent.wav", np.zeros(20 * RATE_HZ), RATE_HZ)
    return tmp_path / "silent.wav"


def test_digital_silence_calibrates_nothing(silent: Path, tmp_path: Path) -> None:
    quiet = _quiet(tmp_path / "quiet.wav", 12.0)
    for given in (
        {"by": al.BesideMeter(silent, 50.0)},
        {"noise": [(silent, 0), (quiet, 12)]},
    ):
        with pytest.raises(al.AudioLevelError, match=r"silent\.wav: holds only digital silence"):
            al.calibrate(**given)


def test_a_stretch_of_digital_silence_is_no_quiet(tmp_path: Path) -> None:
    """A recorder that drops out for a third of the time has no less noise than before."""
    paths = [_quiet(tmp_path / f"{gain}.wav", gain) for gain in (0, 24)]
    whole = al.calibrate(noise=list(zip(paths, (0, 24), strict=True))).noise
    for path in paths:
        samples, rate_hz = sf.read(path)
        samples[: 7 * rate_hz] = 0
        sf.write(path, samples, rate_hz, subtype="FLOAT")
    part = al.calibrate(noise=list(zip(paths, (0, 24), strict=True))).noise
    assert whole is not None
    assert part is not None
    assert part.converter_db == pytest.approx(whole.converter_db, abs=0.3)
    assert part.capsule_db == pytest.approx(whole.capsule_db, abs=0.3)


def test_each_gain_needs_a_recording_of_its_own(tmp_path: Path) -> None:
    one = _quiet(tmp_path / "one.wav", 0.0)
    copy = tmp_path / "copy.wav"
    copy.write_bytes(one.read_bytes())
    with pytest.raises(al.AudioLevelError, match=r"one\.wav: is given twice; each gain needs"):
        al.calibrate(noise=[(one, 0), (one, 12)])
    with pytest.raises(al.AudioLevelError, match=r"copy\.wav: holds the same sound as .*one\.wav"):
        al.calibrate(noise=[(one, 0), (copy, 12)])
    with pytest.raises(al.AudioLevelError, match=r"--noise .*one\.wav: gain \+nan dB"):
        al.calibrate(noise=[(one, float("nan")), (copy, 12)])


def test_what_a_site_file_would_refuse_is_not_proposed(tmp_path: Path) -> None:
    # noise of -147 dB FS beside a meter that read 60 dB: full scale near 207 dB SPL
    noise = np.random.default_rng(3).normal(0, 3e-8, 20 * RATE_HZ)
    sf.write(tmp_path / "faint.wav", noise, RATE_HZ, subtype="FLOAT")
    with pytest.raises(al.AudioLevelError) as refused:
        al.calibrate(al.BesideMeter(tmp_path / "faint.wav", 60.0))
    assert "microphone.spl_at_full_scale_db = 20" in str(refused.value)
    assert "must lie between 40 and 200; check the recordings" in str(refused.value)


def test_a_calibrator_s_two_levels_are_twenty_decibels_apart_or_it_is_said(
    tone: Path, tmp_path: Path
) -> None:
    time = np.arange(12 * RATE_HZ) / RATE_HZ
    for name, amplitude in (("loud", 1.0), ("pressed", 0.7)):
        wave = amplitude * np.sin(2 * np.pi * 1000 * time)
        sf.write(tmp_path / f"{name}.wav", 0.999 * wave, RATE_HZ, subtype="FLOAT")
    good = al.calibrate(al.Tone(tone, 94.0, tmp_path / "loud.wav"))
    assert good.tones_apart_db == pytest.approx(20.0, abs=0.05)
    assert good.notices == ()
    bad = al.calibrate(al.Tone(tone, 94.0, tmp_path / "pressed.wav"))
    assert bad.tones_apart_db == pytest.approx(20.0 + 20 * np.log10(0.7), abs=0.05)
    assert [one.code for one in bad.notices] == ["nonlinear"]
    # two full scales that contradict each other are none, least of all for a site file
    assert bad.calibration is None
    assert "spl_at_full_scale_db" not in bad.to_text()
    with pytest.raises(al.AudioLevelError, match=r"site\.toml: is not written, .* 16\.9 dB apart"):
        bad.write_site(tmp_path / "site.toml")
    assert not (tmp_path / "site.toml").exists()


@pytest.mark.parametrize(("first_db", "way"), [(94.0, "louder"), (114.0, "quieter")])
def test_a_calibrator_s_levels_the_wrong_way_round_are_two_files_swapped(
    tone: Path, tmp_path: Path, first_db: float, way: str
) -> None:
    # full scale, 20 dB above the other
    wave = np.sin(2 * np.pi * 1000 * np.arange(12 * RATE_HZ) / RATE_HZ)
    loud = tmp_path / "loud.wav"
    sf.write(loud, 0.999 * wave, RATE_HZ, subtype="FLOAT")
    pair = (loud, tone) if first_db == 94.0 else (tone, loud)
    with pytest.raises(al.AudioLevelError) as refused:
        al.calibrate(al.Tone(pair[0], first_db, pair[1]))
    said = str(refused.value)
    assert said.startswith(f"{pair[0]}: is 20.0 dB {way} than {pair[1]}, yet {first_db:g} dB")
    assert said.endswith("swap the two files")


def test_the_gain_test_s_own_tone_is_made_played_and_judged(tmp_path: Path) -> None:
    made = render_gain_test(tmp_path / "tone.wav", rate_hz=RATE_HZ)
    assert made.to_object()["tone_hz"] == 1000.0
    assert "no louder than a conversation" in " ".join(made.to_text().split())
    wave, _ = sf.read(tmp_path / "tone.wav")
    rng = np.random.default_rng(3)
    wave = wave[: 28 * RATE_HZ] + rng.normal(0, 1e-3, 28 * RATE_HZ)
    for i in range(9):
        at = round((3 + 2.5 * i) * RATE_HZ)
        wave[at : at + 400] += 0.5 * np.exp(-np.arange(400) / 80) * rng.normal(0, 1, 400)
    sf.write(tmp_path / "heard.wav", np.clip(wave, -1, 1), RATE_HZ)
    found = al.calibrate(steady=tmp_path / "heard.wav")
    assert found.steadiness is not None
    assert not found.steadiness.gain_control
    found.write_site(tmp_path / "site.toml")
    assert al.read_site(tmp_path / "site.toml").microphone.gain_control == "none found"
