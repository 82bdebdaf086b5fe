"""Waveforms of wanted sounds at the microphone, made from their published level and spectrum.

Waveforms made from the published level, spectrum and time course of a `Sound`: tones where the
source is a tone, shaped noise where it is not, and for voices a hum and hiss with the speech
spectrum that says nothing. Everything is made at 48 kHz, brought to its level there, carried
through the air, and only then resampled, so a sound heard by an 8 kHz camera loses what lies
above 4 kHz, as it would on site.

``render`` (pascals) and ``at_full_scale`` (samples); ``course_of`` (A-weighted mean squares),
``laf_course_db`` for placing a sound into a site's level history, ``lafmax_db``.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError
from audiolevel.metering.decibels import level_db
from audiolevel.metering.meter import MS_PER_ROW, time_weighted
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.sounds.catalogue import Sound
from audiolevel.sounds.propagation import Air, absorption_db_per_m, spreading_db
from audiolevel.sounds.waveforms import MASTER_RATE_HZ, RECIPES, TONES, filtered, ramp

REFERENCE_PA = 20e-6


def render(
    sound: Sound,
    rate_hz: int,
    *,
    distance_m: float | None = None,
    air: Air | None = None,
    obstruction_db: float = 0.0,
    seed: int = 0,
) -> Array:
    """Sound pressure of one occurrence at the microphone, in pascals.

    Parameters
    ----------
    sound
        A built-in sound, or one changed by `catalogue.with_level`.
    rate_hz
        Sampling rate of the result, 4 kHz to 384 kHz.
    distance_m
        Metres to the microphone; the sound's own reference distance when left out, where its
        level is `sound.level_db` before the rate cuts anything off.
    air
        Weather, whose absorption acts on every frequency by itself; 10 °C and 70 % when left out.
    obstruction_db
        What is known to be in the way, as a loss; the same at every frequency.
    seed
        Choice of the random parts; the same seed gives the same samples.

    Returns
    -------
    ndarray, shape (n,)
        `sound.duration_s` of pressure.
    """
    if not 4_000 <= rate_hz <= 384_000:
        raise SettingError(f"rate_hz is {rate_hz}: give a sampling rate of 4000 to 384000 Hz")
    if seed < 0:
        raise SettingError(f"seed: {seed} must not be negative")
    pressure = _at_reference(sound, seed)
    if distance_m is not None:
        pressure = propagated(pressure, sound.at_m, distance_m, air or Air())
    return resampled(pressure * 10.0 ** (-obstruction_db / 20.0), MASTER_RATE_HZ, rate_hz)


def resampled(samples: Array, from_hz: int, to_hz: int) -> Array:
    """A waveform, shape (n,), at another sampling rate."""
    if from_hz == to_hz:
        return np.asarray(samples, dtype=np.float64)
    # kept out of start-up, and not needed at 48 kHz
    from scipy.signal import resample_poly

    # the rates' ratio in its smallest whole numbers
    common = math.gcd(int(from_hz), int(to_hz))
    return np.asarray(resample_poly(samples, to_hz // common, from_hz // common), dtype=np.float64)


def band_limited(samples: Array, rate_hz: int, top_hz: float) -> Array:
    """A waveform, shape (n,), without what lies above `top_hz`; as it is from half the rate on."""
    if top_hz >= rate_hz / 2:
        return samples
    # twice the length, so that the end does not ring into the beginning
    spectrum = np.fft.rfft(samples, 2 * len(samples))
    spectrum[np.arange(len(spectrum)) * rate_hz / (2 * len(samples)) > top_hz] = 0.0
    limited: Array = np.fft.irfft(spectrum, 2 * len(samples))[: len(samples)]
    return limited


def course_of(samples: Array, rate_hz: int, *, interval_s: float = 0.01) -> Array:
    """A-weighted mean squares of a waveform, one per interval, in its own unit squared.

    The last, incomplete interval is filled up with silence. The A weighting is the analytic curve
    applied to the whole waveform at once, without delay.
    """
    squares = filtered(samples, rate_hz, lambda hz: a_weighting_db(hz)) ** 2
    # 1 ms is 44.1 samples at 44.1 kHz: each edge is the nearest sample
    edges = np.rint(np.arange(0, len(squares) / rate_hz, interval_s) * rate_hz).astype(np.int64)
    # the last edge can be rounded to the end itself, which begins no interval
    sums = np.add.reduceat(squares, edges[edges < len(squares)])
    # by the samples of a whole interval, as if silence filled up the last
    return np.asarray(sums / (rate_hz * interval_s), dtype=np.float64)


def laf_course_db(
    samples: Array, rate_hz: int, *, gain_db: float = 0.0, tail_s: float = 1.0
) -> Array:
    """LAF of a sound by itself, row by row, dB FS, as `detection.detect` wants it.

    Parameters
    ----------
    samples
        Shape (n,); a full-scale sine is 1 (`at_full_scale`).
    rate_hz
        Their sampling rate.
    gain_db
        Turn the input up by this much; the sound is heard only up to full scale.
    tail_s
        Silence after it, in which the F weighting falls (34.7 dB/s).

    Returns
    -------
    ndarray, shape (rows,)
        LAF at the end of every 10 ms, from before the first sample in silence.
    """
    amplified = np.clip(samples * 10.0 ** (gain_db / 20.0), -1.0, 1.0)
    amplified = np.concatenate([amplified, np.zeros(round(tail_s * rate_hz))])
    by_ms = time_weighted(course_of(amplified, rate_hz, interval_s=0.001))
    return level_db(by_ms[MS_PER_ROW - 1 :: MS_PER_ROW])


def lafmax_db(samples: Array, rate_hz: int) -> float:
    """Maximum A-weighted, F time-weighted level of a waveform, dB re its own unit."""
    silence = np.zeros(rate_hz // 10)
    course = course_of(np.concatenate([samples, silence]), rate_hz, interval_s=0.001)
    return float(10.0 * np.log10(time_weighted(course).max()))


def at_full_scale(pressure_pa: Array, spl_at_full_scale_db: float) -> Array:
    """Pascals to samples: a sine of that sound pressure level just fills -1 to 1. Not clipped."""
    # a sine's peak is √2 of its effective pressure
    full_scale_pa = math.sqrt(2.0) * REFERENCE_PA * 10.0 ** (spl_at_full_scale_db / 20.0)
    return np.asarray(pressure_pa / full_scale_pa)


def propagated(pressure: Array, from_m: float, distance_m: float, air: Air) -> Array:
    """A waveform at `MASTER_RATE_HZ`, shape (n,), at another distance through the air."""
    spread = 10.0 ** (-spreading_db(distance_m, from_m) / 20.0)
    path_m = distance_m - from_m
    absorbed = filtered(pressure, MASTER_RATE_HZ, lambda hz: -absorption_db_per_m(hz, air) * path_m)
    return np.asarray(absorbed * spread)


def _at_reference(sound: Sound, seed: int) -> Array:
    """Pressure at the reference distance, brought to the level in the sound's own measure."""
    # The cache ignores the level: a user's own level or distance is the same waveform, scaled.
    unit = _master(replace(sound, level_db=0.0, at_m=1.0, range_db=(0.0, 0.0)), seed)
    return np.asarray(unit * (REFERENCE_PA * 10.0 ** (sound.level_db / 20.0)))


@lru_cache(maxsize=32)
def _master(sound: Sound, seed: int) -> Array:
    """The waveform at 48 kHz with its spectrum and time course, 0 dB in the sound's measure."""
    name, duration_s = sound.name, sound.duration_s
    time_s = np.arange(round(duration_s * MASTER_RATE_HZ)) / MASTER_RATE_HZ
    # the name is in the seed, so a sound is the same whichever are made before it
    rng = np.random.default_rng([seed, *name.encode()])
    samples = RECIPES[name](time_s, rng)
    if name not in TONES:
        samples = _coloured(samples, sound.first_hz, np.asarray(sound.band_db))
    # colouring smears the ends; without a ramp they would click
    samples = samples * ramp(time_s, 0.001, 0.01)
    if sound.measure == "LAFmax":
        own_db = lafmax_db(samples, MASTER_RATE_HZ)
    else:
        own_db = float(10.0 * np.log10(np.mean(course_of(samples, MASTER_RATE_HZ))))
    unit = np.asarray(samples * 10.0 ** (-own_db / 20.0), dtype=np.float64)
    # the cache hands the same array to everyone
    unit.flags.writeable = False
    return unit


def _coloured(samples: Array, first_hz: float, band_db: Array) -> Array:
    """Give each third-octave of a waveform its energy; nothing is left outside the bands."""
    spectrum = np.fft.rfft(samples)
    frequency = np.fft.rfftfreq(len(samples), 1.0 / MASTER_RATE_HZ)
    # bands are numbered from that of 1 kHz, ten to a decade
    first = round(10.0 * math.log10(first_hz / 1000.0))
    # 0 Hz is in no band: −inf falls outside
    with np.errstate(divide="ignore"):
        band = np.floor(10.0 * np.log10(frequency / 1000.0) + 0.5) - first
    inside = (band >= 0) & (band < len(band_db))
    number = band[inside].astype(np.int64)
    energy = np.bincount(number, np.abs(spectrum[inside]) ** 2, minlength=len(band_db))
    gain = np.zeros_like(frequency)
    # ratio of energies, as an amplitude
    gain[inside] = np.sqrt(10.0 ** (band_db / 10.0) / energy)[number]
    return np.asarray(np.fft.irfft(spectrum * gain, len(samples)))
