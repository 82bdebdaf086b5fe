"""The posterior of the rate at each level, as equally likely rates.

The rate at a level is described by draws, all levels with the same dice, so that curves over the
level are smooth and the same seed gives the same bytes. The draws are then kept as `NODES`
equally likely rates a level.

Conventions: rates per second of exposure; `count` is firings seen in that exposure; rows are
levels, columns are draws or nodes.

Entry points: `SharedDraws`, `spreads`, `rate_draws`, `ended`, `extrapolated`, `nodes`, `quantile`,
`one_day`.

References
----------
Jeffreys, H. (1961), Theory of Probability, 3rd ed., Oxford (prior of a Poisson mean; after k
events in t the posterior is Gamma(k + ½)/t). Wilson, E. B. & Hilferty, M. M. (1931), PNAS 17,
684-688 (cube root of a gamma variable).
"""

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array, BoolArray, IntArray
from audiolevel.counting.peaks_over_threshold import Tail, exceedance

ENOUGH = 10  # firings from which a level is counted, not extrapolated
SAFETY_SHARE = 0.1  # of the draws ignores the tail: a louder class may have been missed
REACH_DB = 6.0  # how far above the loudest peak a number can be honest
UNHEARD_FALL_DB = 10.0  # past that, a class not heard falls by a factor e per so many dB
NODES = 200
SETS = 9  # of draws
IRRATIONAL = 1.0757660660868371 ** -np.arange(1.0, SETS + 1)  # x¹⁰ = x + 1: even in nine


class SharedDraws:
    """Draws shared by all levels: stratified one by one, and evenly spread together.

    `gamma`, `node`, `normal` and `safety` step through their strata by irrational parts
    (a Kronecker sequence), so that a limit of 2000 draws moves less with the seed than one of as
    many independent draws.
    """

    def __init__(self, seed: int, draws: int) -> None:
        # imported here: loading the program does not wait for SciPy
        from scipy.special import ndtri

        rng = np.random.default_rng(seed)
        # the middle of each of `draws` equal parts of 0 to 1
        strata = (np.arange(draws) + 0.5) / draws
        # (draws, SETS): one column a dice, begun at a place of the seed's own
        places = (rng.random(SETS) + np.outer(np.arange(draws), IRRATIONAL)) % 1
        # sorting twice gives ranks: each column then hits every stratum exactly once
        even = strata[np.argsort(np.argsort(places, axis=0), axis=0)].T
        node, normal, safety, self.scale, day, flow, self.day_wet, self.visit_wet, own = even
        # in rising order, so that one draw is the same percentile at every level
        self.gamma = strata
        self.gamma_normal = ndtri(strata)
        self.node = node
        # one row for the shape, one for the scale, in steps of the grid
        self.jitter = rng.random((2, draws)) - 0.5
        self.normal = ndtri(normal)
        self.safety = safety < SAFETY_SHARE
        self.day_normal = ndtri(day)
        self.day_scale = own
        self.flow_normal = ndtri(flow)

    def binomial(self, n: int, share: float) -> Array:
        """Draws of how many of `n` happen, each with probability `share`."""
        from scipy.special import bdtr

        # P(N ≤ 0 … n − 1); how many of these lie below the draw is the draw of N
        reached = bdtr(np.arange(n), n, share) if n else np.zeros(0)
        return np.asarray(np.searchsorted(reached, self.visit_wet), dtype=np.float64)

    def gammas(self, count: IntArray) -> Array:
        """Draws of Gamma(count + ½), shape (n, draws); from 10 on by the cube root (to 0.1 %)."""
        from scipy.special import gammaincinv

        # (n, 1) against (draws,); the half is Jeffreys' prior
        a = count[:, None] + 0.5
        # Wilson and Hilferty (1931): the cube root of a gamma variable is nearly normal
        drawn = a * np.maximum(1 - 1 / (9 * a) + self.gamma_normal / (3 * np.sqrt(a)), 0) ** 3
        # below ten the cube root is too coarse; each small count is worked out once
        for few in np.unique(count[count < ENOUGH]):
            drawn[count == few] = gammaincinv(few + 0.5, self.gamma)
        return np.asarray(drawn)


def spreads(scale: float, worth: float, share: Array) -> Array:
    """Standard deviations whose squares are scaled inverse chi-squared (Gelman 2013, 2.6).

    `worth` is their degrees of freedom; one for each share of the chi-squared variable, which the
    largest spread has the smallest of.
    """
    from scipy.special import gammaincinv

    # chi-squared of ν degrees of freedom is 2·Gamma(ν/2)
    return np.asarray(scale * np.sqrt(worth / (2 * gammaincinv(worth / 2, share))))


def extrapolated(level_db: Array, count: IntArray, tail: Tail | None) -> BoolArray:
    """Levels whose rate follows the tail: seen seldom, and higher than the tail's foot."""
    if tail is None:
        return np.zeros(level_db.shape, dtype=bool)
    # at and below its foot the tail says nothing
    return np.asarray((count < ENOUGH) & (level_db > tail.above_db))


def rate_draws(
    level_db: Array, count: IntArray, exposure_s: float, tail: Tail | None, dice: SharedDraws
) -> Array:
    """Draws of the rate per second of exposure at each level, shape (n, draws).

    A level seen often, or without a tail, has the count's posterior. Any other goes over from the
    tail's to the count's with the firings seen, evenly in ln(rate), so that where the two disagree
    hearing a little more does not make the answer jump. One draw in ten keeps the count's: nothing
    in the tail knows of a louder class of sounds that happened not to pass.
    """
    rate = dice.gammas(count) / exposure_s
    rare = extrapolated(level_db, count, tail)
    if tail is None or not rare.any():
        return rate
    shape, scale = tail.draws(dice.node, dice.jitter)
    # how often the foot is exceeded at all, (1, draws)
    foot = dice.gammas(np.array([tail.peaks_used])) / exposure_s
    by_tail = foot * exceedance(level_db[rare, None] - tail.above_db, shape, scale)
    # 0 where nothing was seen, 0.9 at nine firings
    counted = (count[rare] / ENOUGH)[:, None]
    rate[rare] = np.where(dice.safety, rate[rare], by_tail ** (1 - counted) * rate[rare] ** counted)
    return rate


def ended(rate: Array, level_db: Array, tail: Tail, dice: SharedDraws) -> Array:
    """The same draws, with the count's falling off slowly far above the loudest peak.

    No limit of a setting may rest on this fall, for which there is no evidence; it is there so
    that the question turned round (which level for so many a day?) has an end.
    """
    # no fall up to 6 dB above the loudest peak, the end of what a number is given for
    far_db = np.maximum(level_db - tail.loudest_db - REACH_DB, 0)[:, None]
    return np.where(dice.safety, rate * np.exp(-far_db / UNHEARD_FALL_DB), rate)


def moved(rate: Array, level_db: Array, by_db: Array) -> Array:
    """The same draws at a site that is louder by `by_db`, one number a draw.

    Every draw's curve is moved along the level; beyond its ends it stays as it is there.
    """
    log_rate = np.log(np.maximum(rate, 1e-300))
    # (m, draws): where each draw's curve was before it was moved
    at = level_db[:, None] - by_db
    # from 1, so that there is always a point to the left
    right = np.clip(np.searchsorted(level_db, at), 1, level_db.size - 1)
    left = right - 1
    # 0 to 1: past an end the curve stays as it is there
    part = np.clip((at - level_db[left]) / (level_db[right] - level_db[left]), 0, 1)
    # picks each draw from its own column
    column = np.arange(by_db.size)
    return np.asarray(np.exp((1 - part) * log_rate[left, column] + part * log_rate[right, column]))


def nodes(rate: Array, falling_from: int) -> Array:
    """Equally likely rates in rising order, (n, NODES); from that row on none rises with level."""
    # (n, NODES, draws per node): the mean of neighbours loses none of the total
    ordered = np.sort(rate, axis=1).reshape(rate.shape[0], NODES, -1).mean(axis=2)
    # a higher setting cannot fire more; chance in the draws may say so
    ordered[falling_from:] = np.minimum.accumulate(ordered[falling_from:], axis=0)
    return np.asarray(ordered)


def quantile(equally_likely: Array, share: float) -> Array:
    """Quantile of each row of equally likely values in rising order."""
    # m values stand for the shares ½/m, 1½/m, …: value i sits at share·m − ½
    last = equally_likely.shape[-1] - 1
    place = min(max(share * (last + 1) - 0.5, 0.0), float(last))
    # a single value has no neighbour, and is its own quantile
    left = min(int(place), max(last - 1, 0))
    right = min(left + 1, last)
    part = place - left
    return np.asarray(equally_likely[..., left] * (1 - part) + equally_likely[..., right] * part)


def one_day(rates_per_day: ArrayLike, confidence: float = 0.95) -> tuple[Array, Array]:
    """Interval of one day's count when the rate is one of equally likely `rates_per_day`.

    Parameters
    ----------
    rates_per_day : array_like, shape (..., m)
        Equally likely rates; one column if the rate is known.
    confidence : float
        Of the interval, shared equally by both ends.

    Returns
    -------
    low, high : ndarray, shape (...)
        Smallest counts whose cumulative probability reaches (1 ∓ confidence)/2.

    Notes
    -----
    A Poisson mixture. P(N ≤ n) = P(Gamma(n + 1) > rate) is taken by the cube-root approximation
    of Wilson and Hilferty, good to 0.001 in probability.
    """
    root = np.cbrt(np.asarray(rates_per_day, dtype=np.float64))
    low, high = (1 - confidence) / 2, (1 + confidence) / 2
    return _count_quantile(root, low), _count_quantile(root, high)


def _count_quantile(root_rate: Array, share: float) -> Array:
    """Smallest n with a mean over the last axis of P(N ≤ n) of at least `share`, by bisection."""
    from scipy.special import ndtr

    # no count is below zero, so −1 is never enough
    low = np.full(root_rate.shape[:-1], -1.0)
    # enough for the largest rate there is, with room for chance
    high = np.ceil(root_rate.max(axis=-1) ** 3 * 1.5 + 20)
    # of counts beyond 2^53 neighbours are further apart than one, and halving would never end
    step = np.maximum(1.0, 2 * np.spacing(high))
    while np.any(high - low > step):
        middle = np.floor((low + high) / 2)
        # P(N ≤ n) = P(Gamma(n + 1) > rate): the shape is one more than the count
        a = np.maximum(middle, 0)[..., None] + 1
        z = 3 * np.sqrt(a) * (root_rate / np.cbrt(a) - 1 + 1 / (9 * a))
        enough = ndtr(-z).mean(axis=-1) >= share
        moving = high - low > step
        high = np.where(moving & enough, middle, high)
        low = np.where(moving & ~enough, middle, low)
    return np.asarray(high)
