"""Level histories: written every 10 ms as CSV, and read again in place of the sound.

A CSV file, one row every 10 ms, always in dB FS: `time_s` is the end of the row. The columns are
those of `LevelRows`; `laf_db` is the only one that a history from elsewhere must have.

No speech can be made of it again: only A-weighted F and S levels change every 10 ms, which is one
band of noise and tells of rhythm, not of words. The other columns are held for a second, because
three weightings side by side every 10 ms would tell the spectrum's shape like a vocoder of two
bands (docs/privacy.md has the measurement). A coarse history, for publication, has rows of 1 s.
"""

import os
from collections.abc import Iterator, Mapping
from dataclasses import fields
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import TextIO

import numpy as np

from audiolevel.arrays import Array
from audiolevel.errors import RecordingError
from audiolevel.files import AtomicFile
from audiolevel.metering.decibels import SILENCE_DB, mean_square, rounded_db
from audiolevel.metering.meter import ROW_S, LevelRows

COLUMNS = ["time_s", "laf_db", "las_db", "lzf_db", "lcpeak_db", "clipped", "lafmax_db"]
COLUMNS += ["laeq_db", "lceq_db", "lzeq_db", "sample_peak_db"]
COARSE_COLUMNS = ["time_s", "laeq_1s_db", "lceq_1s_db", "lzeq_1s_db", "lafmax_db", "lcpeak_db"]
COARSE_COLUMNS += ["clipped"]
_MEANS, _HIGHEST = ("laeq_db", "lceq_db", "lzeq_db"), ("lzf_db", "lcpeak_db", "sample_peak_db")
_SECOND = 100
_ROWS_AT_ONCE = 65_536
# an hour of rows that is not on the 10 ms grid is caught within this many rows
_GRID_TOLERANCE_S = 0.0015


class HistoryWriter:
    """Write a level history as it is measured; the file appears when it is complete.

    Parameters
    ----------
    path : path
    coarse : bool
        One row a second, for publication: nothing can be planned from it. A last part of a second
        is left out.
    """

    def __init__(self, path: str | os.PathLike[str], *, coarse: bool = False) -> None:
        self._draft = AtomicFile(path)
        self._coarse = coarse
        self._row = 0
        self._rest: LevelRows | None = None

    def __enter__(self) -> "HistoryWriter":
        self._file = self._draft.__enter__()
        self._file.write(",".join(COARSE_COLUMNS if self._coarse else COLUMNS) + "\n")
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._draft.__exit__(kind, error, trace)

    def add(self, rows: LevelRows) -> None:
        """Append rows; levels carry the two decimals they were rounded to."""
        if self._coarse:
            self._add_seconds(rows)
        elif len(rows):
            self._write(COLUMNS, _held_for_a_second(rows, self._row % _SECOND), ROW_S)

    def _add_seconds(self, rows: LevelRows) -> None:
        held = rows if self._rest is None else _joined(self._rest, rows)
        whole = len(held) // _SECOND * _SECOND
        self._rest = held[whole:]
        if not whole:
            return
        by_second = {
            field.name: getattr(held, field.name)[:whole].reshape(-1, _SECOND)
            for field in fields(LevelRows)
        }
        columns = {
            name.replace("_db", "_1s_db"): rounded_db(mean_square(by_second[name]).mean(axis=1))
            for name in _MEANS
        }
        columns |= {name: by_second[name].max(axis=1) for name in ("lafmax_db", "lcpeak_db")}
        columns["clipped"] = by_second["clipped"].mean(axis=1)
        self._write(COARSE_COLUMNS, columns, 1.0)

    def _write(self, names: list[str], columns: Mapping[str, Array], interval_s: float) -> None:
        size = len(columns[names[1]])
        ends = np.arange(self._row + 1, self._row + size + 1)
        self._row += size
        line = "%.2f," + ",".join("%.6g" if name == "clipped" else "%.2f" for name in names[1:])
        cells = [columns[name] for name in names[1:]]
        table = np.column_stack([ends * interval_s, *cells]).tolist()
        self._file.writelines(line % tuple(row) + "\n" for row in table)


def _held_for_a_second(rows: LevelRows, into: int) -> dict[str, Array]:
    """The columns of a history: what is not A-weighted F or S is that of its whole second.

    `into` is the number of rows of the first second that were handed on before.
    """
    second = (into + np.arange(len(rows))) // _SECOND
    first = np.flatnonzero(np.diff(second, prepend=-1))
    size = np.diff(first, append=len(rows))
    columns = {name: getattr(rows, name) for name in COLUMNS[1:]}
    for name in _MEANS:
        means = np.add.reduceat(mean_square(columns[name]), first) / size
        columns[name] = np.repeat(rounded_db(means), size)
    for name in _HIGHEST:
        columns[name] = np.repeat(np.maximum.reduceat(columns[name], first), size)
    return columns


def _joined(first: LevelRows, second: LevelRows) -> LevelRows:
    names = [field.name for field in fields(LevelRows)]
    return LevelRows(
        *(np.concatenate([getattr(first, name), getattr(second, name)]) for name in names)
    )


def is_history(path: str | os.PathLike[str]) -> bool:
    """Whether the file's name says that it is a level history, not a sound."""
    return Path(path).suffix.lower() == ".csv"


def read_history(path: str | os.PathLike[str]) -> Iterator[LevelRows]:
    """Level rows of a history file, some minutes at a time.

    Parameters
    ----------
    path : path

    Yields
    ------
    LevelRows
        What the file lacks is the nearest thing it does have: LAF for another level.

    Raises
    ------
    RecordingError
        The file is missing or empty, has no `time_s` and `laf_db`, holds something that is not a
        number, its rows are not 10 ms apart, or it is a coarse history.
    """
    where = Path(path)
    if not where.is_file():
        raise RecordingError(f"{where}: no such file; check the name")
    with where.open(newline="") as file:
        header = [name.strip() for name in file.readline().split(",")]
        if "laeq_1s_db" in header:
            raise RecordingError(
                f"{where}: is a coarse history, one row a second, for publication; nothing can be "
                "planned from it: use the recording, or measure --history without --coarse"
            )
        for name in ("time_s", "laf_db"):
            if name not in header:
                raise RecordingError(f"{where}: no column {name}; make it with measure --history")
        done = 0
        while len(table := _numbers(where, file, len(header), done)):
            columns = {name: table[:, i] for i, name in enumerate(header)}
            _refuse_other_grid(where, columns["time_s"], done)
            done += len(table)
            yield _rows(columns)
    if not done:
        raise RecordingError(f"{where}: holds no rows; make it again with measure --history")


def _numbers(where: Path, file: TextIO, width: int, done: int) -> Array:
    lines = [line for line in islice(file, _ROWS_AT_ONCE) if not line.isspace()]
    if not lines:
        return np.zeros((0, width))
    try:
        table = np.loadtxt(lines, delimiter=",", ndmin=2).reshape(len(lines), width)
    except ValueError:
        bad = next(i for i, line in enumerate(lines) if not _is_numbers(line.split(","), width))
        raise RecordingError(
            f"{where}: line {done + bad + 2} is not {width} numbers; mend or remove it"
        ) from None
    if not np.isfinite(table).all():
        bad = int(np.flatnonzero(~np.isfinite(table).all(axis=1))[0])
        raise RecordingError(f"{where}: line {done + bad + 2} holds a value that is not finite")
    return table


def _is_numbers(row: list[str], width: int) -> bool:
    try:
        return len([float(cell) for cell in row]) == width
    except ValueError:
        return False


def _refuse_other_grid(where: Path, time_s: Array, done: int) -> None:
    expected = (done + 1 + np.arange(len(time_s))) * ROW_S
    wrong = np.flatnonzero(np.abs(time_s - expected) > _GRID_TOLERANCE_S)
    if len(wrong):
        raise RecordingError(
            f"{where}: line {done + int(wrong[0]) + 2} is not 10 ms after the one before; "
            "a level history has one row every 10 ms, the first at 0.01 s"
        )


def _rows(columns: dict[str, Array]) -> LevelRows:
    """Rows from what the file has; what it lacks is the nearest thing it does have."""
    laf = np.round(columns["laf_db"], 2)
    peak = columns.get("sample_peak_db", np.full(len(laf), SILENCE_DB))
    values = {"clipped": np.zeros(len(laf)), "sample_peak_db": peak}
    return LevelRows(
        **{
            field.name: np.asarray(columns.get(field.name, values.get(field.name, laf)))
            for field in fields(LevelRows)
        }
    )
