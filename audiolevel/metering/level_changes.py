"""Changes of level within a window, and counts of the rises of a recording.

Where `onsets` looks at how steep a rise is, this counts what a rise trigger looks at: stretches
in which the level stands 6 dB or more above the lowest of the second before, each counted once, by
the most it rose.

Entry points: `series`, `RiseCounter`.
"""

import numpy as np

from audiolevel.ground.arrays import Array, Centi
from audiolevel.metering.decibels import centibels
from audiolevel.metering.meter import ROW_S

STEPS_DB = (6, 10, 15, 20)
WINDOW_S = 1.0
# 2.8 hours of rows of 10 ms
_ROWS_AT_ONCE = 1_000_000


def series(level: Centi, mode: str, window_rows: int) -> Centi:
    """What a mode compares with its setting, for each row, in hundredths of a dB.

    Parameters
    ----------
    level : array of int16, shape (rows,)
    mode : str
    window_rows : int
        Rows before the present one that `rise`, `fall` and `change` look back on; near the start,
        as many as there are.

    Returns
    -------
    array of int16, shape (rows,)
        The level itself for `threshold`; else how far it is above the lowest, below the highest
        of the window, or the larger of the two.
    """
    if mode == "threshold":
        return level
    changes = np.empty_like(level)
    # a stretch at a time, so that a day of rows needs no more room than its answer
    for begin in range(0, len(level), _ROWS_AT_ONCE):
        end = min(begin + _ROWS_AT_ONCE, len(level))
        # one window more in front, whose own changes are dropped again
        stretch = level[max(0, begin - window_rows) : end]
        # before the beginning the first level is taken to have lasted, so nothing changes there
        padded = np.concatenate([np.full(window_rows, stretch[0]), stretch])
        changes[begin:end] = changes_after(padded, mode, window_rows)[begin - end :]
    return changes


def changes_after(level: Centi, mode: str, window_rows: int) -> Centi:
    """Changes along the last axis, of all rows but the first window, which is looked back on."""
    from scipy.ndimage import maximum_filter1d, minimum_filter1d  # kept out of start-up

    present = level[..., window_rows:]
    # the filter is centred: index window // 2 + k spans the rows k − window to k − 1
    before = slice(window_rows // 2, window_rows // 2 + present.shape[-1])
    parts: list[Centi] = []
    if mode in ("rise", "change"):
        parts.append(present - minimum_filter1d(level, window_rows)[..., before])
    if mode in ("fall", "change"):
        parts.append(maximum_filter1d(level, window_rows)[..., before] - present)
    return parts[0] if len(parts) == 1 else np.maximum(*parts)


class RiseCounter:
    """Counts of rises by step over a stream of levels; keeps one window of rows."""

    def __init__(self, row_s: float = ROW_S) -> None:
        self._window_rows = round(WINDOW_S / row_s)
        self._before = np.zeros(0, dtype=np.int16)
        self._row = 0
        # first row and highest rise, in hundredths of a dB, of each stretch; the last may go on
        self._stretches: list[tuple[int, int]] = []
        self._goes_on = False

    def add(self, laf_db: Array) -> None:
        """Take in more levels, shape (rows,)."""
        if not len(laf_db):
            return
        level = np.concatenate([self._before, centibels(laf_db)])
        rise = series(level, "rise", self._window_rows)[len(self._before) :]
        self._before = level[-self._window_rows :]
        up = rise >= 100 * STEPS_DB[0]
        edges = np.flatnonzero(np.diff(up, prepend=False, append=False))
        if len(edges):
            # edges are begin, end, begin, …: [::2] leaves out the rows between the stretches,
            # and the 0 appended gives an end at the last row a place
            highest = np.maximum.reduceat(np.append(rise, 0), edges)[::2].tolist()
            stretches = [
                (self._row + int(at), top) for at, top in zip(edges[::2], highest, strict=True)
            ]
            # the rise that the rows before ended in: counted once, by its highest
            if edges[0] == 0 and self._goes_on:
                first, before = self._stretches.pop()
                stretches[0] = (first, max(before, stretches[0][1]))
            self._stretches += stretches
        self._goes_on = bool(up[-1])
        self._row += len(rise)

    def counts(self, first_row: int = 0, stop_row: int | None = None) -> dict[int, int]:
        """How many rises of at least each step there were, by the row they began in."""
        stop = self._row if stop_row is None else stop_row
        seen = np.array([top for at, top in self._stretches if first_row <= at < stop])
        return {step: int(np.count_nonzero(seen >= 100 * step)) for step in STEPS_DB}
