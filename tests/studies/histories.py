"""Level histories of simulated roadsides, as the counting sees them."""

import numpy as np

from audiolevel.counting.exposure import Visit
from audiolevel.counting.loudest_peaks import separate_peaks
from audiolevel.metering.decibels import centibels
from audiolevel.triggers.trigger import Trigger, sweep
from tests.studies.roadside import STEP_S


def visit_of(level, levels):
    """What a sample of the history showed at each of the levels, by the package's own trigger."""
    fired = sweep(centibels(level), Trigger("threshold", 0.0), levels, STEP_S)
    counts_seen = np.array([rows.size for rows in fired])
    return Visit(counts_seen, level.size * STEP_S, separate_peaks(level, STEP_S))


def widened(once, twice):
    """Largest ratio of ln(high/low) of the rate, where a number is given and anything was seen."""
    falling = np.arange(once.count.size) >= np.argmax(once.count)
    known = falling & (once.count > 0) & np.isfinite(once.per_day)

    def width(p):
        return np.log(p.rate_high_per_day[known] / p.rate_low_per_day[known])

    return float((width(twice) / width(once)).max())
