"""Wanted sounds marked in the recording itself.

A CSV with the columns `start_s`, `end_s`, `sound` and, where it is known, `distance_m` (more
columns are passed over), made by ear. What fires there is a catch, not a false firing, and the
stretch is no part of the time listened to. A column `label` may say that a row is no wanted sound
but a firing that somebody listened to and found `false`, or was `unsure` of: both count as false.

Entry points: `read_marks`, `Mark`, `LABELS`, `inside`, `hidden`.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, inf, isfinite, nan
from pathlib import Path

import numpy as np

from audiolevel.arrays import BoolArray, Centi, IntArray
from audiolevel.errors import SettingError
from audiolevel.metering.meter import ROW_S
from audiolevel.metering.parts import Part
from audiolevel.texts import read_table

# F weighting falls 34.7 dB/s: half a second after a sound's end it no longer holds a level up
_AFTER_S = 0.5
_BEFORE_S = 0.1
# made by ear: a mark every 9 s of a day
_MOST_MARKS = 10_000
LABELS = ("wanted", "false", "unsure")


@dataclass(frozen=True)
class Mark:
    """A wanted sound in the recording, from `start_s` to `end_s`.

    `distance_m` is how far off it was, None where nobody knows. `label` is one of `LABELS`: only
    what is wanted is a wanted sound.
    """

    start_s: float
    end_s: float
    sound: str
    distance_m: float | None = None
    label: str = "wanted"

    @property
    def wanted(self) -> bool:
        """Whether it is a sound to be caught."""
        return self.label == "wanted"

    @property
    def length_s(self) -> float:
        """Length with the moment in which the level falls again."""
        return self.end_s - self.start_s + _BEFORE_S + _AFTER_S

    def rows(self, total: int, row_s: float = ROW_S) -> slice:
        """The rows of a history of `total` rows that belong to it."""
        first, stop = (self.start_s - _BEFORE_S) / row_s, (self.end_s + _AFTER_S) / row_s
        if row_s > ROW_S:
            # a row of a coarse log belongs to it as soon as some of it does
            first, stop = floor(first + 1e-6), ceil(stop - 1e-6)
        # a mark outside the history is an empty slice, never one counted from the end
        return slice(min(max(0, round(first)), total), min(total, max(0, round(stop))))

    def within(self, part: Part) -> "Mark | None":
        """The same, counted from the beginning of a part; None where it lies outside."""
        end_s = inf if part.to_s is None else part.to_s
        if self.end_s <= part.begin_s or self.start_s >= end_s:
            return None
        # what of it lies past the part's end is not heard
        last_s = min(self.end_s, end_s) - part.begin_s
        return replace(self, start_s=self.start_s - part.begin_s, end_s=last_s)


def read_marks(path: str | os.PathLike[str]) -> tuple[Mark, ...]:
    """Marked stretches, in the order of the file.

    Parameters
    ----------
    path : path
        CSV with the columns `start_s`, `end_s`, `sound` and perhaps `distance_m` and `label`.

    Returns
    -------
    tuple of Mark

    Raises
    ------
    SettingError
        The file cannot be read, lacks a column, or a row makes no sense.
    """
    where = Path(path)

    def check(names: Sequence[str]) -> None:
        missing = {"start_s", "end_s", "sound"} - set(names)
        if missing:
            raise SettingError(f"{where}: no column {sorted(missing)[0]}; see docs/sounds.md")

    return tuple(_mark(row, where, line) for line, row in read_table(where, check, _MOST_MARKS))


def _mark(row: dict[str, str], where: Path, line: int) -> Mark:
    # what a row lacks is None
    if row["sound"] is None:
        raise SettingError(f"{where}: line {line}: has fewer cells than the header; mend it")
    try:
        start_s, end_s = float(row["start_s"]), float(row["end_s"])
    except (TypeError, ValueError):
        # NaN fails the comparison below, so there is one message for both
        start_s, end_s = float("nan"), float("nan")
    if not (isfinite(start_s) and isfinite(end_s) and 0 <= start_s < end_s):
        raise SettingError(f"{where}: line {line}: start_s and end_s must be seconds, in order")
    # a file without the column holds wanted sounds alone
    label = (row.get("label") or "wanted").strip().lower()
    if label not in LABELS:
        raise SettingError(f"{where}: line {line}: label must be one of {', '.join(LABELS)}")
    return Mark(start_s, end_s, row["sound"].strip(), _distance_m(row, where, line), label)


def _distance_m(row: dict[str, str], where: Path, line: int) -> float | None:
    said = (row.get("distance_m") or "").strip()
    if not said:
        return None
    try:
        metres = float(said)
    except ValueError:
        metres = nan
    if not (isfinite(metres) and metres > 0):
        raise SettingError(f"{where}: line {line}: distance_m must be metres above 0, or empty")
    return metres


def inside(rows: IntArray, marks: Sequence[Mark], total: int, row_s: float = ROW_S) -> BoolArray:
    """Which of the given rows lie in a marked stretch.

    Parameters
    ----------
    rows : array of int64, any shape
    marks : sequence of Mark
    total : int
        Rows of the whole history.
    row_s : float
        Length of a row.

    Returns
    -------
    array of bool, shape of `rows`
    """
    # one more, so that an index just past the last row is no error
    wanted = np.zeros(total + 1, dtype=np.bool_)
    for mark in marks:
        wanted[mark.rows(total, row_s)] = True
    marked: BoolArray = wanted[rows]
    return marked


def hidden(level: Centi, marks: Sequence[Mark], row_s: float = ROW_S) -> Centi:
    """The history, shape (rows,), with each marked stretch replaced by the level just before it.

    A sound laid over a marked one would otherwise fire by the help of the one that is there.
    """
    if not marks:
        return level
    out = level.copy()
    for mark in marks:
        rows = mark.rows(len(level), row_s)
        # from `out`, so that of two marks on end the second gets the level before both;
        # a mark at row 0 has nothing before it and holds its own first level
        out[rows] = out[max(0, rows.start - 1)]
    return out
