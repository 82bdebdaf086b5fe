"""Eighty-five real places for 45 s each: do the halves predict each other?

    AUDIOLEVEL_REAL_LEVELS=folder python -m tests.studies.clip_halves --out docs

writes `clip_halves.md`, the share inside by kind of place and mode, by the rules of
`tests.studies.street_halves`.
"""

import argparse
import os
import re
from pathlib import Path

import numpy as np

from audiolevel.metering.meter import Meter
from audiolevel.metering.sound_files import open_recording
from tests.studies.street_halves import compare, inside, settings_of

PLACES = {
    "quietStreet": "quiet street",
    "noisyStreet": "noisy street",
    "veryNoisyStreet": "very noisy street",
    "square": "square",
    "park": "park",
}
MODES = ("threshold", "rise", "fall", "change")
HEAD = """# Halves of real places predict each other

Made by `python -m tests.studies.clip_halves --out docs` from 85 published clips of 45 s that are no
part of the repository, 17 of each kind of place, by the rules of [a real street](street_halves.md).
Share of the other half's counts inside the 95 % interval, in % of all settings tried; neighbouring
settings share their events.

| place | threshold | rise | fall | change |
|---|---|---|---|---|"""


def levels_of(path):
    """LAF of a clip, dB FS, one value every 10 ms."""
    clip = open_recording(path)
    meter = Meter(clip.rate_hz, clip.channels, clip_amplitude=clip.clip_amplitude)
    return np.concatenate([meter.feed(block).rows.laf_db for block in clip.blocks()])


def shares():
    """Share inside by kind of place and mode."""
    found = {}
    for path in sorted((Path(os.environ["AUDIOLEVEL_REAL_LEVELS"]) / "clips").glob("*.mp3")):
        level = levels_of(path)
        place = re.sub(r"\d+$", "", path.stem)
        for mode, settings in settings_of(level).items():
            found.setdefault((place, mode), []).append(inside(compare(level, mode, settings)))
    return {key: float(np.mean(np.concatenate(of))) for key, of in found.items()}


def page(found):
    """The table."""
    rows = [
        f"| {name} | " + " | ".join(f"{100 * found[place, mode]:.0f}" for mode in MODES) + " |"
        for place, name in PLACES.items()
    ]
    return "\n".join([HEAD, *rows]) + "\n"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder of docs")
    made = page(shares())
    (parser.parse_args().out / "clip_halves.md").write_text(made, encoding="utf-8")
