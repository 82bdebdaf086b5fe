"""Where a recording's spectrum breaks off: known filters and conversions, and real streets."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from scipy.signal import butter, resample_poly, sosfilt

from audiolevel.ground.arrays import Array
from audiolevel.metering.bandwidth import LongTermSpectrum
from audiolevel.metering.measurement import measure

RATE_HZ = 16_000


def _top_hz(wave: Array, rate_hz: int = RATE_HZ) -> float:
    spectrum = LongTermSpectrum(rate_hz)
    # as a 16 bit file holds it
    coded = (np.round(wave * 32768) / 32768).astype(np.float32)
    for first in range(0, len(coded), 5 * rate_hz):
        spectrum.add(coded[first : first + 5 * rate_hz, None])
    return spectrum.top_hz()


def _street(seconds: int = 20) -> Array:
    """Noise that falls by 6 dB an octave, as a road does above 1 kHz."""
    noise = np.random.default_rng(4).normal(0, 0.05, seconds * RATE_HZ)
    return np.asarray(sosfilt(butter(1, 1000, fs=RATE_HZ, output="sos"), noise))


@pytest.mark.parametrize("cut_hz", [2000.0, 3400.0, 5000.0])
def test_a_steep_filter_ends_the_recording_near_its_corner(cut_hz: float) -> None:
    limited = sosfilt(butter(8, cut_hz, fs=RATE_HZ, output="sos"), _street())
    # to the sixth of an octave above its 3 dB corner
    assert cut_hz * 0.9 <= _top_hz(np.asarray(limited)) <= cut_hz * 2 ** (1 / 6) * 1.05


def test_a_file_converted_up_from_8_khz_ends_at_4_khz() -> None:
    narrow = resample_poly(resample_poly(_street(), 1, 2), 2, 1)
    assert _top_hz(narrow) == pytest.approx(4000, rel=0.13)


def test_a_falling_spectrum_a_notch_and_silence_are_no_end() -> None:
    street = _street()
    assert _top_hz(street) == RATE_HZ / 2
    notched = sosfilt(butter(4, (1800, 2600), "bandstop", fs=RATE_HZ, output="sos"), street)
    assert _top_hz(np.asarray(notched)) == RATE_HZ / 2
    assert _top_hz(np.zeros(3 * RATE_HZ)) == RATE_HZ / 2
    assert _top_hz(street[:2000]) == RATE_HZ / 2  # shorter than one piece


def test_opposite_channels_do_not_cancel() -> None:
    wave = _street().astype(np.float32)
    spectrum = LongTermSpectrum(RATE_HZ)
    spectrum.add(np.stack([wave, -wave], axis=1))
    assert spectrum.top_hz() == RATE_HZ / 2


@pytest.mark.parametrize("name", ["street_a.wav", "street_b.wav", "street_long.wav"])
def test_real_streets_carry_all_that_their_rate_allows(recordings: Path, name: str) -> None:
    heard = measure(recordings / name)
    assert heard.sample_rate_hz is not None
    assert heard.bandwidth_hz == heard.sample_rate_hz / 2


def test_a_real_street_through_a_telephone_s_filter(recordings: Path, tmp_path: Path) -> None:
    wave, rate_hz = sf.read(recordings / "street_long.wav")
    narrow = sosfilt(butter(8, 3400, fs=rate_hz, output="sos"), wave)
    sf.write(tmp_path / "narrow.wav", narrow, rate_hz)
    assert measure(tmp_path / "narrow.wav").bandwidth_hz == pytest.approx(3500, rel=0.15)
