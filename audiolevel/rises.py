"""How often does the level rise by so much within a second?

Where `onsets` looks at how steep a rise is, this counts what a rise trigger looks at: stretches
in which the level stands 6 dB or more above the lowest of the second before, each counted once, by
the most it rose.

Entry point: `RiseCounter`.
"""

import numpy as np
from numpy.typing import NDArray

from audiolevel.levels import ROW_S
from audiolevel.triggers import centibels, series

STEPS_DB = (6, 10, 15, 20)
WINDOW_S = 1.0


class RiseCounter:
    """Counts of rises by step over a stream of levels; keeps one window of rows."""

    def __init__(self) -> None:
        self._window_rows = round(WINDOW_S / ROW_S)
        self._before = np.zeros(0, dtype=np.int16)
        self._highest_now = 0  # of a stretch that is still going on, in hundredths of a dB
        self._highest: list[int] = []

    def add(self, laf_db: NDArray[np.float64]) -> None:
        """Take in more levels, shape (rows,)."""
        if not len(laf_db):
            return
        level = np.concatenate([self._before, centibels(laf_db)])
        rise = series(level, "rise", self._window_rows)[len(self._before) :]
        self._before = level[-self._window_rows :]
        up = rise >= 100 * STEPS_DB[0]
        edges = np.flatnonzero(np.diff(up, prepend=False, append=False))
        if not len(edges):
            self._end()
            return
        highest = np.maximum.reduceat(np.append(rise, 0), edges)[::2].tolist()
        if edges[0] == 0:
            highest[0] = max(highest[0], self._highest_now)
            self._highest_now = 0
        else:
            self._end()
        self._highest += highest[:-1]
        self._highest_now = highest[-1]
        if not up[-1]:
            self._end()

    def _end(self) -> None:
        if self._highest_now:
            self._highest.append(self._highest_now)
        self._highest_now = 0

    def counts(self) -> dict[int, int]:
        """How many rises of at least each step there were."""
        seen = np.array([*self._highest, self._highest_now])
        return {step: int(np.count_nonzero(seen >= 100 * step)) for step in STEPS_DB}
