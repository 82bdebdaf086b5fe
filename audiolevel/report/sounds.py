"""Which wanted sounds are built in, and what was rendered? As JSON, and in lines of 80 columns."""

import textwrap
from collections.abc import Sequence

import numpy as np

from audiolevel import __version__
from audiolevel.arrays import Array
from audiolevel.records import Object, number
from audiolevel.report.text import WIDTH, entry
from audiolevel.sounds.catalogue import Sound

_LOUD = (
    "Test sounds at these levels harm hearing and alarm people: do not play them at full level, "
    "warn those nearby, and wear protection."
)


# --- JSON ----------------------------------------------------------------------------------------


def catalogued(sounds: Sequence[Sound]) -> Object:
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
        "duration_s": sound.duration_s,
        "band_hz": [number(hz, 1) for hz in sound.band_hz],
        "band_db": list(sound.band_db),
        "time_course": sound.time_course,
        "source": sound.source,
        "certainty": sound.certainty,
        "shape_source": sound.shape_source,
        "shape_certainty": sound.shape_certainty,
    }


def rendered(
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


# --- text ----------------------------------------------------------------------------------------


def told(sounds: Sequence[Sound]) -> str:
    """The built-in sounds, each with its level and who says so."""
    lines = []
    for sound in sounds:
        low, high = sound.range_db
        spread = "" if low == high else f" ({low:g} to {high:g})"
        lines += [
            f"{sound.name}: {sound.measure} {sound.level_db:g} dB(A){spread} at {sound.at_m:g} m, "
            f"{sound.duration_s:g} s",
            *entry("  course", sound.time_course),
            *entry("  level", f"{sound.source} [{sound.certainty}]"),
            *entry("  shape", f"{sound.shape_source} [{sound.shape_certainty}]"),
        ]
    lines += ["", *textwrap.wrap(_LOUD, WIDTH)]
    return "\n".join(lines)


def rendering_told(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> str:
    """What was written, and how loud its samples are to be taken."""
    peak_db = float(20 * np.log10(np.abs(samples).max()))
    cut = "; its peaks are cut" if peak_db > 0 else ""
    said = (
        f"{path}: {sound.name} at {distance_m:g} m, where a full-scale sine is "
        f"{spl_at_full_scale_db:g} dB SPL; highest sample {peak_db:.1f} dB FS{cut}. {_LOUD}"
    )
    return "\n".join(textwrap.wrap(said, WIDTH))
