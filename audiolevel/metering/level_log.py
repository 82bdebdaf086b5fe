"""Level histories read in place of the sound: the program's own, and logs of other instruments.

Rows may come at any regular interval up to 1 s and under any header, delimited by comma, semicolon
or tab, with decimal commas where the delimiter is none. Levels above what dB FS can reach are sound
pressure, and brought to dB FS by the calibration of the camera's microphone.

Entry points: `LevelLog`, `LogForm`, `is_history`.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass, fields
from datetime import datetime
from functools import partial
from io import StringIO
from itertools import islice
from pathlib import Path
from typing import TextIO

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import PassingError, RecordingError
from audiolevel.ground.tables import TextTable
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.level_history import COLUMNS
from audiolevel.metering.meter import LevelRows

COARSEST_S = 1.0
# eleven minutes of rows of 10 ms
_ROWS_AT_ONCE = 65_536
# the interval is told from these: the more there are, the less rounded times matter
_FIRST_ROWS = 1000
# of an interval; times may be rounded
_GRID_TOLERANCE = 0.15
# a full-scale square wave reads +3.01 dB FS, so no level in dB FS is above it
_HIGHEST_DBFS = 3.02
# no sound is so loud, and digital silence is -200
_HIGHEST_DB = 200.0
# characters of a row, many times what the widest log has
_LONGEST_LINE, _LONGEST_HEADER = 4096, 65_536
# characters of a header in an error
_MOST_SHOWN = 120


def is_history(path: str | os.PathLike[str]) -> bool:
    """Whether the file's name says that it is a level history, not a sound."""
    return Path(path).suffix.lower() in (".csv", ".tsv", ".txt")


@dataclass(frozen=True)
class LogForm:
    """Where the levels of a log stand, and what they are.

    Attributes
    ----------
    level_column, time_column : str or None
        Names in the header; None takes `laf_db` and `time_s`.
    spl_at_full_scale_db : float or None
        What a log in dB SPL is brought to dB FS by: that of the camera's microphone.
    """

    level_column: str | None = None
    time_column: str | None = None
    spl_at_full_scale_db: float | None = None


class LevelLog:
    """A level history that is open for reading: what its first rows say of it, and its rows.

    Parameters
    ----------
    path : path or TextTable
    form : LogForm

    Attributes
    ----------
    row_s : float
        Between two rows, up to `COARSEST_S`.
    start : datetime or None
        Time of the first row, where the times are dates.
    quantity : str
        "LAeq" where the column's name says that its levels are means, else "LAF".
    lacking : frozenset of str
        The columns of `LevelRows` that the file does not have.

    Raises
    ------
    RecordingError
        The file is missing or empty, lacks a column, holds something that is not a number, or its
        rows are not regular or further apart than 1 s.
    """

    def __init__(self, path: str | os.PathLike[str], form: LogForm | None = None) -> None:
        self._table = path if isinstance(path, TextTable) else None
        self.path, self._form = Path(path), form or LogForm()
        # it is read twice, which a pipe cannot be
        if self._table is None and os.path.exists(self.path) and not os.path.isfile(self.path):
            raise RecordingError(f"{self.path}: is no ordinary file; name one")
        with self._text() as file:
            self._read_header(file.readline(_LONGEST_HEADER))
            times, _ = self._chunk(file, _FIRST_ROWS, 0)
        if not len(times):
            raise RecordingError(
                f"{self.path}: holds no rows; make it again with measure --history"
            )
        self.row_s = self._interval(times)
        self._first_s = times[0]

    @property
    def quantity(self) -> str:
        """What the level column holds, by its name."""
        # instruments write LAeq, Leq or LAeq,1s
        return "LAeq" if "eq" in self._level.lower() else "LAF"

    def rows(self) -> Iterator[LevelRows]:
        """Level rows, some minutes at a time; what is lacking is the nearest thing there is."""
        done, in_spl = 0, False
        with self._text() as file:
            file.readline(_LONGEST_HEADER)
            while True:
                times, columns = self._chunk(file, _ROWS_AT_ONCE, done)
                if not len(times):
                    return
                self._refuse_other_grid(times, done)
                highest = float(columns["laf_db"].max())
                above = highest > _HIGHEST_DBFS and "sample_peak_db" in self.lacking
                # the first rows decide: a log does not change its unit on the way
                in_spl = in_spl or (above and not done)
                if above and not in_spl:
                    raise RecordingError(
                        f"{self.path}: levels begin as dB FS and later reach {highest:.1f} dB, "
                        "above full scale; give one unit throughout"
                    )
                done += len(times)
                yield _rows(self._in_full_scale(columns, highest) if in_spl else columns)

    def _text(self) -> TextIO:
        if self._table is not None:
            return StringIO(self._table.text, newline="")
        # exports begin with a byte-order mark; a bad byte in an unread column does no harm
        try:
            return self.path.open(newline="", encoding="utf-8-sig", errors="replace")
        except FileNotFoundError as error:
            raise RecordingError(f"{self.path}: no such file; check the name") from error
        except OSError as error:
            raise PassingError(
                f"{self.path}: cannot be read ({error.strerror}); check its permissions"
            ) from error

    def _read_header(self, line: str) -> None:
        """Find the delimiter and the columns that are wanted."""
        form = self._form
        # a comma may be a decimal one, so it only counts where tab and semicolon are absent
        self._delimiter = next((one for one in ("\t", ";") if one in line), ",")
        header = [name.strip().strip('"').strip() for name in line.split(self._delimiter)]
        self._width = len(header)
        self._level, self._time = form.level_column or "laf_db", form.time_column or "time_s"
        # dates of an index
        if self._table is not None and form.time_column is None and "time" in header:
            self._time = "time"
        if form.level_column is None and "laeq_1s_db" in header:
            raise RecordingError(
                f"{self.path}: is a coarse history, one row a second, for publication; use the "
                "recording, or say by --level-column laeq_1s_db or lafmax_db what to plan from"
            )
        for name, option in ((self._time, "--time-column"), (self._level, "--level-column")):
            if name not in header:
                shown = ", ".join(name for name in header if name) or "nothing"
                # what is no table at all may be one long line
                shown = shown if len(shown) <= _MOST_SHOWN else f"{shown[:_MOST_SHOWN]} …"
                raise RecordingError(
                    f"{self.path}: no column {name}; its header has {shown}: "
                    f"name one by {option}, or make it with measure --history"
                )
            if header.count(name) > 1:
                raise RecordingError(
                    f"{self.path}: has the column {name} {header.count(name)} times; leave one"
                )
        known = [name for name in COLUMNS if name in header and name not in ("time_s", "laf_db")]
        self._names = ["laf_db", *known]
        self._places = [header.index(self._level), *(header.index(name) for name in known)]
        self._time_place = header.index(self._time)
        self.lacking = frozenset(COLUMNS) - {"time_s", "laf_db", *known}
        self.start: datetime | None = None

    def _chunk(self, file: TextIO, rows: int, done: int) -> tuple[Array, dict[str, Array]]:
        """Times in seconds, and the columns, of the next rows."""
        # what is longer is parted, and then no row of the table
        some = islice(iter(partial(file.readline, _LONGEST_LINE), ""), rows)
        lines = [line for line in some if not line.isspace()]
        if not lines:
            return np.zeros(0), {}
        if self._delimiter != ",":
            lines = [line.replace(",", ".") for line in lines]
        if done == 0:
            # what is no number of seconds is taken for a date, for the whole file by its first row
            self._dated = not _is_number(self._cell(lines[0]))
        # dates are no numbers for loadtxt and are read apart
        places = self._places if self._dated else [self._time_place, *self._places]
        table = self._numbers(lines, places, done)
        times = self._moments(lines, done) if self._dated else table[:, 0]
        columns = table if self._dated else table[:, 1:]
        # line numbers are 2 more: they count from 1, and the header is the first
        wrong = np.flatnonzero(np.abs(columns[:, 0]) > _HIGHEST_DB)
        if len(wrong):
            raise RecordingError(
                f"{self.path}: line {done + int(wrong[0]) + 2}: {columns[wrong[0], 0]:g} dB is no "
                "level; is it a mark for a missing one?"
            )
        return times, dict(zip(self._names, columns.T, strict=True))

    def _cell(self, line: str) -> str:
        cells = line.rstrip("\r\n").split(self._delimiter)
        return cells[self._time_place].strip(' "') if len(cells) > self._time_place else ""

    def _numbers(self, lines: list[str], places: list[int], done: int) -> Array:
        try:
            table = np.loadtxt(
                lines, delimiter=self._delimiter, usecols=places, ndmin=2, quotechar='"'
            )
            # usecols passes over lines with cells too many or too few elsewhere
            ragged = any(line.count(self._delimiter) + 1 != self._width for line in lines)
        except ValueError:
            ragged = True
        if ragged:
            # line by line only now, to name the first bad one
            bad = next((i for i, line in enumerate(lines) if not self._holds(line, places)), 0)
            what = f"{self._width} numbers"
            if len(places) < self._width:
                what = f"{self._width} cells with numbers in the columns that are read"
            raise RecordingError(
                f"{self.path}: line {done + bad + 2} is not {what}; mend or remove it"
            )
        if not np.isfinite(table).all():
            bad = int(np.flatnonzero(~np.isfinite(table).all(axis=1))[0])
            raise RecordingError(
                f"{self.path}: line {done + bad + 2} holds a value that is not finite"
            )
        return table

    def _holds(self, line: str, places: list[int]) -> bool:
        cells = line.rstrip("\r\n").split(self._delimiter)
        return len(cells) == self._width and all(_is_number(cells[at]) for at in places)

    def _moments(self, lines: list[str], done: int) -> Array:
        """Seconds since the first row, from dates and times."""
        moments = []
        for i, line in enumerate(lines):
            try:
                moments.append(datetime.fromisoformat(self._cell(line)))
            except ValueError:
                raise RecordingError(
                    f"{self.path}: line {done + i + 2}: {self._time} is neither seconds nor a date "
                    "and time like 2026-03-02T17:30:00"
                ) from None
        if self.start is None:
            self._first_moment = moments[0]
            # schedules go by the time on the clock; an offset only counts between rows
            self.start = moments[0].replace(tzinfo=None)
        try:
            return np.array([(one - self._first_moment).total_seconds() for one in moments])
        # a moment with an offset less one without
        except TypeError:
            raise RecordingError(
                f"{self.path}: some times have an offset from UTC and some have none; "
                "write them all alike"
            ) from None

    def _interval(self, times: Array) -> float:
        """Seconds between two rows, from the first of them."""
        own = self._form.time_column is None and not self._dated
        if own:
            # times are ends of rows, so the first is one interval
            interval_s = float(times[0])
            if not 0 < interval_s <= COARSEST_S * 1.001:
                raise RecordingError(
                    f"{self.path}: line 2 is at {interval_s:g} s, but time_s is the end of each "
                    f"row of up to {COARSEST_S:g} s; give --time-column time_s where times begin "
                    "elsewhere"
                )
            return _rounded_interval(interval_s)
        if len(times) < 2:
            raise RecordingError(f"{self.path}: holds one row only; its interval cannot be told")
        steps = np.diff(times)
        # the median, so that one gap does not set the interval
        usual = float(np.median(steps))
        if not 0 < usual <= COARSEST_S * 1.001:
            raise RecordingError(
                f"{self.path}: its rows are {usual:g} s apart by {self._time}; "
                f"a level history needs rows that follow each other by up to {COARSEST_S:g} s"
            )
        # a mean over whole steps, so that times rounded to milliseconds do not drift
        return _rounded_interval(
            float(times[-1] - times[0]) / max(float(np.rint(steps / usual).sum()), 1.0)
        )

    def _refuse_other_grid(self, times: Array, done: int) -> None:
        # from the first row and not the one before, so that rounding does not add up
        expected = self._first_s + (done + np.arange(len(times))) * self.row_s
        wrong = np.flatnonzero(np.abs(times - expected) > _GRID_TOLERANCE * self.row_s)
        if len(wrong):
            shown = f"{1000 * self.row_s:.6g} ms" if self.row_s < 1 else f"{self.row_s:g} s"
            raise RecordingError(
                f"{self.path}: line {done + int(wrong[0]) + 2} is not {shown} after the one "
                "before; a level history has one row at every step, none left out"
            )

    def _in_full_scale(self, columns: dict[str, Array], highest: float) -> dict[str, Array]:
        full = self._form.spl_at_full_scale_db
        if full is None:
            raise RecordingError(
                f"{self.path}: levels of {highest:.1f} dB are sound pressure, not dB FS; give the "
                "camera's microphone.spl_at_full_scale_db in the site file (audiolevel calibrate)"
            )
        # a share is no level and stays
        return {
            name: column if name == "clipped" else column - full for name, column in columns.items()
        }


def _rounded_interval(interval_s: float) -> float:
    """A part of a second exactly, where it is one within 0.2 %."""
    parts = round(1 / interval_s)
    if parts and abs(interval_s * parts - 1) < 0.002:
        return 1 / parts
    return round(interval_s, 6)


def _is_number(cell: str) -> bool:
    try:
        float(cell.strip(' "\r\n'))
    except ValueError:
        return False
    return True


def _rows(columns: dict[str, Array]) -> LevelRows:
    """Rows from what the file has; what it lacks is the nearest thing it does have."""
    laf = np.round(columns["laf_db"], 2)
    # not LAF: a level says nothing of the highest sample, and silence clips at no gain
    peak = columns.get("sample_peak_db", np.full(len(laf), SILENCE_DB))
    values = {"clipped": np.zeros(len(laf)), "sample_peak_db": peak}
    return LevelRows(
        **{
            field.name: np.asarray(columns.get(field.name, values.get(field.name, laf)))
            for field in fields(LevelRows)
        }
    )
