"""Sounds of a street that are no speech, made by computation: what must not be taken for people.

Each maker takes a generator and gives ten seconds at 16 kHz, of no particular level. They are
meant to be hard: tones that come and go at the rate of syllables, engines whose speed changes.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

Array = NDArray[np.float64]
RATE_HZ, SECONDS = 16_000, 10
SIZE = RATE_HZ * SECONDS
TIME_S = np.arange(SIZE) / RATE_HZ


def coloured(rng: np.random.Generator, db_per_octave: float, from_hz: float = 20.0) -> Array:
    """Gaussian noise whose density falls from `from_hz` on."""
    spectrum = np.fft.rfft(rng.standard_normal(SIZE))
    hz = np.maximum(np.fft.rfftfreq(SIZE, 1 / RATE_HZ), 5.0)
    shape = 10 ** (db_per_octave / 20 * np.log2(np.maximum(hz / from_hz, 1.0)))
    out: Array = np.fft.irfft(spectrum * shape, SIZE)
    return out / out.std()


def wander(rng: np.random.Generator, step_s: float) -> Array:
    """A standard normal course that changes over about `step_s`."""
    knots = rng.standard_normal(int(SECONDS / step_s) + 3)
    return np.interp(TIME_S / step_s, np.arange(len(knots)), knots)


def _harmonics(hz: Array, amplitudes: Array) -> Array:
    phase = 2 * np.pi * np.cumsum(hz) / RATE_HZ
    out = np.zeros(SIZE)
    for order, amplitude in enumerate(amplitudes, 1):
        out += amplitude * np.sin(order * phase) * (order * hz < 0.45 * RATE_HZ)
    return out


def engine(rng: np.random.Generator) -> Array:
    """A firing tone of 25 to 180 Hz with overtones, idling, revved or driving past."""
    base = rng.uniform(25, 180)
    octaves = np.cumsum(wander(rng, rng.uniform(0.5, 3.0))) / RATE_HZ * rng.uniform(0, 0.8)
    jitter = 0.003 * wander(rng, 0.02)
    tone = _harmonics(
        base * 2 ** (octaves + jitter), np.arange(1.0, 30.0) ** -rng.uniform(0.5, 1.5)
    )
    rough = coloured(rng, -4.0, 200.0)
    return tone / tone.std() + rng.uniform(0.1, 0.6) * rough


def wind(rng: np.random.Generator) -> Array:
    """Gusts of low-frequency noise on the microphone."""
    gust = 10 ** (rng.uniform(2, 8) / 20 * wander(rng, rng.uniform(0.15, 1.0)))
    return coloured(rng, -rng.uniform(6, 10), 30.0) * gust


def horn(rng: np.random.Generator) -> Array:
    """Two tones a third apart with overtones, sounded long, short or again and again."""
    f0 = rng.uniform(300, 520)
    weights = np.arange(1.0, 14.0) ** -rng.uniform(0.2, 0.9)
    tone = _harmonics(np.full(SIZE, f0), weights) + _harmonics(np.full(SIZE, 1.2 * f0), weights)
    on, at = np.zeros(SIZE), rng.uniform(0, 1)
    while at < SECONDS:
        length = rng.uniform(0.12, 2.0)
        on[int(at * RATE_HZ) : int((at + length) * RATE_HZ)] = 1.0
        at += length + rng.uniform(0.1, 2.5)
    on = np.convolve(on, np.hanning(321) / np.hanning(321).sum(), "same")
    return tone / tone.std() * on + 0.05 * coloured(rng, -4.0, 100.0)


def bird(rng: np.random.Generator) -> Array:
    """Chirps of 1.8 to 6 kHz, 3 to 10 a second, some with an overtone."""
    hz, on, at = np.full(SIZE, 3000.0), np.zeros(SIZE), rng.uniform(0, 0.5)
    rate, centre = rng.uniform(3, 10), rng.uniform(1800, 5000)
    while at < SECONDS:
        length = rng.uniform(0.3, 0.8) / rate
        rows = slice(int(at * RATE_HZ), int((at + length) * RATE_HZ))
        size = len(hz[rows])
        ramp = np.linspace(-1, 1, size)
        hz[rows] = centre * 2 ** (rng.uniform(-0.4, 0.4) * ramp + rng.uniform(-0.3, 0.3))
        on[rows] = np.hanning(size)
        at += 1 / rate if rng.random() > 0.15 else rng.uniform(0.3, 1.5)
    chirp = _harmonics(np.clip(hz, 1500, 6500), np.array([1.0, rng.uniform(0, 0.3)])) * on
    return chirp / chirp.std() + 0.1 * coloured(rng, -4.0, 100.0)


def alarm(rng: np.random.Generator) -> Array:
    """A siren whose pitch sweeps, or a reversing beeper."""
    if rng.random() < 0.5:
        hz = 900 * 2 ** (0.5 * np.sin(2 * np.pi * rng.uniform(0.2, 4.0) * TIME_S))
        on = np.ones(SIZE)
    else:
        hz = np.full(SIZE, rng.uniform(1000, 2800))
        on = (np.sin(2 * np.pi * rng.uniform(0.7, 2.5) * TIME_S) > 0).astype(float)
    tone = _harmonics(hz, np.array([1.0, 0.2, 0.3])) * on
    return tone / tone.std() + 0.1 * coloured(rng, -4.0, 100.0)


def steps(rng: np.random.Generator) -> Array:
    """Footsteps, rattles and knocks: 1.5 to 8 short bursts of noise a second."""
    on, at, rate = np.zeros(SIZE), 0.0, rng.uniform(1.5, 8.0)
    while at < SECONDS:
        since = np.maximum(TIME_S - at, 0)
        on += (at <= TIME_S) * np.exp(-since / rng.uniform(0.01, 0.06)) * rng.uniform(0.3, 1)
        at += rng.normal(1 / rate, 0.1 / rate)
    low, high = sorted(rng.uniform(200, 5000, 2))
    sections = butter(2, [low, min(1.5 * high, 7500)], "bandpass", fs=RATE_HZ, output="sos")
    knocks: Array = sosfilt(sections, coloured(rng, 0.0)) * on
    return knocks / knocks.std() + 0.1 * coloured(rng, -4.0, 100.0)


def road(rng: np.random.Generator) -> Array:
    """Tyres and engines of many cars: pink-like noise that swells and fades."""
    swell = 10 ** (rng.uniform(2, 6) / 20 * wander(rng, rng.uniform(0.7, 3.0)))
    band = butter(1, [rng.uniform(300, 900), 2500], "bandpass", fs=RATE_HZ, output="sos")
    tyres: Array = sosfilt(band, coloured(rng, 0.0))
    return (coloured(rng, -5.0, 40.0) + rng.uniform(1, 6) * tyres) * swell


MAKERS: dict[str, Callable[[np.random.Generator], Array]] = {
    "engine": engine,
    "wind": wind,
    "horn": horn,
    "bird": bird,
    "alarm": alarm,
    "steps": steps,
    "road": road,
}
