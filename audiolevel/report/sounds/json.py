"""The JSON of `sounds`: the built-in sounds, and a sound that was rendered."""

from collections.abc import Sequence

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.records import Object, number
from audiolevel.metering.gain_control import TONE_HZ
from audiolevel.sounds.catalogue import Sound
from audiolevel.version import __version__


def as_json(sounds: Sequence[Sound]) -> Object:
    """The object of `sounds`."""
    return {"audiolevel": __version__, "sounds": [_sound(sound) for sound in sounds]}


def _sound(sound: Sound) -> Object:
    return {
        "name": sound.name,
        "measure": sound.measure,
        "level_dba": sound.level_db,
        "at_m": sound.at_m,
        "lowest_dba": sound.range_db[0],
        "highest_dba": sound.range_db[1],
        "event_spread_db": sound.event_spread_db,
        "mean_spread_db": sound.mean_spread_db,
        "spread_source": sound.spread_source,
        "spread_certainty": sound.spread_certainty,
        "duration_s": sound.duration_s,
        "band_hz": [number(hz, 1) for hz in sound.band_hz],
        "band_db": list(sound.band_db),
        "time_course": sound.time_course,
        "source": sound.source,
        "certainty": sound.certainty,
        "shape_source": sound.shape_source,
        "shape_certainty": sound.shape_certainty,
    }


def gain_test_as_json(path: str, samples: Array) -> Object:
    """The object of `sounds --render "gain test"`."""
    peak_db = float(20 * np.log10(np.abs(samples).max()))
    return {
        "audiolevel": __version__,
        "path": path,
        "sound": "gain test",
        "tone_hz": TONE_HZ,
        "peak_dbfs": number(peak_db),
    }


def rendering_as_json(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> Object:
    """The object of `sounds --render`."""
    return {
        "audiolevel": __version__,
        "path": path,
        "sound": sound.name,
        "distance_m": distance_m,
        "spl_at_full_scale_db": spl_at_full_scale_db,
        "peak_dbfs": number(float(20 * np.log10(np.abs(samples).max()))),
    }
