"""How is a level history written, and read again in place of the sound?

A CSV file, one row every 10 ms, always in dB FS: `time_s` is the end of the row. The columns are
those of `LevelRows`; `laf_db` is the only one that a history from elsewhere must have.
"""

import os
from collections.abc import Iterator
from dataclasses import fields
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import TextIO

import numpy as np
from numpy.typing import NDArray

from audiolevel.errors import RecordingError
from audiolevel.levels import ROW_S, SILENCE_DB, LevelRows
from audiolevel.writing import Beside

COLUMNS = ["time_s", "laf_db", "las_db", "lzf_db", "lcpeak_db", "clipped", "lafmax_db"]
COLUMNS += ["laeq_db", "lceq_db", "lzeq_db", "sample_peak_db"]
_ROWS_AT_ONCE = 65_536
# an hour of rows that is not on the 10 ms grid is caught within this many rows
_GRID_TOLERANCE_S = 0.0015


class HistoryWriter:
    """Write a level history as it is measured; the file appears when it is complete."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self._beside = Beside(path)
        self._row = 0

    def __enter__(self) -> "HistoryWriter":
        self._file = self._beside.__enter__()
        self._file.write(",".join(COLUMNS) + "\n")
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._beside.__exit__(kind, error, trace)

    def add(self, rows: LevelRows) -> None:
        """Append rows; levels carry the two decimals they were rounded to."""
        ends = np.arange(self._row + 1, self._row + len(rows) + 1)
        self._row += len(rows)
        columns = [getattr(rows, name) for name in COLUMNS[1:]]
        line = "%.2f," + ",".join("%.6g" if name == "clipped" else "%.2f" for name in COLUMNS[1:])
        table = np.column_stack([ends * ROW_S, *columns]).tolist()
        self._file.writelines(line % tuple(row) + "\n" for row in table)


def is_history(path: str | os.PathLike[str]) -> bool:
    """Whether the file's name says that it is a level history, not a sound."""
    return Path(path).suffix.lower() == ".csv"


def read_history(path: str | os.PathLike[str]) -> Iterator[LevelRows]:
    """Level rows of a history file, some minutes at a time.

    Raises
    ------
    RecordingError
        The file is missing or empty, has no `time_s` and `laf_db`, holds something that is not a
        number, or its rows are not 10 ms apart.
    """
    where = Path(path)
    if not where.is_file():
        raise RecordingError(f"{where}: no such file; check the name")
    with where.open(newline="") as file:
        header = [name.strip() for name in file.readline().split(",")]
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


def _numbers(where: Path, file: TextIO, width: int, done: int) -> NDArray[np.float64]:
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


def _refuse_other_grid(where: Path, time_s: NDArray[np.float64], done: int) -> None:
    expected = (done + 1 + np.arange(len(time_s))) * ROW_S
    wrong = np.flatnonzero(np.abs(time_s - expected) > _GRID_TOLERANCE_S)
    if len(wrong):
        raise RecordingError(
            f"{where}: line {done + int(wrong[0]) + 2} is not 10 ms after the one before; "
            "a level history has one row every 10 ms, the first at 0.01 s"
        )


def _rows(columns: dict[str, NDArray[np.float64]]) -> LevelRows:
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
