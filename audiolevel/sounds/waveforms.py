"""The raw waveform of each built-in sound, before it is given its spectrum and its level.

A recipe takes the time axis and a generator and gives the raw waveform with its rhythm: finished
but for the level where the source is a tone (`TONES`), to be coloured by third-octaves elsewhere.

Entry points: ``RECIPES`` by the sound's name, ``filtered`` and ``ramp``.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from audiolevel.ground.arrays import Array

MASTER_RATE_HZ = 48_000
"""Every sound is made at this rate."""

Generator = np.random.Generator
Recipe = Callable[[Array, Generator], Array]


def filtered(samples: Array, rate_hz: int, gain_db: Callable[[Array], Array]) -> Array:
    """The waveform through a zero-phase gain curve, padded so that its ends do not meet."""
    # kept out of start-up
    from scipy.fft import irfft, next_fast_len, rfft

    # 0.25 s of zeros, or what rings past the end would come round to the beginning
    padded = next_fast_len(len(samples) + rate_hz // 4, real=True)
    frequency: Array = np.asarray(np.fft.rfftfreq(padded, 1.0 / rate_hz), dtype=np.float64)
    gain = np.zeros_like(frequency)
    # 0 Hz is left out: the curves have no value there
    gain[1:] = 10.0 ** (gain_db(frequency[1:]) / 20.0)
    return np.asarray(irfft(rfft(samples, padded) * gain, padded)[: len(samples)])


def ramp(time_s: Array, up_s: float, down_s: float) -> Array:
    """From 0 to 1 at the start and back at the end, linearly."""
    end_s = time_s[-1] + 1.0 / MASTER_RATE_HZ
    return np.asarray(np.clip(np.minimum(time_s / up_s, (end_s - time_s) / down_s), 0.0, 1.0))


def _horn(time_s: Array, rng: Generator) -> Array:
    blast = np.zeros_like(time_s)
    for note_hz in (420.0, 500.0):
        for overtone_hz in note_hz * np.arange(1, 25):
            octaves = math.log2(overtone_hz / 2400.0)
            # strongest at 2.4 kHz: 4 dB an octave up to it, 9 dB an octave down from it
            level_db = 4.0 * octaves if octaves < 0 else -9.0 * octaves
            phase = rng.uniform(0.0, 2.0 * math.pi)
            blast += 10.0 ** (level_db / 20.0) * np.sin(2 * math.pi * overtone_hz * time_s + phase)
    return np.asarray(blast * ramp(time_s, 0.02, 0.03))


def _siren(time_s: Array, rng: Generator) -> Array:
    # a triangle between 1 and 0, twice a second
    sweep = np.abs((2.0 * time_s) % 1.0 * 2.0 - 1.0)
    # even in octaves; the phase is the integral of the frequency
    frequency = 1800.0 * (3550.0 / 1800.0) ** sweep
    phase = 2.0 * math.pi * np.cumsum(frequency) / MASTER_RATE_HZ
    return np.asarray(np.sin(phase + rng.uniform(0.0, 2.0 * math.pi)))


def _three_pulses(time_s: Array, rng: Generator) -> Array:
    # three half seconds with half a second between, and 1.5 s of silence, make 4 s
    in_cycle = time_s % 4.0
    since_pulse = in_cycle % 1.0
    # 2 ms up and down, or each pulse would click
    edge = np.clip(np.minimum(since_pulse, 0.5 - since_pulse) / 0.002, 0.0, 1.0)
    phase = 2.0 * math.pi * 3100.0 * time_s + rng.uniform(0.0, 2.0 * math.pi)
    return np.where(in_cycle < 3.0, edge, 0.0) * (np.sin(phase) + 0.1 * np.sin(3.0 * phase))


def _talk(hum_hz: float) -> Recipe:
    def voice(time_s: Array, rng: Generator) -> Array:
        pitch_hz = hum_hz * (1.0 + 0.06 * np.sin(2 * math.pi * 0.7 * time_s))
        phase = 2.0 * math.pi * np.cumsum(pitch_hz) / MASTER_RATE_HZ
        hum = np.cos(phase) ** 40  # a narrow pulse per period: rich in overtones
        hiss = rng.standard_normal(len(time_s))
        syllable = np.minimum((4.0 * time_s).astype(np.int64), math.ceil(4.0 * time_s[-1]))
        # one syllable differs from the next by 2 dB (standard deviation)
        stress = 10.0 ** (rng.normal(0.0, 2.0, syllable[-1] + 1) / 20.0)[syllable]
        # 20 dB down between syllables, not silent
        envelope = 0.1 + 0.9 * np.sin(math.pi * 4.0 * time_s) ** 2
        return np.asarray((hum + 0.15 * hiss) * envelope * stress)

    return voice


def _glass(time_s: Array, rng: Generator) -> Array:
    noise = rng.standard_normal(len(time_s))
    low = filtered(noise, MASTER_RATE_HZ, lambda hz: np.where(hz < 1000.0, 0.0, -120.0))
    # the filter shifts no phase, so the rest is just what lies above 1 kHz
    high = noise - low
    envelope = np.exp(-time_s / 0.05)
    # forty shards, 0.3 s after the crack on average
    for start_s in np.minimum(rng.exponential(0.3, 40), 1.1):
        since = time_s - start_s
        decay_s, size = rng.uniform(0.008, 0.03), rng.uniform(0.05, 0.35)
        envelope += np.where(since >= 0.0, size * np.exp(-np.maximum(since, 0.0) / decay_s), 0.0)
    return np.asarray(low * np.exp(-time_s / 0.05) * (time_s < 0.2) + high * envelope)


def _bang(time_s: Array, rng: Generator) -> Array:
    ring = rng.standard_normal(len(time_s)) * np.exp(-time_s / 0.004)
    # sixty plate modes by chance, as many in each octave from 150 Hz to 10 kHz
    for mode_hz in 150.0 * (10_000.0 / 150.0) ** rng.random(60):
        # high modes die away sooner
        decay_s = rng.uniform(0.05, 0.2) * (mode_hz / 500.0) ** -0.3
        ring += 0.3 * np.sin(2 * math.pi * mode_hz * time_s) * np.exp(-time_s / decay_s)
    return ring


def _barks(time_s: Array, rng: Generator) -> Array:
    barks = np.zeros_like(time_s)
    for start_s in (0.0, 0.45, 0.9):
        arch = np.sin(math.pi * np.clip((time_s - start_s) / 0.18, 0.0, 1.0))
        envelope = np.maximum(arch, 0.0) ** 0.7
        pitch_hz = 450.0 + 150.0 * arch
        phase = 2.0 * math.pi * np.cumsum(pitch_hz) / MASTER_RATE_HZ
        hum = np.cos(phase) ** 20
        barks += envelope * (hum + 0.3 * rng.standard_normal(len(time_s)))
    return barks


RECIPES: dict[str, Recipe] = {
    "vehicle horn": _horn,
    "vehicle alarm": _siren,
    "smoke alarm": _three_pulses,
    "normal voice": _talk(120.0),
    "raised voice": _talk(160.0),
    "loud voice": _talk(200.0),
    "shout": _talk(280.0),
    "breaking glass": _glass,
    "metal bang": _bang,
    "dog's bark": _barks,
}
TONES = frozenset({"vehicle horn", "vehicle alarm", "smoke alarm"})
