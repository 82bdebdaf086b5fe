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
            *entry(
                "  varies",
                f"{sound.event_spread_db:g} dB from one to the next; its mean is known to "
                f"{sound.mean_spread_db:g} dB (two of three lie within these): "
                f"{sound.spread_source} "
                f"[{sound.spread_certainty}]",
            ),
            *entry("  course", sound.time_course),
            *entry("  level", f"{sound.source} [{sound.certainty}]"),
            *entry("  shape", f"{sound.shape_source} [{sound.shape_certainty}]"),
        ]
    lines += ["", *textwrap.wrap(_LOUD, WIDTH)]
    return "\n".join(lines)


def gain_test_as_text(path: str, claps: int) -> str:
    """What to do with the tone of the gain test."""
    text = (
        f"{path}: a steady 1 kHz tone, one minute. Play it on a phone near the microphone, no "
        "louder than a conversation beside it, so that it harms and annoys nobody; record with "
        f"the camera, and clap sharply {claps} times, 2.5 s apart, arms stretched away from "
        "anyone's ears. Then: audiolevel calibrate --steady RECORDING --write SITE.toml"
    )
    return "\n".join(textwrap.wrap(text, WIDTH))


def rendering_as_text(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> str:
    """What was written, and how loud its samples are to be taken."""
    peak_db = float(20 * np.log10(np.abs(samples).max()))
    cut = "; its peaks are cut" if peak_db > 0 else ""
    text = (
        f"{path}: {sound.name} at {distance_m:g} m, where a full-scale sine is "
        f"{spl_at_full_scale_db:g} dB SPL; highest sample {peak_db:z.1f} dB FS{cut}. {_LOUD}"
    )
    return "\n".join(textwrap.wrap(text, WIDTH))
