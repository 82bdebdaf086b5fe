"""The text of `sounds`: the built-in sounds and who says how loud they are, in 80 columns."""

import textwrap
from collections.abc import Sequence

import numpy as np

from audiolevel.arrays import Array
from audiolevel.report.text import WIDTH, entry
from audiolevel.sounds.catalogue import Sound

_LOUD = (
    "Test sounds at these levels harm hearing and alarm people: do not play them at full level, "
    "warn those nearby, and wear protection."
)


def as_text(sounds: Sequence[Sound]) -> str:
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


def rendering_as_text(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> str:
    """What was written, and how loud its samples are to be taken."""
    peak_db = float(20 * np.log10(np.abs(samples).max()))
    cut = "; its peaks are cut" if peak_db > 0 else ""
    text = (
        f"{path}: {sound.name} at {distance_m:g} m, where a full-scale sine is "
        f"{spl_at_full_scale_db:g} dB SPL; highest sample {peak_db:.1f} dB FS{cut}. {_LOUD}"
    )
    return "\n".join(textwrap.wrap(text, WIDTH))
