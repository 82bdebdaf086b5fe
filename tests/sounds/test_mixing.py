"""Where site and sound together clip: mixed by us, and mixed and measured as a whole."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.decibels import level_db, mean_square
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.meter import Meter
from audiolevel.metering.visit import Visit
from audiolevel.sounds.arrival import WantedSound
from audiolevel.sounds.mixing import PlacementGround, Stretch, WaveformMixer
from audiolevel.sounds.received import find
from audiolevel.sounds.synthesis import at_full_scale, render


def _mixer(heard: Measurement, wanted: WantedSound, gain_db: float) -> WaveformMixer:
    rows = heard.summary.rows
    ground = PlacementGround((Stretch(heard, 0, rows),))
    return WaveformMixer(ground, wanted, gain_db, np.ones(rows, dtype=np.bool_))


def _whole(path: Path, wanted: WantedSound, row: int, gain_db: float) -> np.ndarray:
    """The recording with the sound in it, amplified, clipped and measured from its beginning."""
    wave, rate = sf.read(path)
    at = round(row * rate / 100)
    mixed = wave.copy()
    mixed[at : at + len(wanted.samples)] += wanted.samples[: len(wave) - at]
    clipped = np.clip(mixed * 10 ** (gain_db / 20), -1, 1)
    return Meter(rate, 1).feed(clipped.astype(np.float32)[:, None]).rows.laf_db


@pytest.mark.parametrize("name", ["vehicle horn", "breaking glass", "metal bang"])
def test_a_clipping_mixture_is_that_of_the_waveforms(recordings: Path, name: str) -> None:
    """On the real street, whose rumble nearly fills the scale, with sounds that clip by 10 dB."""
    path = recordings / "street_long.wav"
    heard = measure(path, gains=Gains([0.0]))
    wanted = WantedSound(name, 7.0, at_full_scale(render(find(name), 44100), 95.0), 44100)
    gain_db = 6.0
    mixer = _mixer(heard, wanted, gain_db)
    rows = np.random.default_rng(20).integers(300, 4000, 12)
    assert mixer.clips(rows, np.zeros(len(rows))).all()
    sound_db = wanted.course_db(gain_db)
    off, added = [], []
    assert heard.laf is not None
    for row in rows.tolist():
        truth = _whole(path, wanted, row, gain_db)[row : row + len(sound_db)]
        mixed = mixer.level(row, len(sound_db), 0.0) / 100
        off.append(np.abs(mixed - truth).max())
        site = heard.laf[row : row + len(sound_db)] / 100 + gain_db
        level = level_db(mean_square(site) + mean_square(sound_db))
        added.append(abs(level.max() - truth.max()))
    assert max(off) < 0.1
    assert np.quantile(added, 0.9) < 3.0  # what adding mean squares alone would have been off by


def test_only_placements_near_loud_moments_are_mixed(tmp_path: Path) -> None:
    rate = 16000
    wave = np.random.default_rng(21).normal(0, 0.01, 60 * rate)
    wave[30 * rate : 31 * rate] *= 20  # peaks of about 0.8
    sf.write(tmp_path / "a.wav", wave, rate, subtype="FLOAT")
    heard = measure(tmp_path / "a.wav", gains=Gains([0.0]))
    tone = 0.4 * np.sin(2 * np.pi * 1000 * np.arange(rate) / rate)
    mixer = _mixer(heard, WantedSound("tone", 1.0, tone, rate), 0.0)
    rows = np.array([500, 1500, 2950, 3020, 3200, 5000])
    near_the_peak = [False, False, True, True, False, False]
    assert mixer.clips(rows, np.zeros(6)).tolist() == near_the_peak
    # 0.4 of full scale and 8 dB more is full scale by itself
    assert mixer.clips(rows, np.full(6, 8.0)).all()
    assert mixer.share == pytest.approx(near_the_peak.count(True) / 60, abs=0.02)


def test_rows_of_the_ground_lead_back_to_their_recording(tmp_path: Path) -> None:
    for name in ("a.wav", "b.wav"):
        sf.write(tmp_path / name, np.random.default_rng(22).normal(0, 0.1, 32000), 16000)
    a, b = (measure(tmp_path / name, gains=Gains([0.0])) for name in ("a.wav", "b.wav"))
    ground = PlacementGround((Stretch(a, 50, 100), Stretch(b, 0, 200)))
    assert ground.where(0) == (a, 50)
    assert ground.where(99) == (a, 149)
    assert ground.where(100) == (b, 0)
    with pytest.raises(IndexError):
        ground.where(300)
    assert len(ground.second_peak_db()) == 300


def test_only_the_channel_listened_to_is_mixed(tmp_path: Path) -> None:
    """The same channel as a mono file gives the same mixture, hundredth for hundredth."""
    rng = np.random.default_rng(23)
    quiet, loud = rng.normal(0, 0.01, 10 * 16000), rng.normal(0, 0.3, 10 * 16000)
    sf.write(tmp_path / "two.wav", np.stack([loud, quiet], axis=1), 16000, subtype="FLOAT")
    sf.write(tmp_path / "one.wav", quiet, 16000, subtype="FLOAT")
    of_two = measure(Visit(tmp_path / "two.wav", channel=2), gains=Gains([0.0]))
    alone = measure(tmp_path / "one.wav", gains=Gains([0.0]))
    tone = 0.4 * np.sin(2 * np.pi * 1000 * np.arange(8000) / 16000)
    wanted = WantedSound("tone", 1.0, tone, 16000)
    levels = [_mixer(heard, wanted, 12.0).level(400, 60, 0.0) for heard in (of_two, alone)]
    assert np.array_equal(levels[0], levels[1])


def test_an_event_is_as_much_louder_as_its_offset_says(tmp_path: Path) -> None:
    silence = np.full(5 * 16000, 1e-5)
    sf.write(tmp_path / "a.wav", silence, 16000, subtype="FLOAT")
    heard = measure(tmp_path / "a.wav", gains=Gains([0.0]))
    tone = 0.01 * np.sin(2 * np.pi * 1000 * np.arange(16000) / 16000)
    mixer = _mixer(heard, WantedSound("tone", 1.0, tone, 16000), 0.0)
    plain, louder = (mixer.level(200, 90, offset).max() for offset in (0.0, 12.0))
    assert louder - plain == pytest.approx(1200, abs=2)


@pytest.mark.parametrize("name", ["vehicle horn", "breaking glass"])
def test_a_clipping_mixture_on_a_made_street_is_that_of_the_waveforms(
    tmp_path: Path, name: str
) -> None:
    """As on the real street, for machines that do not have it."""
    rate = 16000
    rng = np.random.default_rng(24)
    time = np.arange(30 * rate) / rate
    wave = 0.3 * np.sin(2 * np.pi * 40 * time) + rng.normal(0, 0.02, len(time))
    sf.write(tmp_path / "road.wav", wave, rate, subtype="FLOAT")
    heard = measure(tmp_path / "road.wav", gains=Gains([0.0]))
    wanted = WantedSound(name, 7.0, at_full_scale(render(find(name), rate), 95.0), rate)
    mixer = _mixer(heard, wanted, 6.0)
    for row in rng.integers(300, 2400, 6).tolist():
        rows = len(wanted.course_db(6.0))
        truth = _whole(tmp_path / "road.wav", wanted, row, 6.0)[row : row + rows]
        mixed = mixer.level(row, rows, 0.0) / 100
        assert np.abs(mixed - truth).max() < 0.1
