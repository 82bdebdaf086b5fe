"""A read-aloud walk test: words read at the computed radii, and what a listener wrote down.

A CSV with `distance_m, voice, words_read, words_understood`: a row a distance and vocal effort,
written while someone who does not know the list listens to the camera's recording. `hour` (0 to
23), where it is given, is that of the test: it is held against the noise of its own hour.

Entry points: `read_walk_test`, `compared`, `Reading`, `Walked`.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError
from audiolevel.ground.intervals import Interval, wilson_interval
from audiolevel.ground.tables import table_of
from audiolevel.privacy.audibility import QUIET, TALKER_DB, TYPICAL, ListeningModel
from audiolevel.privacy.intelligibility import EFFORTS, share_understood
from audiolevel.privacy.speech_security import ENHANCED_DB

_MOST_ROWS = 1000
COLUMNS = ("distance_m", "voice", "words_read", "words_understood")
# everyday words of one to three syllables; no sentence helps to guess them
_LIST = """
kettle seven garden paper river button Monday yellow window twelve
carpet orange station pencil eighty bridge sugar letter summer basket
"""
WORDS = tuple(_LIST.split())


@dataclass(frozen=True)
class Reading:
    """One row of a walk test."""

    distance_m: float
    voice: str
    words_read: int
    words_understood: int
    hour: int | None = None


@dataclass(frozen=True)
class Walked:
    """One row against what was computed.

    Attributes
    ----------
    reading : Reading
    understood : Interval
        Share of the words, with its interval.
    computed : Interval
        Share of the words of connected speech: standard voice at usual moments (best), a weaker
        talker then, and a stronger one in quiet moments, cleaned by software.
    verdict : str
        "as computed", "farther" (more was understood than computed) or "nearer".
    farther_db : float
        By how much voices must be louder than computed for what was understood; 0 unless farther.
    """

    reading: Reading
    understood: Interval
    computed: Interval
    verdict: str
    farther_db: float = 0.0


def read_walk_test(path: str | os.PathLike[str]) -> tuple[Reading, ...]:
    """The rows of a walk test.

    Raises
    ------
    SettingError
        The file cannot be read, lacks a column or a row, or a row makes no sense.
    """
    where = Path(path)
    form = f"a walk test is {','.join(COLUMNS)}, and rows like 4,normal,20,7"
    header, *rows = table_of(where, form, _MOST_ROWS)
    missing = [name for name in COLUMNS if name not in header]
    if missing:
        raise SettingError(f"{where}: no column {missing[0]}; {form}")
    if not rows:
        raise SettingError(f"{where}: has no row; {form}")
    return tuple(_reading(dict(zip(header, row, strict=False)), where, row) for row in rows)


def _reading(cells: dict[str, str], where: Path, row: list[str]) -> Reading:
    said = f"{where}: {','.join(row)!r}"
    try:
        distance_m = float(cells["distance_m"].replace(",", "."))
        read, understood = int(cells["words_read"]), int(cells["words_understood"])
        hour = int(cells["hour"]) if cells.get("hour") else None
    # a row may be cut off
    except (KeyError, ValueError):
        distance_m, read, understood, hour = float("nan"), 0, 0, None
    voice = cells.get("voice", "")
    if voice not in EFFORTS:
        raise SettingError(f"{said}: voice must be one of {', '.join(EFFORTS)}")
    if not (isfinite(distance_m) and distance_m > 0 and 0 <= understood <= read and read > 0):
        raise SettingError(
            f"{said}: distance_m must be above 0, and words_understood at most words_read, in "
            "whole numbers"
        )
    if hour is not None and not 0 <= hour < 24:
        raise SettingError(f"{said}: hour must be 0 to 23")
    return Reading(distance_m, voice, read, understood, hour)


def compared(
    model: ListeningModel, readings: Sequence[Reading], confidence: float = 0.95
) -> tuple[Walked, ...]:
    """Each row of a walk test against what the model says of its distance, voice and hour."""
    return tuple(_walked(model, one, confidence) for one in readings)


def _walked(model: ListeningModel, one: Reading, confidence: float) -> Walked:
    usual, quiet = (model.heard_noise_db(percent, one.hour) for percent in (TYPICAL, QUIET))

    def understood(noise_db: Array) -> float:
        at = np.array([one.distance_m])
        index = model.index(one.voice, at, noise_db, model.bands.usable)
        return float(share_understood(index)[0])

    loudest = quiet - TALKER_DB - ENHANCED_DB
    best, low, high = map(understood, (usual, usual + TALKER_DB, loudest))
    share = one.words_understood / one.words_read
    least, most = (float(end) for end in wilson_interval(share, one.words_read, confidence))
    verdict = "farther" if least > high else "nearer" if most < low else "as computed"
    farther = 0.0
    if verdict == "farther":
        # in half decibels, up to what no street and no voice differ by
        louder = (db for db in np.arange(0.5, 60.0, 0.5) if understood(loudest - db) >= share)
        farther = float(next(louder, 60.0))
    interval = Interval(share, least, most)
    return Walked(one, interval, Interval(best, low, high), verdict, farther)
