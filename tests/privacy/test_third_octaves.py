"""Third-octave levels against theory and another library's filters."""

from datetime import datetime
from typing import Any

import numpy as np
import pytest

from audiolevel.privacy.third_octaves import BandAnalyser, usable_bands
from tests.studies.street_noises import MAKERS, RATE_HZ


def listened(samples: Any, rate_hz: Any, start: Any = None, size: int = 480_000) -> Any:
    analyser = BandAnalyser(rate_hz, start)
    block = np.asarray(samples, dtype=np.float32).reshape(len(samples), -1)
    for at in range(0, len(block), size):
        analyser.add(block[at : at + size])
    return analyser.result()


def test_a_full_scale_sine_reads_nought_in_its_band_alone() -> None:
    time_s = np.arange(5 * 16_000) / 16_000
    level = listened(np.sin(2 * np.pi * 1000 * time_s), 16_000).exceeded_db(50)
    assert level[8] == pytest.approx(0.0, abs=0.3)
    assert np.nanmax(np.delete(level, 8)) < -60


@pytest.mark.parametrize("rate_hz", [8000, 16_000, 44_100])
def test_white_noise_rises_a_decibel_a_band(rate_hz: int) -> None:
    # density of white noise of rms 0.1: -20 + 3.01 - 10 lg(rate / 2) dB FS per hertz, and the
    # width of an exact third-octave is (10^0.05 - 10^-0.05) of its midband
    noise = 0.1 * np.random.default_rng(1).standard_normal(30 * rate_hz)
    level = listened(noise, rate_hz).exceeded_db(50)
    midband = 1000.0 * 10 ** (np.arange(-8, 10) / 10)
    width = midband * (10**0.05 - 10**-0.05)
    expected = -20 + 3.01 - 10 * np.log10(rate_hz / 2) + 10 * np.log10(width)
    usable = usable_bands(rate_hz)
    assert usable.sum() == {8000: 14, 16_000: 17, 44_100: 18}[rate_hz]
    # the median of few lines' power lies a little under its mean
    assert np.abs(level - expected)[usable][2:].max() < 1.0
    assert np.isnan(level[~usable]).all()


def test_band_levels_agree_with_other_filters() -> None:
    from pyoctaveband import octavefilter

    noise = MAKERS["road"](np.random.default_rng(8)) * 0.05
    theirs, centres = octavefilter(noise, RATE_HZ, fraction=3, limits=[150, 6500])
    ours = listened(noise, RATE_HZ)
    # mean power from the histogram's middles, against the filters' Leq re rms 1 (20 µPa there)
    middle = -160 + 0.25 + 0.5 * np.arange(ours.counts.shape[2])
    counts = ours.counts.sum(axis=0)
    power = (counts * 10 ** (middle / 10)).sum(axis=1) / np.maximum(counts.sum(axis=1), 1)
    mean_db = 10 * np.log10(power[:17])
    offset = 20 * np.log10(20e-6) + 3.01
    assert len(centres) == 17
    assert np.abs(np.asarray(theirs) + offset - mean_db)[1:].max() < 0.6


def test_percentiles_hours_and_blocks() -> None:
    rng = np.random.default_rng(2)
    quiet, loud = 0.001, 0.1
    samples = np.concatenate([rng.standard_normal(120 * 8000) * a for a in (quiet, loud)])
    start = datetime(2026, 3, 2, 7, 58)
    whole = listened(samples, 8000, start)
    assert whole.hours == [7, 8]
    difference = whole.exceeded_db(10) - whole.exceeded_db(90)
    assert np.nanmedian(difference) == pytest.approx(40, abs=3)
    by_hour = whole.exceeded_db(50, 8) - whole.exceeded_db(50, 7)
    assert np.nanmedian(by_hour) == pytest.approx(40, abs=0.6)
    assert np.isnan(whole.exceeded_db(50, 12)).all()
    pieces = listened(samples, 8000, start, size=12_345)
    assert np.array_equal(pieces.counts, whole.counts)
    both = whole.with_other(pieces)
    assert np.array_equal(both.counts, 2 * whole.counts)


def test_seconds_in_which_somebody_talks_are_no_noise() -> None:
    rng = np.random.default_rng(3)
    noise = np.asarray(rng.standard_normal(60 * 8000) * 0.01, dtype=np.float32)
    noise[20 * 8000 : 30 * 8000] *= 100
    spoken = np.zeros(60, dtype=bool)
    spoken[20:30] = True
    analyser = BandAnalyser(8000)
    for at in range(0, 60, 7):
        analyser.add(noise[at * 8000 : (at + 7) * 8000, None])
        analyser.settle(spoken, at)
    analyser.settle(spoken, 60)
    without = analyser.result()
    quiet = listened(np.delete(noise, slice(20 * 8000, 30 * 8000)), 8000)
    # loudest tenth of the time as well: the ten loud seconds are not among it
    assert without.exceeded_db(10)[:14] == pytest.approx(quiet.exceeded_db(10)[:14], abs=0.6)
    # slices of 0.125 s that overlap by half
    assert without.spoken == pytest.approx(10 * 16, abs=2)
    assert without.heard_s == pytest.approx(50, abs=0.3)


def test_digital_silence_is_no_noise_that_hides_talk() -> None:
    start = datetime(2026, 3, 3, 10, 0)
    noise = 0.01 * np.random.default_rng(2).standard_normal(60 * 8000)
    silence = np.zeros(120 * 8000)
    alone, beside = (listened(x, 8000, start) for x in (noise, np.append(noise, silence)))
    usable = usable_bands(8000)
    quiet = [one.exceeded_db(90)[usable] for one in (alone, beside)]
    assert np.abs(quiet[0] - quiet[1]).max() <= 0.5
    # the slice that the sound ends in is the only one more
    assert beside.heard_s == pytest.approx(alone.heard_s, abs=0.2)
    # where there is nothing else it is said to be as quiet as it is
    nothing = listened(silence, 8000, start)
    assert nothing.heard_s == pytest.approx(120, abs=0.2)
    assert nothing.exceeded_db(90)[usable].max() < -150
