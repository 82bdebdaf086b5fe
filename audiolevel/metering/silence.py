"""Digital silence: stretches of a level history in which nothing at all was recorded.

A stream that dropped out, a recorder that began before its microphone, a switch that was off: the
file goes on, and nobody listened. In silence F weighting falls by 34.7 dB/s, so a stretch is found
by the level that no converter can have, and begins where that fall began.

Entry points: `silent_stretches`, `within`, `bridged`, `Stretches`.
"""

from collections.abc import Sequence

import numpy as np

from audiolevel.ground.arrays import BoolArray, Centi
from audiolevel.metering.decibels import centibels

Stretches = tuple[tuple[int, int], ...]
"""First rows, and rows after the last, in order."""

# the quantising noise of 24 bits lies at -146 dB FS, and no converter comes within 15 dB of it
SILENT_DB = -140.0
"""No sound: LAF at or below it, dB FS."""
# as long as a trigger is deaf after power-up: F weighting is then within 0.01 dB of the sound
_SETTLES_S = 1.0


def silent_stretches(laf: Centi, row_s: float) -> Stretches:
    """Stretches of digital silence, with the fall into each and the second after it.

    Parameters
    ----------
    laf : array of int16, shape (rows,)
        Level history in hundredths of a dB FS.
    row_s : float
        Length of a row.

    Returns
    -------
    Stretches
        Those shorter than the fall to −140 dB FS, three seconds on a street, are not found: they
        are dropouts (`irregularities`).
    """
    silent = laf <= centibels(SILENT_DB)
    if not silent.any():
        return ()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], silent.view(np.int8), [0]])))
    # the last row before each stretch that is not below the one before it
    kept = np.flatnonzero(np.diff(laf.astype(np.int32)) >= 0) + 1
    settles = round(_SETTLES_S / row_s)
    found: list[tuple[int, int]] = []
    for first, stop in edges.reshape(-1, 2).tolist():
        place = int(np.searchsorted(kept, first)) - 1
        begin = int(kept[place]) + 1 if place >= 0 else 0
        # one that begins before the last has settled goes on with it
        if found and begin <= found[-1][1]:
            begin = found.pop()[0]
        found.append((begin, min(len(laf), stop + settles)))
    return tuple(found)


def within(stretches: Sequence[tuple[int, int]], rows: int) -> BoolArray:
    """Which of so many rows lie in a stretch; shape (rows,)."""
    inside = np.zeros(rows, dtype=np.bool_)
    for first, stop in stretches:
        inside[first:stop] = True
    return inside


def bridged(laf: Centi, stretches: Sequence[tuple[int, int]]) -> Centi:
    """The history with a straight line in decibels across each stretch.

    A level held at its value before would step at the end, and a step is what a rise fires on.
    """
    if not stretches:
        return laf
    inside = within(stretches, len(laf))
    heard = np.flatnonzero(~inside)
    # all silent: there is nothing to lay a line between
    if not heard.size:
        return laf
    out = laf.copy()
    gaps = np.flatnonzero(inside)
    out[gaps] = np.rint(np.interp(gaps, heard, laf[heard])).astype(np.int16)
    return out
