"""A real street: what each half predicts, against what the other half did.

    AUDIOLEVEL_RECORDINGS=folder python -m tests.studies.street_halves --out docs

writes `street_halves.md` and `street_halves.csv`, all settings of all modes for
`street_long.wav`.
"""

import argparse
import os
from pathlib import Path

import numpy as np

from audiolevel.counting.draws import one_day
from audiolevel.counting.exposure import Visit
from audiolevel.counting.loudest_peaks import separate_peaks
from audiolevel.counting.rates import predict
from audiolevel.metering.decibels import centibels
from audiolevel.metering.meter import ROW_S, Meter
from audiolevel.metering.sound_files import open_recording
from audiolevel.triggers.trigger import Trigger, sweep
from tests.counting.made_visits import STILL
from tests.evidence import put

DAY_S = 86400.0
REARM_S = 1.0  # ten seconds would leave two firings a half: nothing to compare
CHANGES = np.arange(2.0, 16.0, 1.0)


def street():
    """LAF of the recording, dB FS, one value every 10 ms."""
    path = Path(os.environ["AUDIOLEVEL_RECORDINGS"]) / "street_long.wav"
    recording = open_recording(path)
    meter = Meter(recording.rate_hz, recording.channels, clip_amplitude=recording.clip_amplitude)
    return np.concatenate([meter.feed(block).rows.laf_db for block in recording.blocks()])


def compare(level, mode, settings, rearm_s=REARM_S):
    """Rows of (setting, from, seen, low, high, other): each half against the other."""
    halves = np.array_split(level, 2)
    trigger = Trigger(mode, float(settings[0]), rearm_s=rearm_s)
    seen = [
        np.array([rows.size for rows in sweep(centibels(half), trigger, settings)])
        for half in halves
    ]
    rows = []
    for first, second in ((0, 1), (1, 0)):
        duration_s = halves[first].size * ROW_S
        peaks = separate_peaks(halves[first], ROW_S) if mode == "threshold" else None
        for i, setting in enumerate(settings):
            visit = Visit(seen[first][i : i + 1], duration_s, peaks)
            p = predict([setting], [visit], extrapolate=mode == "threshold", belief=STILL)
            same_length = p.curve_per_day[:1] * halves[second].size * ROW_S / DAY_S
            low, high = one_day(same_length, 0.95)
            rows.append(
                (
                    setting,
                    first,
                    int(seen[first][i]),
                    int(low[0]),
                    int(high[0]),
                    int(seen[second][i]),
                )
            )
    return rows


def settings_of(level):
    """Levels or changes tried in each mode."""
    levels = np.arange(np.floor(np.quantile(level, 0.05)), np.ceil(level.max()) + 3)
    return {"threshold": levels, "rise": CHANGES, "fall": CHANGES, "change": CHANGES}


def inside(rows):
    """Which rows have the other half's count inside the interval."""
    return np.array([low <= other <= high for _, _, _, low, high, other in rows])


INTRODUCTION = """# Each half of a real street predicts the other

Made by `python -m tests.studies.street_halves --out docs`; what it means, and why the misses are
where they are, is in [counting](counting.md). `street_long.wav`, {length_s:.0f} s, LAF
{low:.1f} to {high:.1f} dB FS; re-arm {rearm_s:g} s; no spread, as both halves are the same visit.
L50 of the quarters: {quarters} dB FS.
"""


def page(level):
    """The page of all settings and modes."""
    quarters = [f"{np.median(part):.1f}" for part in np.array_split(level, 4)]
    lines = [
        INTRODUCTION.format(
            length_s=level.size * ROW_S,
            low=level.min(),
            high=level.max(),
            rearm_s=REARM_S,
            quarters=", ".join(quarters),
        )
    ]
    for mode, settings in settings_of(level).items():
        rows = compare(level, mode, settings)
        unit = "dB FS" if mode == "threshold" else "dB"
        lines += [
            f"## {mode}: {inside(rows).sum()} of {len(rows)} inside",
            "",
            f"| at, {unit} | first half saw | predicts | second had | second half saw | predicts "
            "| first had |",
            "|---" * 7 + "|",
        ]
        for setting in settings:
            pair = [row for row in rows if row[0] == setting]
            lines.append(f"| {setting:g} | " + " | ".join(map(_half, pair)) + " |")
        lines.append("")
    return "\n".join(lines)


def _half(row):
    _, _, seen, low, high, other = row
    had = f"{other}" if low <= other <= high else f"**{other}**"
    return f"{seen} | {low}–{high} | {had}"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder of docs")
    put(parser.parse_args().out, "street_halves", page(street()))
