"""The loudest separate peaks of a level history, and how rarely louder ones come.

Peaks over threshold: of the peaks' highest, what they exceed a level u by is taken as exponential,

    P(Y > y) = exp(−y/scale),

which real series by day hardly contradict (a generalised Pareto shape of −0.03 to +0.07 from the
ten loudest an hour, docs/counting.md). Few peaks say little of the scale: it starts from a belief
worth some thirty of them.

Conventions: levels in dB, times in seconds.

Entry points: `separate_peaks`, `tail_of`, `Tail`.

References
----------
Coles, S. (2001), An Introduction to Statistical Modeling of Extreme Values, Springer, chapter 4
(model, declustering). Gelman, A. et al. (2013), Bayesian Data Analysis, 3rd ed., CRC, section 2.6
(exponential data and their conjugate prior).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting.belief import BELIEF, Belief
from audiolevel.counting.draws import Draws
from audiolevel.ground.arrays import Array
from audiolevel.triggers.trigger import rows_of

REDUCED_STEP_S = 0.1  # peaks are looked for in the maxima of such blocks
STANDS_OUT_DB = 3.0  # a ripple of the background is no event
FEWEST_PEAKS = 2  # under this there is no foot to lay


@dataclass(frozen=True)
class Tail:
    """The loudest peaks: so many above a level, and what is known of their scale.

    Attributes
    ----------
    above_db : float
        The tail's foot u.
    used : int
        Peaks above it.
    loudest_db : float
        The loudest sound heard.
    worth, total_db : float
        1/scale is distributed as Gamma(worth)/total_db.
    """

    above_db: float
    used: int
    loudest_db: float
    worth: float
    total_db: float

    def scales(self, draws: Draws) -> Array:
        """Draws of the scale in dB."""
        from scipy.special import gammaincinv

        return np.asarray(self.total_db / gammaincinv(self.worth, draws.scale))


def separate_peaks(
    level_db: ArrayLike, interval_s: float, apart_s: float = 10.0, hold_s: float = 0.0
) -> Array:
    """Heights of the loudest peaks that lie at least `apart_s` from each other.

    The highest local maximum is kept and everything nearer than `apart_s` to it dropped, then the
    next highest of the rest, and so on. The history is first reduced to the maxima of blocks of
    0.1 s, so `apart_s` holds to ±0.1 s. Peaks that stand out less than 3 dB from the dips on both
    sides (prominence) are left out at the end: a quiet site's background ripple would pass for
    events, and the tail for longer than it is. A maximum at the very border is not a peak: its
    sound may go on beyond.

    Parameters
    ----------
    level_db : array_like, shape (n,)
        Level history.
    interval_s : float
        Its step.
    apart_s : float
        Least distance of two peaks; take the trigger's re-arm time.
    hold_s : float
        A trigger that must hold needs the level *held* for so long: peaks of the moving minimum.

    Returns
    -------
    ndarray, shape (k,)
        Peaks in falling order; empty if there is none.
    """
    # imported here: only a level that extrapolates needs them
    from scipy.ndimage import minimum_filter1d
    from scipy.signal import find_peaks

    level = np.asarray(level_db, dtype=np.float64)
    held_rows = rows_of(hold_s, interval_s)
    # a stretch held for h rows spans h + 1 rows, as the first of them starts the clock
    if held_rows:
        level = minimum_filter1d(level, held_rows + 1)
    # rows in a block: ten of 10 ms; one where rows are 0.1 s or longer
    block = max(1, round(REDUCED_STEP_S / interval_s))
    whole = level.size // block * block
    # (blocks, rows of a block); the highest row stands for its block
    reduced = level[:whole].reshape(-1, block).max(axis=1)
    # the last block is shorter and must not lose its peak
    if whole < level.size:
        reduced = np.append(reduced, level[whole:].max())
    # in blocks; find_peaks refuses less than one
    distance = max(1.0, apart_s / (block * interval_s))
    found, _ = find_peaks(reduced, distance=distance, prominence=STANDS_OUT_DB)
    return np.sort(reduced[found])[::-1]


def peaks_to_use(total: int) -> int:
    """Count of the loudest peaks that make the tail: 1.5·√total, at least 4.

    More would reach down into the mass of ordinary pass-bys, which is not the same tail: 2.2·√total
    costs 0.06 dB of CRPS on measured series, 1.0 and 1.2 gain none.
    """
    return max(4, int(1.5 * math.sqrt(total)))


def tail_of(peaks_db: ArrayLike, belief: Belief = BELIEF) -> Tail | None:
    """Tail of a site's separate peaks, in any order; None with fewer than two of them."""
    peaks = np.sort(np.asarray(peaks_db, dtype=np.float64))[::-1]
    if peaks.size < FEWEST_PEAKS:
        return None
    # at least one peak must be left below to lay the foot of the tail
    used = min(peaks_to_use(peaks.size), peaks.size - 1)
    # halfway to the next peak: on the last one used its exceedance would be zero
    above = float(peaks[used - 1] + peaks[used]) / 2
    return Tail(
        above_db=above,
        used=used,
        loudest_db=float(peaks[0]),
        worth=belief.scale_worth + used,
        total_db=belief.scale_worth * belief.scale_db + float((peaks[:used] - above).sum()),
    )
