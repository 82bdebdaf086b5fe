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
    """Largest ratio of widths: of the rate's interval, a day count's, and ln(high/low)."""
    falling = np.arange(once.count.size) >= np.argmax(once.count)
    known = falling & (once.count > 0) & np.isfinite(once.per_day)

    def widths(p):
        rate = (p.rate_high_per_day - p.rate_low_per_day)[falling]
        day = (p.high_per_day - p.low_per_day)[falling]
        return rate, day, np.log(p.rate_high_per_day[known] / p.rate_low_per_day[known])

    return [float((b / a).max()) for a, b in zip(widths(once), widths(twice), strict=True)]
