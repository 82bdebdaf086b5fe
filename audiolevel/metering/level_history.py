"""Level histories, written every 10 ms as CSV; `level_log` reads them again.

A CSV file, one row every 10 ms, always in dB FS: `time_s` is the end of the row. The columns are
those of `LevelRows`; `laf_db` is the only one that a history from elsewhere must have.

No speech can be made of it again: only A-weighted F and S levels change every 10 ms, which is one
band of noise and tells of rhythm, not of words. The other columns are held for a second, because
three weightings side by side every 10 ms would tell the spectrum's shape like a vocoder of two
bands (docs/privacy.md has the measurement). A coarse history, for publication, has rows of 1 s.
"""

import os
from collections.abc import Mapping
from dataclasses import fields
from types import TracebackType

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.files import text_file
from audiolevel.metering.decibels import mean_square, rounded_db
from audiolevel.metering.meter import ROW_S, LevelRows

COLUMNS = ["time_s", "laf_db", "las_db", "lzf_db", "lcpeak_db", "clipped", "lafmax_db"]
COLUMNS += ["laeq_db", "lceq_db", "lzeq_db", "sample_peak_db"]
COARSE_COLUMNS = ["time_s", "laeq_1s_db", "lceq_1s_db", "lzeq_1s_db", "lafmax_db", "lcpeak_db"]
COARSE_COLUMNS += ["clipped"]
# a file that begins so was made by `measure` and may be made again
MARK, COARSE_MARK = (",".join(names) for names in (COLUMNS, COARSE_COLUMNS))
_MEANS, _HIGHEST = ("laeq_db", "lceq_db", "lzeq_db"), ("lzf_db", "lcpeak_db", "sample_peak_db")
# rows of 10 ms
_SECOND = 100


class HistoryWriter:
    """Write a level history as it is measured; the file appears when it is complete.

    Parameters
    ----------
    path : path
    coarse : bool
        One row a second, for publication; read like a meter's log. A last part of a second
        is left out.
    """

    def __init__(self, path: str | os.PathLike[str], *, coarse: bool = False) -> None:
        self._draft = text_file(path, COARSE_MARK if coarse else MARK)
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
        # what is left of a second waits for the rows that follow
        whole = len(held) // _SECOND * _SECOND
        self._rest = held[whole:]
        if not whole:
            return
        # shape (seconds, 100): one row of each array is one second
        by_second = {
            field.name: getattr(held, field.name)[:whole].reshape(-1, _SECOND)
            for field in fields(LevelRows)
        }
        columns = {
            name.replace("_db", "_1s_db"): rounded_db(mean_square(by_second[name]).mean(axis=1))
            for name in _MEANS
        }
        columns |= {name: by_second[name].max(axis=1) for name in ("lafmax_db", "lcpeak_db")}
        # a share already, so a plain mean and not one of energies
        columns["clipped"] = by_second["clipped"].mean(axis=1)
        self._write(COARSE_COLUMNS, columns, 1.0)

    def _write(self, names: list[str], columns: Mapping[str, Array], interval_s: float) -> None:
        size = len(columns[names[1]])
        # a row's time is its end, so the first is one interval and not 0
        ends = np.arange(self._row + 1, self._row + size + 1)
        self._row += size
        # two decimals hold the hundredths that counts are made in; a share needs figures
        line = "%.2f," + ",".join("%.6g" if name == "clipped" else "%.2f" for name in names[1:])
        cells = [columns[name] for name in names[1:]]
        table = np.column_stack([ends * interval_s, *cells]).tolist()
        self._file.writelines(line % tuple(row) + "\n" for row in table)


def _held_for_a_second(rows: LevelRows, into: int) -> dict[str, Array]:
    """The columns of a history: what is not A-weighted F or S is that of its whole second.

    `into` is the number of rows of the first second that were handed on before.
    """
    # number of the second that each row lies in, 0 for the one begun before
    second = (into + np.arange(len(rows))) // _SECOND
    # −1 in front: the first row begins a stretch even in the middle of a second
    first = np.flatnonzero(np.diff(second, prepend=-1))
    # rows of each second, which may be cut short at both ends
    size = np.diff(first, append=len(rows))
    columns = {name: getattr(rows, name) for name in COLUMNS[1:]}
    for name in _MEANS:
        means = np.add.reduceat(mean_square(columns[name]), first) / size
        columns[name] = np.repeat(rounded_db(means), size)
    # the highest of a second, so that no peak is lost by holding
    for name in _HIGHEST:
        columns[name] = np.repeat(np.maximum.reduceat(columns[name], first), size)
    return columns


def _joined(first: LevelRows, second: LevelRows) -> LevelRows:
    names = [field.name for field in fields(LevelRows)]
    return LevelRows(
        *(np.concatenate([getattr(first, name), getattr(second, name)]) for name in names)
    )
