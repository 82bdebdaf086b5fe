"""Wanted sounds marked in the recording itself.

A CSV with the columns `start_s`, `end_s` and `sound` (more columns are passed over), made by ear.
What fires there is a catch, not a false firing, and the stretch is no part of the time listened to.

Entry points: `read_marks`, `Mark`, `inside`, `hidden`.
"""

import csv
import os
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

import numpy as np

from audiolevel.arrays import BoolArray, Centi, IntArray
from audiolevel.errors import SettingError
from audiolevel.metering.meter import ROW_S

# F weighting falls 34.7 dB/s: half a second after a sound's end it no longer holds a level up
_AFTER_S = 0.5
_BEFORE_S = 0.1


@dataclass(frozen=True)
class Mark:
    """A wanted sound in the recording, from `start_s` to `end_s`."""

    start_s: float
    end_s: float
    sound: str

    @property
    def length_s(self) -> float:
        """Length with the moment in which the level falls again."""
        return self.end_s - self.start_s + _BEFORE_S + _AFTER_S

    def rows(self, total: int) -> slice:
        """The rows of a history of `total` rows that belong to it."""
        first = max(0, round((self.start_s - _BEFORE_S) / ROW_S))
        return slice(min(first, total), min(total, round((self.end_s + _AFTER_S) / ROW_S)))


def read_marks(path: str | os.PathLike[str]) -> tuple[Mark, ...]:
    """Marked stretches, in the order of the file.

    Parameters
    ----------
    path : path
        CSV with the columns `start_s`, `end_s` and `sound`.

    Returns
    -------
    tuple of Mark

    Raises
    ------
    SettingError
        The file cannot be read, lacks a column, or a row makes no sense.
    """
    where = Path(path)
    try:
        with where.open(newline="", encoding="utf-8") as file:
            reader = csv.DictReader(file)
            missing = {"start_s", "end_s", "sound"} - set(reader.fieldnames or [])
            if missing:
                raise SettingError(f"{where}: no column {sorted(missing)[0]}; see docs/sounds.md")
            return tuple(_mark(row, where, line) for line, row in enumerate(reader, 2))
    except (OSError, UnicodeDecodeError) as error:
        raise SettingError(f"{where}: cannot be read as text; check the name") from error


def _mark(row: dict[str, str], where: Path, line: int) -> Mark:
    try:
        start_s, end_s = float(row["start_s"]), float(row["end_s"])
    except (TypeError, ValueError):
        start_s, end_s = float("nan"), float("nan")
    if not (isfinite(start_s) and isfinite(end_s) and 0 <= start_s < end_s):
        raise SettingError(f"{where}: line {line}: start_s and end_s must be seconds, in order")
    return Mark(start_s, end_s, row["sound"].strip())


def inside(rows: IntArray, marks: Sequence[Mark], total: int) -> BoolArray:
    """Which of the given rows lie in a marked stretch.

    Parameters
    ----------
    rows : array of int64, any shape
    marks : sequence of Mark
    total : int
        Rows of the whole history.

    Returns
    -------
    array of bool, shape of `rows`
    """
    wanted = np.zeros(total + 1, dtype=np.bool_)
    for mark in marks:
        wanted[mark.rows(total)] = True
    marked: BoolArray = wanted[rows]
    return marked


def hidden(level: Centi, marks: Sequence[Mark]) -> Centi:
    """The history, shape (rows,), with each marked stretch replaced by the level just before it.

    A sound laid over a marked one would otherwise fire by the help of the one that is there.
    """
    if not marks:
        return level
    out = level.copy()
    for mark in marks:
        rows = mark.rows(len(level))
        out[rows] = out[max(0, rows.start - 1)]
    return out
