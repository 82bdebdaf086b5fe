"""Separate passes as heights of a marked Poisson process: the true rate is a formula."""

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm

TUESDAY = datetime(2024, 6, 4)
DAY_SD_DB = 0.7  # of all levels, from day to day
HOUR_SD = 0.2  # of ln(flow): the site's profile against the published one
HALF_HOUR_SD = 0.25  # of ln(flow) within the hour
LOUD_AT_NIGHT = np.array([1.9] * 5 + [1.3] * 2 + [1.0] * 9 + [0.75] * 3 + [1.1] * 5)


@dataclass(frozen=True)
class Marks:
    """Classes of separate passes: daily rate, mean and sd of their heights in dB."""

    rate: np.ndarray
    mean: np.ndarray
    sd: np.ndarray

    def per_day(self, level, shift_db=0.0, more_sd_db=0.0):
        """Rate at or above a level."""
        sd = np.hypot(self.sd, more_sd_db)
        return float(self.rate @ norm.sf(level, self.mean + shift_db, sd))

    def level_for(self, target, more_sd_db=0.0):
        """Level reached `target` times a day."""
        return brentq(lambda x: self.per_day(x, 0.0, more_sd_db) - target, 30, 140)


def marks(rng):
    """Cars, heavy vehicles, motorbikes, impulses and on half the sites sirens."""
    per_day = 24 * np.exp(rng.uniform(np.log(90), np.log(300)))
    rate = per_day * np.array([0.9, 0.07, 0.015, 0.015]) * rng.uniform(0.7, 1.3, 4)
    rate = np.append(rate, rng.uniform(0.5, 6) if rng.random() < 0.5 else 0.0)
    mean = np.array([68.0, 76, 78, 69, 88]) + rng.normal(0, 2)
    return Marks(rate, mean, np.array([3.0, 3, 5, 6, 5]))
