"""Draws of what is unknown, evenly spread, and quantiles of equally likely rates.

Conventions: rows are levels, columns are draws or equally likely values in rising order.

Entry points: `Draws`, `equally_likely`, `quantile`, `one_day`.
"""

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array, IntArray

DRAWS = 1000
NODES = 200  # equally likely values that a distribution is told by
_SETS = 6  # of draws
_IRRATIONAL = 1.1127756842787055 ** -np.arange(1.0, _SETS + 1)  # x⁷ = x + 1: even in six


class Draws:
    """Draws shared by all levels: stratified one by one, and evenly spread together.

    They step through their strata by irrational parts (a Kronecker sequence), so that a limit
    moves less with the seed than one of as many independent draws.
    """

    def __init__(self, seed: int) -> None:
        # imported here: loading the program does not wait for SciPy
        from scipy.special import ndtri

        strata = (np.arange(DRAWS) + 0.5) / DRAWS
        begin = np.random.default_rng(seed).random(_SETS)
        places = (begin + np.outer(np.arange(DRAWS), _IRRATIONAL)) % 1
        # sorting twice gives ranks: each column then hits every stratum exactly once
        even = strata[np.argsort(np.argsort(places, axis=0), axis=0)].T
        self.count, self.scale, self.wildness = even[:3]
        self.flow, self.mean_shift, self.day_shift = ndtri(even[3:])

    def gammas(self, count: IntArray) -> Array:
        """Draws of Gamma(count + ½), shape (n, draws): Jeffreys' posterior of a Poisson mean."""
        from scipy.special import gammaincinv

        # the same draw at every level, so that a curve over the level is smooth
        each, place = np.unique(count, return_inverse=True)
        return np.asarray(gammaincinv(each[:, None] + 0.5, self.count))[place]

    def student(self, freedom: float) -> Array:
        """Factors that turn a normal shift into Student's t, one for each draw."""
        from scipy.special import gammaincinv

        # chi-squared of ν degrees of freedom is 2·Gamma(ν/2)
        return np.asarray(np.sqrt(freedom / (2 * gammaincinv(freedom / 2, self.wildness))))


def equally_likely(rate: Array) -> Array:
    """Draws (n, draws) as equally likely rates in rising order, (n, NODES)."""
    # the mean of neighbours loses none of the total
    return np.asarray(np.sort(rate, axis=1).reshape(rate.shape[0], NODES, -1).mean(axis=2))


def quantile(equally_likely: Array, share: float) -> Array:
    """Quantile of each row of equally likely values in rising order."""
    # m values stand for the shares ½/m, 1½/m, …: value i sits at share·m − ½
    last = equally_likely.shape[-1] - 1
    place = min(max(share * (last + 1) - 0.5, 0.0), float(last))
    # a single value has no neighbour, and is its own quantile
    left = min(int(place), max(last - 1, 0))
    part = place - left
    right = equally_likely[..., min(left + 1, last)]
    return np.asarray(equally_likely[..., left] * (1 - part) + right * part)


def one_day(rates_per_day: ArrayLike, confidence: float) -> tuple[Array, Array]:
    """Interval of one day's count when the rate is one of equally likely `rates_per_day`.

    Parameters
    ----------
    rates_per_day : array_like, shape (n, m)
        Equally likely rates; one column if the rate is known.
    confidence : float
        Of the interval, shared equally by both ends.

    Returns
    -------
    low, high : ndarray, shape (n,)
        Smallest counts whose cumulative probability, of a mixture of Poisson distributions,
        reaches (1 ∓ confidence)/2.
    """
    rate = np.asarray(rates_per_day, dtype=np.float64)
    return _count_at(rate, (1 - confidence) / 2), _count_at(rate, (1 + confidence) / 2)


def _count_at(rate: Array, share: float) -> Array:
    """Smallest count with a mean of P(N ≤ count) of at least `share`, by bisection."""
    from scipy.special import pdtr

    # no count is below zero, so −1 is never enough
    low = np.full(rate.shape[0], -1.0)
    most = rate.max(axis=1)
    high = np.ceil(most + 8 * np.sqrt(most) + 10)  # eight standard deviations are enough
    # of counts beyond 2^53 neighbours are further apart than one, and halving would never end
    step = np.maximum(1.0, 2 * np.spacing(high))
    while np.any(moving := high - low > step):
        middle = np.maximum(np.floor((low[moving] + high[moving]) / 2), 0)
        enough = pdtr(middle[:, None], rate[moving]).mean(axis=1) >= share
        high[moving] = np.where(enough, middle, high[moving])
        low[moving] = np.where(enough, low[moving], middle)
    return np.asarray(high)
