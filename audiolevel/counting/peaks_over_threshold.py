"""The rate of levels above all that was heard: peaks over threshold.

Peaks over threshold: the largest separate peaks of a level history exceed a level u by amounts
that follow, for u high enough, a generalised Pareto distribution (GPD),

    P(Y > y) = (1 + shape·y/scale)^(−1/shape).

Its shape and scale are not fitted but weighed on a grid against what roadsides are known to be
like, because eight to thirty peaks say little about the shape.

Conventions: levels in dB, times in seconds, rates per second of exposure; shape has no unit,
scale is in dB.

Entry points: `separate_peaks`, `tail_of`, `Tail.draws`, `exceedance`, `log_likelihood`.

References
----------
Coles, S. (2001), An Introduction to Statistical Modeling of Extreme Values, Springer, chapter 4
(model, likelihood, declustering) and chapter 9 (Bayesian inference). O'Hagan, A. (1979), On
outlier rejection phenomena in Bayes inference, J. R. Stat. Soc. B 41, 358-367.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array, IntArray
from audiolevel.errors import SettingError

REDUCED_STEP_S = 0.1  # peaks are looked for in the maxima of such blocks
STANDS_OUT_DB = 3.0  # a ripple of the background is no event
FEWEST_PEAKS = 5  # under this there is no tail to speak of


@dataclass(frozen=True)
class Prior:
    """What is believed of a tail before the first peak.

    The shape is normal. ln(scale) follows Student's t, which gives way where the peaks of an
    unusual site say otherwise (O'Hagan 1979). The defaults come from our simulated roadside sites
    (docs/counting.md): nearly exponential tails with a slight bend to an upper limit, 3.3 dB a
    factor e.
    """

    # no unit; above 0 the tail is heavier than exponential, below it has an upper end
    shape_mean: float = 0.05
    shape_width: float = 0.05
    shape_freedom: float = 3.0
    # 3.15 dB a factor e, give or take 15 %
    log_scale_mean: float = math.log(3.15)
    log_scale_width: float = 0.15
    log_scale_freedom: float = 3.0

    def log_density(self, shape: Array, log_scale: Array) -> Array:
        """Logarithm of the density at each shape and ln(scale), up to a constant."""
        of_shape = _student((shape - self.shape_mean) / self.shape_width, self.shape_freedom)
        of_scale = (log_scale - self.log_scale_mean) / self.log_scale_width
        return of_shape + _student(of_scale, self.log_scale_freedom)


@dataclass(frozen=True)
class Tail:
    """The upper end of a site's peaks: exceedances of `above_db`, weighed on a grid.

    `shape`, `log_scale` and `weight` are flat arrays over the grid's nodes; weights sum to 1.
    `peaks_db` are all the peaks in falling order.
    """

    above_db: float
    peaks_used: int
    loudest_db: float
    shape: Array
    log_scale: Array
    weight: Array
    step: tuple[float, float]
    peaks_db: Array

    def count_above(self, level_db: Array) -> IntArray:
        """Separate peaks at or above each level."""
        # searchsorted wants rising order; "left" puts a peak just at the level above it
        below = np.searchsorted(self.peaks_db[::-1], level_db, side="left")
        return np.asarray(self.peaks_db.size - below, dtype=np.int64)

    def draws(self, uniform: Array, jitter: Array) -> tuple[Array, Array]:
        """Shape and scale (dB), one of each for every number of `uniform`.

        Parameters
        ----------
        uniform : ndarray, shape (m,)
            Where in the grid's cumulative weight to look, 0 to 1.
        jitter : ndarray, shape (2, m)
            Place within the node's cell, −0.5 to 0.5, so that draws are not tied to the grid.
        """
        # rounding may leave the last sum a hair under 1: no draw may fall past the last node
        node = np.searchsorted(np.cumsum(self.weight), uniform * (1 - 1e-12))
        # and if it does, it takes the last
        node = np.minimum(node, self.weight.size - 1)
        shape = self.shape[node] + self.step[0] * jitter[0]
        return shape, np.exp(self.log_scale[node] + self.step[1] * jitter[1])


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

    Raises
    ------
    SettingError
        If the history is not one row of finite levels or a time is not above zero.
    """
    # imported here: only a level that extrapolates needs them
    from scipy.ndimage import minimum_filter1d
    from scipy.signal import find_peaks

    level = np.asarray(level_db, dtype=np.float64)
    if level.ndim != 1 or not np.all(np.isfinite(level)):
        raise SettingError("level history: one row of finite levels is needed to find its peaks")
    if not (interval_s > 0 and apart_s > 0 and hold_s >= 0):
        raise SettingError("interval_s and apart_s must be above zero and hold_s not below it")
    held_rows = math.ceil(hold_s / interval_s - 1e-9)  # as a trigger counts them
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


def exceedance(above_db: ArrayLike, shape: ArrayLike, scale_db: ArrayLike) -> Array:
    """Probability that a peak over the tail's foot exceeds it by `above_db` (broadcasts).

    Coles (2001), eq. 4.2; a shape of zero is the exponential; zero beyond the upper end of a
    negative shape.
    """
    shape = np.asarray(shape, dtype=np.float64)
    # (1 + ξy/σ)^(−1/ξ) goes over to exp(−y/σ) at ξ = 0, where the formula divides by it
    shape = np.where(np.abs(shape) < 1e-9, 1e-9, shape)
    reach = 1.0 + shape * np.asarray(above_db, dtype=np.float64) / scale_db
    # clipped so that the branch not wanted gives no warning; the last factor makes it 0
    return np.exp(-np.log(np.maximum(reach, 1e-300)) / shape) * (reach > 0)


def log_likelihood(above_db: Array, shape: ArrayLike, scale_db: ArrayLike) -> Array:
    """Log-likelihood of exceedances (k,) for shapes and scales of any common shape.

    Coles (2001), eq. 4.10; minus infinity where an exceedance lies beyond the upper end.
    """
    shape = np.asarray(shape, dtype=np.float64)
    # as in `exceedance`
    shape = np.where(np.abs(shape) < 1e-9, 1e-9, shape)
    scale = np.asarray(scale_db, dtype=np.float64)
    # (..., k): one column for each exceedance
    reach = 1.0 + (shape / scale)[..., None] * above_db
    log_reach = np.log(np.maximum(reach, 1e-300)).sum(axis=-1)
    value = -above_db.size * np.log(scale) - (1.0 + 1.0 / shape) * log_reach
    # one peak beyond the upper end rules the pair out
    return np.where(reach.min(axis=-1) > 0, value, -np.inf)


def peaks_to_use(total: int) -> int:
    """Count of the loudest peaks that make the tail: 1.5·√total, at least 4.

    More would reach down into the mass of ordinary pass-bys, which is not the same tail.
    """
    return max(FEWEST_PEAKS - 1, int(1.5 * math.sqrt(total)))


def tail_of(peaks_db: ArrayLike, prior: Prior | None = None, use: int | None = None) -> Tail | None:
    """Posterior of the tail of a site's separate peaks; None with fewer than five peaks.

    Parameters
    ----------
    peaks_db : array_like, shape (n,)
        Separate peaks, any order (of several visits: all of them).
    prior : Prior, optional
        Default: roadside sites.
    use : int, optional
        How many of the loudest make the tail; default `peaks_to_use`.
    """
    prior = prior or Prior()
    peaks = np.sort(np.asarray(peaks_db, dtype=np.float64))[::-1]
    if peaks.size < FEWEST_PEAKS:
        return None
    # at least one peak must be left below to lay the foot of the tail
    use = min(use or peaks_to_use(peaks.size), peaks.size - 1)
    # halfway to the next peak: on the last one used its exceedance would be zero
    above = (peaks[use - 1] + peaks[use]) / 2
    shape = np.linspace(-0.59, 0.61, 49)  # no node at zero, where the formula has a gap
    centre = _log_scale_centre(peaks[:use] - above, prior)
    # a factor of nine to each side of the centre, in steps of 6 %
    log_scale = centre + np.linspace(-2.2, 2.2, 72)
    # flat, 49 · 72 nodes; `draws` picks one node by its place
    shapes, log_scales = (a.ravel() for a in np.meshgrid(shape, log_scale, indexing="ij"))
    log_weight = log_likelihood(peaks[:use] - above, shapes, np.exp(log_scales))
    log_weight += prior.log_density(shapes, log_scales)
    # less the largest first, or all would underflow to zero
    weight = np.exp(log_weight - log_weight.max())
    return Tail(
        above_db=float(above),
        peaks_used=use,
        loudest_db=float(peaks[0]),
        shape=shapes,
        log_scale=log_scales,
        weight=weight / weight.sum(),
        peaks_db=peaks,
        step=(float(shape[1] - shape[0]), float(log_scale[1] - log_scale[0])),
    )


def _student(t: Array, freedom: float) -> Array:
    """Logarithm of the density of Student's t, up to a constant."""
    return np.asarray(-0.5 * (freedom + 1) * np.log1p(t**2 / freedom))


def _log_scale_centre(above_db: Array, prior: Prior) -> float:
    """Where to lay the grid: the mean exceedance and the prior, weighed by their precision."""
    precision = 1 / prior.log_scale_width**2
    # peaks all but equal would make log(0)
    data = math.log(max(float(above_db.mean()), 1e-3))
    used = above_db.size / 2  # the shape is unknown too, which costs about half the precision
    return (used * data + precision * prior.log_scale_mean) / (used + precision)
