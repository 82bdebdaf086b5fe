"""A sound as it arrives: its peak and level by hand, and where it clips."""

import math

import numpy as np
import pytest

from audiolevel.sounds.arrival import WantedSound


def _tone(amplitude: float) -> WantedSound:
    time_s = np.arange(16_000) / 16_000
    return WantedSound("tone", 10.0, amplitude * np.sin(2 * np.pi * 1000 * time_s), 16_000)


def test_a_steady_tone_reads_its_level() -> None:
    # at 1 kHz A weighting is 0 dB; a second is eight time constants of F: 0.0015 dB short
    tone = _tone(0.1)
    assert tone.peak_db == pytest.approx(-20.0, abs=0.01)
    assert tone.lafmax_db == pytest.approx(-20.0, abs=0.02)


def test_it_clips_where_its_peak_passes_full_scale() -> None:
    tone = _tone(0.5)  # 6.02 dB under full scale
    assert not tone.clips_at(6.0)
    assert tone.clips_at(6.1)


def test_its_course_rises_from_silence_and_falls_by_34_7_db_a_second() -> None:
    course = _tone(0.1).course_db()
    # IEC 61672-1:2013, 5.8: F has a time constant of 0.125 s, 10 lg e / 0.125 = 34.7 dB/s
    assert course[9] == pytest.approx(-20 + 10 * np.log10(1 - np.exp(-0.1 / 0.125)), abs=0.1)
    assert course[119] - course[169] == pytest.approx(0.5 * 10 * np.log10(math.e) / 0.125, abs=0.05)


def test_silence_has_a_peak_that_can_be_told() -> None:
    assert WantedSound("none", 1.0, np.zeros(100), 8000).peak_db == pytest.approx(-200.0)
