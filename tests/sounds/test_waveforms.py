"""The rhythm of each built-in sound, as its sources describe it."""

import numpy as np
import pytest

from audiolevel.sounds.catalogue import find
from audiolevel.sounds.synthesis import (
    course_of,
    render,
)


def test_voices_are_modulated_at_the_syllable_rate() -> None:
    course = course_of(render(find("normal voice"), 48_000), 48_000)
    spectrum = np.abs(np.fft.rfft(course - course.mean()))
    frequency = np.fft.rfftfreq(len(course), 0.01)
    slow = (frequency > 0.5) & (frequency < 20.0)
    assert frequency[slow][np.argmax(spectrum[slow])] == pytest.approx(4.0, abs=0.3)


def test_the_smoke_alarm_sounds_the_three_pulse_pattern() -> None:
    # ISO 8201: three pulses of 0.5 s with 0.5 s between them, then 1.5 s of silence.
    course = course_of(render(find("smoke alarm"), 48_000), 48_000)
    on = course > course.max() / 10.0
    edges = np.flatnonzero(np.diff(on.astype(int))) + 1
    lengths_s = np.diff(np.concatenate([[0], edges, [len(on)]])) / 100.0
    assert on[0]
    assert lengths_s == pytest.approx([0.5, 0.5, 0.5, 0.5, 0.5, 1.5] * 2, abs=0.02)


def test_the_vehicle_alarm_lasts_as_long_as_the_directive_says() -> None:
    # Directive 95/56/EC, annex, 4.2.2: at least 25 s, at most 30 s.
    sound = find("vehicle alarm")
    assert 25.0 <= sound.duration_s <= 30.0
    assert len(render(sound, 8_000)) == pytest.approx(sound.duration_s * 8_000, abs=1)


def test_glass_loses_its_low_part_early() -> None:
    # Crash tests of window panes: the part below 1 kHz lasts up to 0.2 s, the rest goes on.
    pressure = render(find("breaking glass"), 48_000)
    spectrum = np.fft.rfft(pressure)
    spectrum[np.fft.rfftfreq(len(pressure), 1 / 48_000) > 800.0] = 0.0
    low = np.fft.irfft(spectrum, len(pressure)) ** 2
    assert low[: 48_000 // 5].sum() > 0.97 * low.sum()
    late = pressure[48_000 // 5 :] ** 2
    assert 0.02 < late.sum() / np.sum(pressure**2) < 0.5
