"""Wanted sounds marked in the recording itself.

A table with the columns `start_s`, `end_s`, `sound` and, where it is known, `distance_m` (more
columns are passed over), made by ear; read as a camera's log is, so that semicolons, tabs, headers
in other words or none at all will do. What fires there is a catch, not a false firing, and the
stretch is no part of the time listened to. A column `label` may say that a row is no wanted sound
but a firing that somebody listened to and found `false`, or was `unsure` of: both count as false.

Entry points: `read_marks`, `Mark`, `LABELS`, `inside`, `hidden`.
"""

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, inf, isfinite, nan
from numbers import Real
from pathlib import Path

import numpy as np

from audiolevel.ground.arrays import BoolArray, Centi, IntArray
from audiolevel.ground.errors import SettingError
from audiolevel.ground.tables import KIND_LIKE, table_of
from audiolevel.metering.meter import ROW_S
from audiolevel.metering.parts import Part, place_s

# F weighting falls 34.7 dB/s: half a second after a sound's end it no longer holds a level up
_AFTER_S = 0.5
_BEFORE_S = 0.1
# made by ear: a mark every 9 s of a day
_MOST_MARKS = 10_000
LABELS = ("wanted", "false", "unsure")
_FORM = "marks are start_s,end_s,sound, and rows like 12.5,14,vehicle horn"
# what headers call the columns, in some languages
_HEADERS = {
    "label": re.compile("label$", re.IGNORECASE),
    "start_s": re.compile("start|begin|from|onset|anfang|von|début|inicio", re.IGNORECASE),
    "end_s": re.compile("end|stop|until|to\\b|bis|fin", re.IGNORECASE),
    "distance_m": re.compile("distan|metre|meter|entfernung", re.IGNORECASE),
    "sound": re.compile(f"sound|name|what|geräusch|{KIND_LIKE.pattern}", re.IGNORECASE),
}


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

    def __post_init__(self) -> None:
        times = (self.start_s, self.end_s)
        if not all(isinstance(one, Real) and isfinite(one) for one in times):
            raise SettingError(f"mark of a {self.sound}: {times} are no seconds")
        if self.end_s < self.start_s:
            raise SettingError(
                f"mark of a {self.sound}: ends at {self.end_s:g} s, before {self.start_s:g} s"
            )
        if self.label not in LABELS:
            raise SettingError(f"mark of a {self.sound}: label {self.label!r}: {', '.join(LABELS)}")

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
        Table with the columns `start_s`, `end_s`, `sound` and perhaps `distance_m` and `label`.

    Returns
    -------
    tuple of Mark

    Raises
    ------
    SettingError
        The file cannot be read, lacks a column, or a row makes no sense.
    """
    where = Path(path)
    rows = table_of(where, _FORM, 1 + _MOST_MARKS)
    place, width, first = _columns(rows, where)
    return tuple(_mark(row, place, width, where) for row in rows[first:])


def _columns(rows: list[list[str]], where: Path) -> tuple[dict[str, int], int, int]:
    """Where start, end, sound and what else there is stand, of how many; the first row of marks."""
    for i, row in enumerate(rows):
        place: dict[str, int] = {}
        for name, like in _HEADERS.items():
            free = [k for k in range(len(row)) if k not in place.values() and like.match(row[k])]
            if free:
                place[name] = free[0]
        if {"start_s", "end_s"} <= set(place):
            if "sound" in place:
                return place, len(row), i + 1
            raise SettingError(f"{where}: no column says which sound it was; {_FORM}")
    # no such header: two columns of seconds, and behind them what was heard
    for i, row in enumerate(rows):
        times = [k for k, cell in enumerate(row) if isfinite(_seconds(cell))]
        if len(times) > 1 and len(row) > times[1] + 1:
            return {"start_s": times[0], "end_s": times[1], "sound": times[1] + 1}, len(row), i
    raise SettingError(f"{where}: no columns of start, end and sound; {_FORM}")


def _mark(row: list[str], place: dict[str, int], width: int, where: Path) -> Mark:
    said = f"{where}: {','.join(row)!r}"
    if len(row) <= max(place["start_s"], place["end_s"], place["sound"]) or len(row) > width:
        raise SettingError(f"{said} has other cells than the header; {_FORM}")
    # an optional cell at the end may be left out with its comma
    cell = {name: row[at] if at < len(row) else "" for name, at in place.items()}
    start_s, end_s = _seconds(cell["start_s"]), _seconds(cell["end_s"])
    # nan fails the comparison
    if not start_s < end_s:
        raise SettingError(f"{said}: start and end must be seconds or m:ss, in order; {_FORM}")
    # a file without the column holds wanted sounds alone
    label = cell.get("label", "").lower() or "wanted"
    if label not in LABELS:
        raise SettingError(f"{said}: label must be one of {', '.join(LABELS)}")
    return Mark(start_s, end_s, cell["sound"], _distance_m(cell.get("distance_m"), said), label)


def _seconds(cell: str) -> float:
    """A moment from the beginning; nan for what is none."""
    try:
        # where the comma parts no cells it is a decimal one
        return place_s(cell.replace(",", "."))
    except ValueError:
        return nan


def _distance_m(cell: str | None, said: str) -> float | None:
    if not cell:
        return None
    try:
        metres = float(cell.replace(",", "."))
    except ValueError:
        metres = nan
    if not (isfinite(metres) and metres > 0):
        raise SettingError(f"{said}: distance_m must be metres above 0 like 12.5, or empty")
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
