"""A real street: what each half predicts, against what the other half did.

    AUDIOLEVEL_RECORDINGS=folder python -m tests.study.street_halves

prints the table of docs/counting.md for `street_long.wav`.
"""

import os
from pathlib import Path

import numpy as np

from audiolevel.counting import Visit, one_day, predict
from audiolevel.levels import ROW_S, Meter
from audiolevel.recordings import open_recording
from audiolevel.tail import separate_peaks
from audiolevel.triggers import Trigger, centibels, sweep

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
            p = predict([setting], [visit], extrapolate=mode == "threshold", spread=0.0)
            same_length = p.curve_per_day[0] * halves[second].size * ROW_S / DAY_S
            low, high = one_day(same_length)
            rows.append(
                (setting, first, int(seen[first][i]), int(low), int(high), int(seen[second][i]))
            )
    return rows


def settings_of(level):
    """Levels or changes tried in each mode."""
    levels = np.arange(np.floor(np.quantile(level, 0.05)), np.ceil(level.max()) + 3)
    return {"threshold": levels, "rise": CHANGES, "fall": CHANGES, "change": CHANGES}


def inside(rows):
    """Which rows have the other half's count inside the interval."""
    return np.array([low <= other <= high for _, _, _, low, high, other in rows])


if __name__ == "__main__":
    laf = street()
    print(f"LAF: {laf.min():.1f} to {laf.max():.1f} dB FS, {laf.size * ROW_S:.1f} s")
    for half in np.array_split(laf, 2):
        print("  quarters of a half, L50:", [round(float(np.median(q)), 1)
              for q in np.array_split(half, 2)])  # fmt: skip
    for mode, settings in settings_of(laf).items():
        rows = compare(laf, mode, settings)
        print(f"{mode}: {inside(rows).sum()} of {len(rows)} inside")
        by_setting = {s: [r for r in rows if r[0] == s] for s in settings}
        for setting, pair in by_setting.items():
            cells = [
                f"{seen:3d} -> {low}-{high}, was {other}" for _, _, seen, low, high, other in pair
            ]
            miss = "" if all(inside(pair)) else "  MISS"
            print(f"  {setting:6.1f}  " + "   |   ".join(cells) + miss)
