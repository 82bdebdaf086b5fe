"""Days differ: by how much, and the probability of a count of firings when they do.

A day's count is a Poisson count whose rate varies from day to day: a negative binomial.

Conventions: spreads are standard deviations of ln(rate).

Entry points: `DAY_SD`, `day_spreads`, `log_probability`, `at_most`.
"""

import math

import numpy as np

from audiolevel.ground.arrays import Array

# Days differ: standard deviation of ln(rate) from day to day, and how many days that is worth.
# Real streets have 0.16 to 0.54 between weekdays at 10 a day, 1.1 where there were works; their
# monitors' own triggers 0.35 to 0.67 over a year (docs/counting.md). 0.4 is a factor of 1.5.
DAY_SD = 0.40
DAY_SD_WORTH = 3
# so many equally likely values stand for what is believed of it
_SPREADS = 7


def day_spreads() -> Array:
    """Equally likely standard deviations of ln(rate) between days, before any day was counted.

    Their squares are scaled inverse chi-squared (Gelman 2013, 2.6), so that a wild day makes the
    days differ rather than the rate be another.
    """
    from scipy.special import gammaincinv

    share = (np.arange(_SPREADS) + 0.5) / _SPREADS
    # chi-squared of ν degrees of freedom is 2·Gamma(ν/2); rising, as the quotient turns it round
    chi2 = 2 * gammaincinv(DAY_SD_WORTH / 2, share[::-1])
    return np.asarray(DAY_SD * np.sqrt(DAY_SD_WORTH / chi2))


def log_probability(count: int, mean: Array, sd: float) -> Array:
    """Logarithm of the negative binomial probability of a count whose rate varies by `sd`.

    Variance mean + (exp(sd²) − 1)·mean², as of a Poisson count whose rate has that spread.
    """
    # imported here: loading the program does not wait for SciPy
    from scipy.special import gammaln

    size = size_of(sd)
    # size need not be whole, so gamma functions stand in for the factorials
    fixed = gammaln(count + size) - gammaln(size) - gammaln(count + 1)
    return np.asarray(fixed - size * np.log1p(mean / size) - count * np.log1p(size / mean))


def size_of(sd: float) -> float:
    """Size of the negative binomial whose rate has the spread `sd`."""
    # the guard leaves a size of 10⁸ at no spread, which cannot be told from a Poisson count
    return 1 / math.expm1(max(sd, 1e-4) ** 2)


def at_most(count: float, mean: Array, sd: float) -> Array:
    """Probability of `count` or fewer: a regularised incomplete beta function."""
    from scipy.special import betainc

    size = size_of(sd)
    # P(N ≤ n) is I_p(size, n + 1) with p = size/(size + mean)
    return np.asarray(betainc(size, count + 1.0, size / (size + mean)))
