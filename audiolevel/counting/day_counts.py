"""The probability of a count of firings when days differ.

A day's count is a Poisson count whose rate varies from day to day: a negative binomial.

Conventions: `exposure` in mean days, spreads as standard deviations of ln(rate).

Entry points: `DayCount`, `day_spreads`, `excess_of_days`, `log_probability`, `at_most`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array
from audiolevel.counting.posterior import spreads

# Days differ: standard deviation of ln(rate) from day to day, and how many days that is worth.
# Real streets have 0.16 to 0.54 between weekdays at 10 a day, 1.1 where there were works; their
# monitors' own triggers 0.35 to 0.67 over a year (docs/counting.md). A day's part of the shift of a
# street's visits is 0.45. 0.4 is a factor of 1.5.
DAY_SD = 0.40
DAY_SD_WORTH = 3
# so many equally likely values stand for what is believed of it
_SPREADS = 7


@dataclass(frozen=True)
class DayCount:
    """Firings counted at a setting in a stretch of at most a day worth `exposure` mean days.

    `louder_db` is by how much the weather made it louder than the mean day, where it is known.
    """

    at_db: float
    count: int
    exposure: float
    louder_db: float = 0.0

    @property
    def heard_db(self) -> float:
        """The setting at which a day of mean weather fires as often."""
        return self.at_db - self.louder_db


def day_spreads() -> Array:
    """Equally likely standard deviations of ln(rate) between days, before any day was counted.

    Their squares are scaled inverse chi-squared (Gelman 2013, 2.6), so that a wild day makes the
    days differ rather than the rate be another.
    """
    share = (np.arange(_SPREADS) + 0.5) / _SPREADS
    # rising, as the quotient turns it round
    return spreads(DAY_SD, DAY_SD_WORTH, share[::-1])


def excess_of_days(days: Sequence[DayCount]) -> tuple[float, float]:
    """Variance of ln(rate) between days times its degrees of freedom, and these."""
    total, worth = 0.0, 0.0
    for at_db in {day.at_db for day in days}:
        count = np.array([d.count for d in days if d.at_db == at_db], dtype=np.float64)
        exposure = np.array([d.exposure for d in days if d.at_db == at_db])
        # one day, or none that fired, shows no difference between days
        if count.size < 2 or exposure.sum() <= 0 or count.sum() == 0:
            continue
        # what each day would have had if all shared one rate
        expected = exposure * count.sum() / exposure.sum()
        # the common rate was taken from the same counts, which costs one degree of freedom
        free = 1 - 1 / count.size
        # squares beyond what Poisson counts alone show; below zero when days differ less
        excess = float(((count - expected) ** 2).sum() - free * expected.sum())
        # the excess grows with the mean squared, so this is the variance of the rate over its mean²
        found = max(0.0, excess / (free * float((expected**2).sum())))
        # few firings say little about the spread: weigh by what they can show
        sure = (count.size - 1) * min(1.0, expected.mean() * DAY_SD**2)
        total, worth = total + sure * found, worth + sure
    return total, worth


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
