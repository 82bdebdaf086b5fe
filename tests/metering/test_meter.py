"""The meter beyond docs/conformance.md: blocks, channels, warm start, silence."""

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.measurement import measure
from audiolevel.metering.meter import LevelRows, Meter, millisecond_starts

RATE = 44100


def _noise(seconds: float, rate_hz: int = RATE) -> NDArray[np.float32]:
    rng = np.random.default_rng(3)
    return rng.normal(0, 0.05, (round(seconds * rate_hz), 1)).astype(np.float32)


@pytest.mark.parametrize("rate_hz", [8000, 11025, 22050, 44100, 48000])
@pytest.mark.parametrize("seconds", [1, 3])
def test_rows_do_not_depend_on_the_size_of_the_blocks(rate_hz: int, seconds: int) -> None:
    wave = _noise(7.3, rate_hz)
    whole = Meter(rate_hz, 1).feed(wave).rows
    meter = Meter(rate_hz, 1)
    # the first block holds the two seconds that warm the meter up
    size = max(2, seconds) * rate_hz
    parts = [meter.feed(wave[at : at + size]).rows for at in range(0, len(wave), size)]
    for field in fields(LevelRows):
        joined = np.concatenate([getattr(part, field.name) for part in parts])
        assert np.abs(joined - getattr(whole, field.name)).max() <= 0.0101, field.name


def test_milliseconds_follow_the_clock_where_they_are_no_whole_samples() -> None:
    starts, frames = millisecond_starts(44100, 44100)
    assert len(starts) == 1000
    assert frames == 44100
    assert starts[10] == 441
    assert set(np.diff(starts).tolist()) == {44, 45}
    assert millisecond_starts(44100 + 440, 44100)[1] == 44100  # a part of a row is left out


def test_no_recording_begins_with_a_false_onset() -> None:
    rows = Meter(RATE, 1).feed(_noise(10)).rows
    settled = rows.laf_db[500:]
    assert np.abs(rows.laf_db[:100] - settled.mean()).max() < 4 * settled.std() + 0.1
    assert abs(rows.las_db[0] - rows.las_db[500:].mean()) < 0.5


@pytest.mark.parametrize("rate_hz", [8000, 48000])
def test_a_steady_offset_is_no_sound(rate_hz: int) -> None:
    # A and C weighting pass nothing at 0 Hz: half of full scale in every sample changes nothing
    wave = _noise(4.0, rate_hz) / np.float32(50)
    both = (wave, (wave + 0.5).astype(np.float32))
    plain, offset = (Meter(rate_hz, 1).feed(one).rows for one in both)
    for name in ("laf_db", "las_db", "laeq_db", "lceq_db"):
        apart = np.abs(getattr(plain, name) - getattr(offset, name))
        assert apart.max() <= 0.05, name


def test_a_full_scale_sine_reads_zero_and_a_square_three_decibels() -> None:
    # AES17: dB FS is relative to a full-scale sine; its peak is 10 lg 2 = 3.01 dB above
    time = np.arange(4 * 48000) / 48000
    sine = np.sin(2 * np.pi * 1000 * time + 0.3).astype(np.float32)[:, None]
    rows = Meter(48000, 1).feed(sine).rows
    assert rows.laf_db[-1] == pytest.approx(0.0, abs=0.02)
    assert rows.lcpeak_db[-1] == pytest.approx(3.01, abs=0.02)
    assert rows.sample_peak_db[-1] == pytest.approx(0.0, abs=0.02)
    square = np.where(sine > 0, 1.0, -1.0).astype(np.float32)
    assert Meter(48000, 1).feed(square).rows.lzeq_db[-1] == pytest.approx(3.01, abs=0.01)


def test_silence_reads_its_floor() -> None:
    rows = Meter(16000, 1).feed(np.zeros((32000, 1), np.float32)).rows
    assert set(rows.laf_db.tolist()) == {SILENCE_DB}


def test_mean_of_channels_is_of_their_squares_and_one_can_be_chosen() -> None:
    wave = _noise(4)
    both = np.hstack([wave, 0.1 * wave])
    rows = Meter(RATE, 2).feed(both).rows
    left = Meter(RATE, 1).feed(wave).rows
    # mean of 1 and 0.01: 10 lg 0.505 = −2.967 dB
    assert np.abs(rows.laf_db - (left.laf_db - 2.967)).max() < 0.02
    block = Meter(RATE, 2).feed(both)
    assert np.abs(block.channel_rows[1].laf_db - (left.laf_db - 20)).max() < 0.02
    only = Meter(RATE, 2, channel=1).feed(both).rows
    assert np.array_equal(only.laf_db, block.channel_rows[1].laf_db)


def test_clipped_samples_are_counted() -> None:
    wave = np.zeros((16000, 1), np.float32)
    wave[160:176] = 1.0
    rows = Meter(16000, 1, clip_amplitude=32766.5 / 32768).feed(wave).rows
    assert rows.clipped[1] == pytest.approx(16 / 160)
    assert rows.clipped.sum() == pytest.approx(16 / 160)


@pytest.mark.parametrize("name", ["street_a.wav", "street_b.wav", "street_long.wav"])
def test_street_levels_agree_with_pyoctaveband(recordings: Path, name: str) -> None:
    """PyOctaveBand 2.0.0: its class 1 A weighting and its own F weighting, sample by sample.

    Its filter starts cold, so it is given the same run-in: the recording's beginning, backwards.
    """
    import pyoctaveband as pob
    import soundfile as sf

    wave, rate = sf.read(recordings / name, always_2d=True)
    run_in = wave[: 2 * rate][::-1]
    squares, energies = [], []
    for channel in np.vstack([run_in, run_in, wave]).T:
        weighted = pob.weighting_filter(channel, rate, curve="A")
        squares.append(pob.time_weighting(weighted, rate, mode="fast")[2 * len(run_in) :])
        energies.append(np.mean(weighted[2 * len(run_in) :] ** 2))
    laf = 10 * np.log10(np.mean(squares, axis=0) / 0.5)
    heard = measure(recordings / name).levels
    assert heard.laeq_db == pytest.approx(10 * np.log10(np.mean(energies) / 0.5), abs=0.1)
    assert heard.lafmax_db == pytest.approx(laf.max(), abs=0.1)
    for percent in (10, 50, 90):
        expected = np.percentile(laf, 100 - percent)
        assert heard.percentiles_db[f"L{percent}"] == pytest.approx(expected, abs=0.1)
