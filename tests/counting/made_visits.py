"""Visits whose separate peaks are a marked Poisson process."""

from dataclasses import replace

import numpy as np

from audiolevel.counting.belief import BELIEF
from audiolevel.counting.exposure import Visit

# a place at which every visit and day is like any other
STILL = replace(BELIEF, visit_db=0.0, day_db=0.0, week_db=0.0)
LEVELS = np.arange(50.0, 101.0)


def marks(per_day, scale_db, duration_s, seed, foot_db=60.0):
    """Peaks of a marked Poisson process: exponential heights over `foot_db`."""
    rng = np.random.default_rng(seed)
    total = rng.poisson(per_day * duration_s / 86400)
    return np.sort(foot_db + rng.exponential(scale_db, total))[::-1]


def heard(peaks, duration_s, start=None):
    counts = np.array([(peaks >= level).sum() for level in LEVELS])
    return Visit(counts, duration_s, peaks, start)


def site(duration_s=3600.0, seed=0, start=None):
    return heard(marks(6000, 3.0, duration_s, seed), duration_s, start)
