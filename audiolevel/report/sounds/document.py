"""What there is to say of the built-in sounds, and of one that was rendered.

Entry points: `sounds_document`, `gain_test_document`, `rendering_document`.
"""

from collections.abc import Sequence

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.report.document import (
    Document,
    Fact,
    Paragraph,
    Section,
    Table,
    document,
)
from audiolevel.report.words.quantities import counted
from audiolevel.sounds.catalogue import Sound

_LOUD = (
    "Test sounds at these levels harm hearing and alarm people: do not play them at full level, "
    "warn those nearby, and wear protection."
)


def sounds_document(sounds: Sequence[Sound]) -> Document:
    """The built-in sounds, each with its level and who says so."""
    head = ("sound", "measure", "dB(A)", "range", "at", "varies by", "length")
    rows = tuple(
        (
            one.name,
            one.measure,
            f"{one.level_db:.0f}",
            "" if one.range_db[0] == one.range_db[1] else "{:.0f} to {:.0f}".format(*one.range_db),
            f"{one.at_m:g} m",
            f"{one.event_spread_db:g} dB",
            f"{one.duration_s:g} s",
        )
        for one in sounds
    )
    listed = Section("All sounds", (Table(head, rows, 1), Paragraph(_LOUD, 0)), lead=True)
    each = [Section(one.name, _sources(one)) for one in sounds]
    return document("Built-in sounds", f"{counted(len(sounds), 'sound')}", [listed, *each])


def _sources(one: Sound) -> tuple[Fact, ...]:
    varies = (
        f"{one.event_spread_db:g} dB from one to the next; its mean is known to "
        f"{one.mean_spread_db:g} dB (two of three lie within these): {one.spread_source} "
        f"[{one.spread_certainty}]"
    )
    return (
        Fact("level", f"{one.source} [{one.certainty}]"),
        Fact("varies", varies),
        Fact("course", one.time_course),
        Fact("shape", f"{one.shape_source} [{one.shape_certainty}]"),
    )


def gain_test_document(path: str, claps: int) -> Document:
    """What to do with the tone of the gain test."""
    said = (
        "Play it on a phone near the microphone, no louder than a conversation beside it, so that "
        f"it harms and annoys nobody; record with the camera, and clap sharply {claps} times, "
        "2.5 s apart, arms stretched away from anyone's ears. Then: audiolevel calibrate --steady "
        "RECORDING --write SITE.toml"
    )
    lead = Section("What to do", (Paragraph(said, 0),), lead=True)
    return document(path, "a steady 1 kHz tone, one minute", [lead])


def rendering_document(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> Document:
    """What was written, and how loud its samples are to be taken."""
    peak_db = float(20 * np.log10(np.abs(samples).max()))
    cut = "; its peaks are cut" if peak_db > 0 else ""
    said = (
        f"A full-scale sine is {spl_at_full_scale_db:g} dB SPL; highest sample {peak_db:z.1f} "
        f"dB FS{cut}. {_LOUD}"
    )
    lead = Section("How loud", (Paragraph(said, 0),), lead=True)
    return document(path, f"{sound.name} at {distance_m:g} m", [lead])
