"""Level histories of simulated roadsides, through the trigger, the counting, or all of `plan`.

The true level for r firings a day is read from whole simulated days of `tests.studies.roadside`
by a plain trigger, and predictions are scored on further days.
"""

from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from scipy.signal import find_peaks

from audiolevel.counting.exposure import Visit
from audiolevel.counting.peaks_over_threshold import separate_peaks
from audiolevel.counting.rates import predict
from audiolevel.metering.decibels import centibels
from audiolevel.metering.measurement import measure as hear
from audiolevel.metering.meter import ROW_S
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.site.sections import Site, SiteSection, TriggerSection
from audiolevel.triggers.trigger import Trigger, sweep
from tests.studies.passes import KIND
from tests.studies.roadside import STEP_S, counts, measure, ordinary_site, stress_site
from tests.studies.scoring import (
    SEED,
    TARGETS,
    alternative,
    control,
    row_of,
    scores_of,
    scores_where_seen,
    share_inside,
)


def level_scores(kinds, *, jobs=1, **options):
    """Whole histories: `kinds` is one name a site ("ordinary" or a stress kind)."""
    score = partial(_site_scores, **options)
    numbered = list(enumerate(kinds))
    if jobs == 1:
        return list(chain.from_iterable(map(score, numbered)))
    with ProcessPoolExecutor(jobs) as pool:
        return list(chain.from_iterable(pool.map(score, numbered)))


def _site_scores(numbered, *, reference_days=10, fresh_days=5, plan=((10, 3), (60, 2))):
    number, kind = numbered
    rng = np.random.default_rng([SEED, 2, number, len(kind)])
    site = ordinary_site(rng) if kind == "ordinary" else stress_site(rng, kind)
    first = measure(site, 24, rng)
    grid = np.arange(_level_of_peak(first, 2000), first.max() + 15)
    days = [measure(site, 24, rng) for _ in range(reference_days)]
    mean = np.mean([counts(day, grid) for day in days], axis=0)
    true_level = {r: _level_for(grid, mean, r) for r in TARGETS if mean.max() > 1.2 * r}
    exact = np.array(list(true_level.values()))
    fresh_counts = np.array([counts(measure(site, 24, rng), exact) for _ in range(fresh_days)])
    fresh = dict(zip(true_level, fresh_counts.T, strict=True))
    levels = np.unique(np.append(np.arange(np.median(first), first.max() + 30), exact))
    per_day = partial(_rate_at, grid, mean)
    scores = []
    for minutes, repeats in plan:
        for _ in range(repeats):
            sample = measure(site, minutes / 60, rng)
            p = predict(levels, [visit_of(sample, levels)], extrapolate=True, spread=0.0, kind=KIND)
            asked = (number, kind, minutes)
            scores += scores_of(*asked, p, true_level, fresh, per_day)
            plain = _plain_peaks(sample)
            p = alternative(p, plain, minutes)
            scores += scores_of(*asked, p, true_level, fresh, method="plain tail")
            scores += control(*asked, plain, true_level, fresh)
    return scores


def visit_of(level, levels):
    """What a sample of the history showed at each of the levels, by the package's own trigger."""
    fired = sweep(centibels(level), Trigger("threshold", 0.0), levels, STEP_S)
    counts_seen = np.array([rows.size for rows in fired])
    return Visit(counts_seen, level.size * STEP_S, separate_peaks(level, STEP_S))


def _falling(grid, mean, least):
    """Falling branch of the mean counts: its levels, and ln of the counts or of `least`."""
    start = int(np.argmax(mean))
    return grid[start:], np.log(np.maximum(np.minimum.accumulate(mean[start:]), least))


def _rate_at(grid, mean, level):
    """Mean count a day at a level, ln straight between; nan below the falling branch."""
    levels, log_mean = _falling(grid, mean, 0.05)
    return float(np.exp(np.interp(level, levels, log_mean, left=np.nan)))


def _plain_peaks(level):
    """Local maxima ten seconds apart, of whatever height."""
    places, _ = find_peaks(level, distance=round(10 / STEP_S))
    return np.sort(level[places])[::-1]


def _level_of_peak(level, rank):
    heights = _plain_peaks(level)
    return float(np.floor(heights[min(rank, heights.size - 1)]))


def _level_for(grid, mean, rate):
    """Level at which the mean count is `rate`, on the falling branch."""
    levels, log_mean = _falling(grid, mean, 1e-3)
    return float(np.interp(-np.log(rate), -log_mean, levels))


def plan_scores(sites=20, *, minutes=(10.0, 60.0), fresh_days=5):
    """The whole way: a level history in a file, heard and planned as by the command `plan`.

    Days are scored at the settings of the plan's own sweep that lie nearest the true levels, with
    the spread that `plan` assumes.
    """
    scores = []
    for number in range(sites):
        rng = np.random.default_rng([SEED, 5, number])
        site = ordinary_site(rng)
        day_sounds = [measure(site, 24, rng) for _ in range(fresh_days)]
        for length in minutes:
            plan = _plan_of(measure(site, length / 60, rng))
            curve = next(c for c in plan.curves if c.gain_db == 0)
            p = curve.prediction
            settings = p.settings_db + FULL_SCALE_DB
            first = int(np.searchsorted(settings, _level_of_peak(day_sounds[0], 2000)))
            days = np.array([counts(day, settings[first:]) for day in day_sounds])
            mean = days.mean(axis=0)
            for target in TARGETS:
                off = np.abs(np.log((mean + 0.01) / target)) + (
                    np.arange(mean.size) < mean.argmax()
                )
                at = int(off.argmin())
                if off[at] > np.log(1.5):
                    continue
                row = first + at
                inside = share_inside(days[:, at], p.low_per_day[row], p.high_per_day[row])
                scores.append(row_of(number, "plan", length, "ours", p, row, target, inside))
            per_day = partial(_rate_at, p.settings_db[first:], mean)
            scores += scores_where_seen(number, "plan", length, p, per_day)
    return scores


FULL_SCALE_DB = 115.0


def _plan_of(level):
    rows = round(level.size * STEP_S / ROW_S)
    ends = np.arange(1, rows + 1) * ROW_S
    laf = np.interp(ends, np.arange(1, level.size + 1) * STEP_S, level) - FULL_SCALE_DB
    with TemporaryDirectory() as folder:
        path = Path(folder) / "history.csv"
        table = np.column_stack([ends, laf])
        np.savetxt(path, table, fmt="%.2f", delimiter=",", header="time_s,laf_db", comments="")
        site = Site(site=SiteSection(kind=KIND), trigger=TriggerSection(modes=("threshold",)))
        return plan_of(survey_of([hear(path, gains=gains_to_simulate(site))], site))


def widenings(kinds, minutes, samples=1, seed=0):
    """By how much hearing the same sound twice widens an interval, one row a sample.

    The largest ratio over all levels of the falling branch, for the rate's interval, for that of a
    day's count, and for ln(high/low) of the rate where a number is given and anything was seen.
    """
    rows = []
    for number, kind in enumerate(kinds):
        rng = np.random.default_rng([SEED, 8, number])
        site = ordinary_site(rng) if kind == "ordinary" else stress_site(rng, kind)
        for _ in range(samples):
            level = measure(site, minutes / 60, rng)
            levels = np.arange(np.median(level), level.max() + 30, 0.5)
            visit = visit_of(level, levels)
            once, twice = (
                predict(levels, visits, extrapolate=True, spread=0.0, seed=seed, kind=KIND)
                for visits in ([visit], [visit, visit])
            )
            rows.append(widened(once, twice))
    return np.array(rows)


def widened(once, twice):
    """Largest ratio of widths: of the rate's interval, a day count's, and ln(high/low)."""
    falling = np.arange(once.count.size) >= np.argmax(once.count)
    known = falling & (once.count > 0) & np.isfinite(once.per_day)

    def widths(p):
        rate = (p.rate_high_per_day - p.rate_low_per_day)[falling]
        day = (p.high_per_day - p.low_per_day)[falling]
        return rate, day, np.log(p.rate_high_per_day[known] / p.rate_low_per_day[known])

    return [float((b / a).max()) for a, b in zip(widths(once), widths(twice), strict=True)]
