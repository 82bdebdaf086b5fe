"""Levels of sounds by their bands, and by another library's filter: second ways to our own."""

from typing import Any

import numpy as np
from pyoctaveband import weighting_filter

from audiolevel.metering.weighting import a_weighting_db
from audiolevel.sounds.catalogue import Sound
from audiolevel.sounds.propagation import Air, absorption_db_per_m, spreading_db


def received_db(sound: Sound, distance_m: float, air: Air | None = None) -> float:
    """A-weighted level of a sound at a distance, in its own measure.

    The midband's pure-tone absorption stands for its whole band, as in ISO 9613-2:1996, 7.2.
    """
    weighted_db = np.array(sound.band_db) + a_weighting_db(sound.band_hz)
    in_air = absorption_db_per_m(sound.band_hz, air) * (distance_m - sound.at_m)
    lost_db = _sum_db(weighted_db) - _sum_db(weighted_db - in_air)
    return sound.level_db - lost_db - spreading_db(distance_m, sound.at_m)


def _sum_db(levels_db: np.ndarray) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (levels_db / 10.0))))


def a_weighted_square(pressure_pa: Any, rate_hz: int = 48_000) -> Any:
    quiet = np.zeros(rate_hz // 2)
    weighted = weighting_filter(np.concatenate([quiet, pressure_pa / 20e-6, quiet]), rate_hz, "A")
    return weighted**2


def fast_level_db(square: Any, rate_hz: int = 48_000) -> Any:
    """F time weighting, sample by sample (IEC 61672-1:2013, 3.6: 125 ms)."""
    from scipy.signal import lfilter

    keep = np.exp(-1.0 / (0.125 * rate_hz))
    mean = lfilter([1.0 - keep], [1.0, -keep], square)
    return 10.0 * np.log10(np.maximum(mean, 1e-12))
