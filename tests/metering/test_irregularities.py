"""Dropouts, repeats, ceilings and steps: put in by hand, and not found where they are not."""

from pathlib import Path

import numpy as np
import pytest

from audiolevel.ground.arrays import Array
from audiolevel.metering.irregularities import SampleCheck, ceiling_db, floor_step
from audiolevel.metering.measurement import measure

RATE_HZ = 8000


def _noise(seconds: float, seed: int = 0) -> Array:
    # as a 16 bit recording holds it
    noise = np.random.default_rng(seed).normal(0, 0.01, round(seconds * RATE_HZ))
    return np.round(noise * 32768) / 32768


def _checked(wave: Array, block: int = 10 * RATE_HZ) -> SampleCheck:
    check = SampleCheck(RATE_HZ)
    for first in range(0, len(wave), block):
        check.add(wave[first : first + block, None].astype(np.float32))
    return check


def test_lost_packets_are_counted_with_their_length_whatever_the_blocks() -> None:
    wave = _noise(60)
    for at_s, length_s in ((10.0, 0.05), (29.99, 0.04), (45.0, 0.5)):
        wave[round(at_s * RATE_HZ) : round((at_s + length_s) * RATE_HZ)] = 0.0
    for block in (RATE_HZ, 10 * RATE_HZ, 60 * RATE_HZ):
        found = _checked(wave, block).found()
        assert found.dropouts == 3
        assert found.dropouts_s == pytest.approx(0.59, abs=0.01)


def _dropouts_one_by_one(wave: Array, shortest: int) -> tuple[int, float]:
    """The same by going from sample to sample; what touches an end is no dropout."""
    count = length = run = 0
    heard = False
    for sample in wave.tolist():
        if sample == 0:
            run += 1
            continue
        if heard and run >= shortest:
            count, length = count + 1, length + run
        heard, run = True, 0
    return count, length / RATE_HZ


@pytest.mark.parametrize("seed", range(6))
def test_dropouts_of_quiet_sound_are_those_of_a_scan_of_every_sample(seed: int) -> None:
    rng = np.random.default_rng(seed)
    # a fifth of the samples are zero by themselves
    wave = np.round(rng.normal(0, 2, 3 * RATE_HZ)) / 32768
    for _ in range(20):
        at, long = rng.integers(1, len(wave)), rng.integers(1, 320)
        wave[at : at + long] = 0.0
    wave[0], wave[-1] = 0.1, 0.1
    expected = _dropouts_one_by_one(wave, 160)
    assert expected[0] > 0
    for block in (100, 777, RATE_HZ, 3 * RATE_HZ):
        found = _checked(wave, block).found()
        assert (found.dropouts, found.dropouts_s) == expected


def test_silence_before_and_after_the_sound_is_no_dropout() -> None:
    wave = np.concatenate([np.zeros(RATE_HZ), _noise(10), np.zeros(RATE_HZ)])
    assert _checked(wave).found().dropouts == 0
    assert _checked(np.zeros(5 * RATE_HZ)).found().dropouts == 0


@pytest.mark.parametrize("size", [160, 512, 1024, 4096])
def test_a_buffer_that_is_played_twice_is_found(size: int) -> None:
    wave = _noise(30)
    for at in (5 * RATE_HZ + 3, 14 * RATE_HZ + 777, 26 * RATE_HZ):
        wave[at + size : at + 2 * size] = wave[at : at + size]
    assert _checked(wave).found().repeats == 3


def test_tones_and_silence_repeat_by_nature() -> None:
    time = np.arange(10 * RATE_HZ) / RATE_HZ
    assert _checked(0.1 * np.sin(2 * np.pi * 1000 * time)).found().repeats == 0
    assert _checked(np.zeros(RATE_HZ)).found().repeats == 0
    assert _checked(_noise(60, 3)).found().repeats == 0


def test_a_limiter_brings_the_loudest_seconds_to_one_level() -> None:
    rng = np.random.default_rng(5)
    peaks = -30.0 + rng.exponential(4.0, 1200)
    # natural peaks have a loudest one and few near it
    assert ceiling_db(np.minimum(peaks, -0.1)) is None
    limited = np.minimum(peaks, -14.0)
    assert (peaks > -14.0).sum() > 10
    assert ceiling_db(limited) == -14.0
    # at full scale it is clipping, which has its own caution; a steady noise has no loud seconds
    assert ceiling_db(np.minimum(peaks + 14.0, 0.0)) is None
    assert ceiling_db(rng.normal(-20.0, 0.1, 600)) is None


def test_a_step_of_what_is_quietest_is_found_where_it_is() -> None:
    rng = np.random.default_rng(6)
    floor = -60.0 + rng.exponential(2.0, 1200)
    assert floor_step(floor) is None
    floor[700:] += 12.0
    found = floor_step(floor)
    assert found is not None
    at_s, by_db = found
    assert at_s == pytest.approx(700, abs=10)
    assert by_db == pytest.approx(12, abs=3)
    # the same in twenty minutes is a change of traffic
    assert floor_step(-60.0 + rng.exponential(2.0, 1200) + np.linspace(0, 12, 1200)) is None
    assert floor_step(floor[:200]) is None
    # digital silence is no floor, and times stay those of the recording
    silent = np.concatenate([np.full(400, -200.0), floor])
    again = floor_step(silent)
    assert again is not None
    assert again[0] == pytest.approx(at_s + 400, abs=10)
    assert floor_step(np.append(np.full(600, -200.0), floor[:600])) is None


@pytest.mark.parametrize("name", ["street_a.wav", "street_b.wav", "street_long.wav"])
def test_real_streets_are_not_irregular(recordings: Path, name: str) -> None:
    heard = measure(recordings / name)
    assert heard.irregularities.dropouts == 0
    assert heard.irregularities.repeats == 0
    assert ceiling_db(heard.second_peak_db) is None
    assert floor_step(heard.second_lafmin_db) is None


def test_the_scenario_is_not_irregular(sample_audio: Path) -> None:
    heard = measure(sample_audio / "bridge_approach.ogg")
    assert heard.irregularities.dropouts == heard.irregularities.repeats == 0
    assert ceiling_db(heard.second_peak_db) is None
    assert floor_step(heard.second_lafmin_db) is None
