"""What is gathered from the level rows of a recording: summary, onsets, rises, each second's ends.

Entry points: `RowGatherer`, `Span`, `rows_per_s`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.ground.arrays import Array, Centi
from audiolevel.metering.decibels import centibels
from audiolevel.metering.level_changes import RiseCounter
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.meter import ROW_S, LevelRows
from audiolevel.metering.onsets import COARSEST_S, OnsetFinder, Onsets
from audiolevel.metering.statistics import Summary


@dataclass(frozen=True)
class Span:
    """Whole seconds of a recording, `first_s` to `stop_s`, and what is measured around them.

    Filters and time weightings run in before the span, and onsets that begin in it may end after:
    after half a minute nothing of S's beginning is left (e^−30).
    """

    first_s: int
    stop_s: int

    @property
    def begin_s(self) -> int:
        """Where reading begins."""
        # S falls by e for each second: 30 s leave 10^-13 of what was before
        return max(0, self.first_s - 30)

    @property
    def end_s(self) -> int:
        """Where reading ends."""
        # an onset rises by more than 10 dB/s, so one of 12 s would be 120 dB: none is longer
        return self.stop_s + 12


def rows_per_s(row_s: float) -> int:
    """Rows of about a second; never none."""
    return max(1, round(1 / row_s))


class RowGatherer:
    """Everything that is made of the level rows of a recording, or of a span of it.

    Parameters
    ----------
    history : HistoryWriter or None
        Receives the rows as they come.
    span : Span or None
        Only these seconds count; rows around it let filters and onsets run in.
    channels : int
        That have rows of their own.
    keep_levels : bool
        Keep LAF of every row.
    row_s : float
        Length of a row.

    Attributes
    ----------
    summary : Summary
    channel_summaries : list of Summary
    """

    def __init__(
        self,
        history: HistoryWriter | None,
        span: Span | None = None,
        *,
        channels: int = 0,
        keep_levels: bool = False,
        row_s: float = ROW_S,
    ) -> None:
        per_s = rows_per_s(row_s)
        # in rows from the recording's beginning
        begin, first, stop = (
            (0, 0, None)
            if span is None
            else (s * per_s for s in (span.begin_s, span.first_s, span.stop_s))
        )
        self._row_s, self._per_s = row_s, per_s
        self._row, self._begin, self._first, self._stop = begin, begin, first, stop
        self.summary = Summary(row_s)
        self.channel_summaries = [Summary() for _ in range(channels)]
        # coarser rows do not tell how steep a rise is
        fine = row_s <= COARSEST_S + 1e-9
        self._onsets = OnsetFinder(row_s, first_row=begin) if fine else None
        self._rises = RiseCounter(row_s) if fine else None
        self._history = history
        # highest sample, highest and lowest LAF of each second, three arrays for each block
        self._seconds: list[tuple[Array, Array, Array]] = []
        self._levels: list[Centi] | None = [] if keep_levels else None

    def add(self, rows: LevelRows, channel_rows: Sequence[LevelRows] = ()) -> None:
        """Take in the next rows, and those of the channels by themselves."""
        if not len(rows):
            return
        if self._onsets is not None and self._rises is not None:
            self._onsets.add(rows.laf_db)
            self._rises.add(rows.laf_db)
        stop = len(rows) if self._stop is None else max(0, self._stop - self._row)
        # the run-in before a span and what comes after it are for onsets and rises only
        inside = slice(max(0, self._first - self._row), stop)
        self._row += len(rows)
        within = rows[inside]
        if not len(within):
            return
        self.summary.add(within)
        if self._levels is not None:
            self._levels.append(centibels(within.laf_db))
        # not strict: one channel alone comes without rows of its own
        for summary, of_channel in zip(self.channel_summaries, channel_rows, strict=False):
            summary.add(of_channel[inside])
        if self._history is not None:
            self._history.add(within)
        # rows of an unfinished second; the summary holds the present ones already
        begun = (self.summary.rows - len(within)) % self._per_s
        # the first row of each second among the present rows
        edges = np.append(0, np.arange(self._per_s - begun, len(within), self._per_s))
        peak, lafmax = (
            np.maximum.reduceat(values, edges)
            for values in (within.sample_peak_db, within.lafmax_db)
        )
        lafmin = np.minimum.reduceat(within.laf_db, edges)
        if begun:
            # the second that the rows before these left unfinished
            peaks, highest, lowest = self._seconds.pop()
            peak[0], lafmax[0] = max(peak[0], peaks[-1]), max(lafmax[0], highest[-1])
            lafmin[0] = min(lafmin[0], lowest[-1])
            peak, lafmax = np.append(peaks[:-1], peak), np.append(highest[:-1], lafmax)
            lafmin = np.append(lowest[:-1], lafmin)
        self._seconds.append((peak, lafmax, lafmin))

    @property
    def laf(self) -> Centi | None:
        """LAF in hundredths of a dB FS, shape (rows,); None where it is not kept."""
        return None if self._levels is None else np.concatenate(self._levels)

    def onsets(self) -> Onsets | None:
        """Onsets that begin in the span; None where the rows are too coarse."""
        if self._onsets is None:
            return None
        # one more at both ends: the time of an onset is the end of its first row
        stop_s = np.inf if self._stop is None else (self._stop + 1) * self._row_s
        return self._onsets.onsets().between((self._first + 1) * self._row_s, stop_s)

    def rises(self) -> dict[int, int] | None:
        """Rises of so many dB within a second; None where the rows are too coarse."""
        if self._rises is None:
            return None
        # the counter's row 0 is the first that was read, not the recording's first
        stop = None if self._stop is None else self._stop - self._begin
        return self._rises.counts(self._first - self._begin, stop)

    def seconds(self) -> tuple[Array, Array, Array]:
        """Highest sample, highest and lowest LAF of each second."""
        peak, lafmax, lafmin = zip(*self._seconds, strict=True)
        return np.concatenate(peak), np.concatenate(lafmax), np.concatenate(lafmin)
