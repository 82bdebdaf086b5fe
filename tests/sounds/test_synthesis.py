"""Waveforms at the microphone: level, spectrum, time course, and what a slow camera loses."""

from typing import Any

import numpy as np
import pytest
from pyoctaveband import weighting_filter

from audiolevel.sounds.catalogue import SOUNDS, find
from audiolevel.sounds.synthesis import (
    at_full_scale,
    course_of,
    laf_course_db,
    lafmax_db,
    render,
)
from tests.sounds.bands import a_weighted_square, fast_level_db

NAMES = [sound.name for sound in SOUNDS]


# ANSI/ASA S3.5-1997, Table 3: overall unweighted levels as printed, dB SPL at 1 m, and the
# A-weighted band sums worked out from the same table with IEC 61672-1 weights.
SPEECH = {
    "normal voice": (62.35, 59.24),
    "raised voice": (68.34, 66.37),
    "loud voice": (74.85, 73.86),
    "shout": (82.30, 82.22),
}


def third_octave_energy(pressure_pa: Any, band_hz: Any, rate_hz: int = 48_000) -> Any:
    spectrum = np.abs(np.fft.rfft(pressure_pa)) ** 2
    frequency = np.fft.rfftfreq(len(pressure_pa), 1.0 / rate_hz)
    edge = 10.0**0.05
    return np.array(
        [spectrum[(frequency >= f / edge) & (frequency < f * edge)].sum() for f in band_hz]
    )


@pytest.mark.parametrize("name", [n for n in NAMES if find(n).measure == "LAFmax"])
def test_rendered_at_its_own_distance_it_reads_its_lafmax(name: Any) -> None:
    sound = find(name)
    square = a_weighted_square(render(sound, 48_000, distance_m=sound.at_m))
    # Breaking glass reaches 16 kHz, where digital weightings differ by some tenths.
    assert np.max(fast_level_db(square)) == pytest.approx(sound.level_db, abs=0.2)


@pytest.mark.parametrize("name", SPEECH)
def test_voices_have_the_standard_speech_level_and_spectrum(name: Any) -> None:
    sound, (overall_db, weighted_db) = find(name), SPEECH[name]
    pressure = render(sound, 48_000)
    assert 10.0 * np.log10(np.mean(pressure**2) / 4e-10) == pytest.approx(overall_db, abs=0.1)
    mean_square = a_weighted_square(pressure).sum() / len(pressure)
    assert 10.0 * np.log10(mean_square) == pytest.approx(weighted_db, abs=0.1)
    # Spectrum levels at 500, 1000 and 2000 Hz, printed, plus 20.65, 23.65 and 26.65 dB of band.
    printed = {
        "normal voice": (34.27, 25.01, 17.32),
        "raised voice": (40.15, 33.86, 25.32),
        "loud voice": (44.85, 42.16, 34.39),
        "shout": (49.24, 51.31, 44.32),
    }[name]
    bands = third_octave_energy(pressure, 1000.0 * 10.0 ** np.array([-0.3, 0.0, 0.3]))
    scale = np.mean(pressure**2) / np.sum(np.abs(np.fft.rfft(pressure)[1:]) ** 2)
    bands_db = 10.0 * np.log10(bands * scale / 4e-10)
    assert bands_db == pytest.approx(np.add(printed, [20.65, 23.65, 26.65]), abs=0.15)


@pytest.mark.parametrize("name", NAMES)
def test_the_waveform_has_the_spectrum_the_table_states(name: Any) -> None:
    sound = find(name)
    energy = third_octave_energy(render(sound, 48_000), sound.band_hz)
    share = 10.0 ** (np.array(sound.band_db) / 10.0)
    heard_db = 10.0 * np.log10(energy / energy.sum() + 1e-9)
    stated_db = 10.0 * np.log10(share / share.sum() + 1e-9)
    audible = stated_db > -25.0
    assert heard_db[audible] == pytest.approx(stated_db[audible], abs=1.6)


def test_a_slow_camera_loses_what_lies_above_half_its_rate() -> None:
    # White noise to 17.8 kHz: what is left below 4 kHz of a near-white sound, A-weighted.
    glass = find("breaking glass")
    levels = [lafmax_db(render(glass, rate) / 20e-6, rate) for rate in (48_000, 16_000, 8_000)]
    assert levels[0] == pytest.approx(95.0, abs=0.05)
    assert levels[0] - levels[1] > 1.0
    assert levels[1] - levels[2] > 2.0


def test_time_course_adds_up_to_the_waveforms_energy() -> None:
    sound = find("metal bang")
    course = course_of(render(sound, 48_000) / 20e-6, 48_000)
    energy = a_weighted_square(render(sound, 48_000, distance_m=1.0)).sum() / 48_000
    assert 10.0 * np.log10(course.sum() * 0.01) == pytest.approx(10.0 * np.log10(energy), abs=0.1)
    assert len(course) == 100


def test_laf_course_follows_the_fast_detector() -> None:
    sound = find("dog's bark")
    samples = at_full_scale(render(sound, 48_000), 110.0)
    course_db = laf_course_db(samples, 48_000)
    square = weighting_filter(np.concatenate([samples, np.zeros(48_000)]), 48_000, "A") ** 2
    expected_db = fast_level_db(square)[479::480] + 3.0103
    loud = expected_db > expected_db.max() - 25.0
    assert course_db[loud] == pytest.approx(expected_db[loud], abs=0.1)
    # After the last bark the F weighting falls by 34.7 dB/s (IEC 61672-1:2013, 5.8.2).
    assert course_db[-50] - course_db[-1] == pytest.approx(0.49 * 34.7, abs=0.1)


def test_a_clipped_sound_is_heard_up_to_full_scale_only() -> None:
    # A steady tone at full scale turned up without end is a square wave: 3.01 dB more.
    time_s = np.arange(16_000) / 16_000
    tone = np.sin(2 * np.pi * 1000.0 * time_s)
    assert laf_course_db(tone, 16_000).max() == pytest.approx(0.0, abs=0.05)
    hard = laf_course_db(tone, 16_000, gain_db=60.0).max()
    # The harmonics of the square wave at 3, 5 and 7 kHz are A-weighted by +1.2, +0.6, -0.3 dB.
    odd = np.array([1, 3, 5, 7])
    weights = 10.0 ** (np.array([0.0, 1.2, 0.6, -0.4]) / 10.0)
    assert hard == pytest.approx(10 * np.log10(np.sum((4 / np.pi / odd) ** 2 * weights)), abs=0.4)


def test_an_obstruction_takes_what_it_says() -> None:
    sound = find("vehicle horn")
    clear, behind = render(sound, 16_000), render(sound, 16_000, obstruction_db=6.0)
    assert np.sum(behind**2) / np.sum(clear**2) == pytest.approx(10.0**-0.6, rel=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_same_seed_same_sound_other_seed_same_level(name: Any) -> None:
    sound = find(name)
    assert np.array_equal(render(sound, 16_000, seed=3), render(sound, 16_000, seed=3))
    assert not np.array_equal(render(sound, 16_000, seed=3), render(sound, 16_000, seed=4))


def test_a_part_of_an_interval_counts_as_one() -> None:
    # 161 samples at 16 kHz are 10.06 ms: the last sample is filled up with silence.
    assert len(course_of(np.ones(161), 16_000)) == 2
