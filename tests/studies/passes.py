"""Separate passes as heights of a marked Poisson process: the true rate is a formula.

Sites are the same all day (`event_scores`), or their hours and days differ from the published
traffic (`diurnal_scores`).
"""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial

import numpy as np
from scipy.optimize import brentq
from scipy.stats import norm

from audiolevel.counting.exposure import Visit
from audiolevel.counting.peaks_over_threshold import Prior
from audiolevel.counting.rates import predict
from audiolevel.counting.site_kinds import kind_of
from audiolevel.counting.traffic import published
from tests.studies.scoring import SEED, TARGETS, alternative, scores_of

TUESDAY = datetime(2024, 6, 4)
KIND = "busy road"  # what the simulated roadsides are


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


def event_scores(seeds=range(100), minutes=60.0):
    """Heights of separate passes; truth by formula, twenty fresh days each."""
    scores = []
    for seed in seeds:
        rng = np.random.default_rng([SEED, 1, seed])
        site = marks(rng)
        true_level = {r: site.level_for(r) for r in TARGETS}
        total = rng.poisson(site.rate * minutes / 1440)
        peaks = np.sort(rng.normal(np.repeat(site.mean, total), np.repeat(site.sd, total)))[::-1]
        fresh = {r: rng.poisson(r, 20) for r in TARGETS}
        levels, visit = _visit(peaks, minutes, true_level)
        p = predict(levels, [visit], extrapolate=True, spread=0.0, kind=KIND)
        scores += scores_of(seed, "event", minutes, p, true_level, fresh, site.per_day)
        p = alternative(p, peaks, minutes)
        scores += scores_of(seed, "event", minutes, p, true_level, fresh, method="plain tail")
    return scores


DAY_SD_DB = 0.7  # of all levels, from day to day
HOUR_SD = 0.2  # of ln(flow): the site's profile against the published one
HALF_HOUR_SD = 0.25  # of ln(flow) within the hour
LOUD_AT_NIGHT = np.array([1.9] * 5 + [1.3] * 2 + [1.0] * 9 + [0.75] * 3 + [1.1] * 5)


def diurnal_scores(seeds=range(200), minutes=60.0, days=1):
    """One visit between 8 and 18 h (or several), to a site whose hours and days differ.

    Scored three ways: with the published traffic and the usual spread ("diurnal"), with the
    traffic but no spread ("no spread"), and with the spread but no traffic ("as heard").
    """
    scores = []
    for seed in seeds:
        rng = np.random.default_rng([SEED, 3, seed])
        site = marks(rng)
        profile = published(TUESDAY) * np.exp(rng.normal(0, HOUR_SD, (2, 24)))
        profile[1] *= LOUD_AT_NIGHT
        profile /= profile.mean(axis=1, keepdims=True)
        true_level = {r: site.level_for(r, DAY_SD_DB) for r in TARGETS}
        visits = []
        for day in range(days):
            hour = int(rng.integers(8, 18))
            flow = profile[[0, 1, 1, 1, 1], hour] * np.exp(rng.normal(0, HALF_HOUR_SD))
            total = rng.poisson(site.rate * flow * minutes / days / 1440)
            mean = np.repeat(site.mean + rng.normal(0, DAY_SD_DB), total)
            peaks = np.sort(rng.normal(mean, np.repeat(site.sd, total)))[::-1]
            start = TUESDAY.replace(hour=hour) + timedelta(days=day)
            levels, visit = _visit(peaks, minutes / days, true_level, start)
            visits.append(visit)
        fresh = {
            r: rng.poisson([site.per_day(x, s) for s in rng.normal(0, DAY_SD_DB, 20)])
            for r, x in true_level.items()
        }
        per_day = partial(site.per_day, more_sd_db=DAY_SD_DB)
        for name, traffic, spread in (
            (f"diurnal, {days} day", "published", None),
            (f"diurnal, {days} day, no spread", "published", 0.0),
            (f"diurnal, {days} day, as heard", None, None),
        ):
            p = predict(levels, visits, extrapolate=True, kind=KIND, traffic=traffic, spread=spread)
            scores += scores_of(seed, name, minutes, p, true_level, fresh, per_day)
    return scores


WET_DB = 4.0  # Freitas et al. (2009), as in `site_kinds`


def wet_scores(seeds=range(120), minutes=60.0, kind=KIND):
    """A dry visit, then wet days: every class louder by `WET_DB`, twenty days each."""
    scores = []
    for seed in seeds:
        rng = np.random.default_rng([SEED, 1, seed])
        site = marks(rng)
        true_level = {r: site.level_for(r) for r in TARGETS}
        total = rng.poisson(site.rate * minutes / 1440)
        peaks = np.sort(rng.normal(np.repeat(site.mean, total), np.repeat(site.sd, total)))[::-1]
        levels, visit = _visit(peaks, minutes, true_level)
        wet = {r: rng.poisson(site.per_day(x, WET_DB), 20) for r, x in true_level.items()}
        p = predict(levels, [replace(visit, wet=False)], extrapolate=True, kind=kind)
        scores += scores_of(seed, f"wet, {kind or 'no kind'}", minutes, p, true_level, wet)
    return scores


def width_against_before(seeds=range(120), kind=KIND):
    """Median upper end of a day's count at 10 a day from ten minutes: now, and with s = 0.4.

    The latter is the spread in ln(rate) of one visit before real days were looked at, with the
    tail's prior of then.
    """
    before = replace(kind_of(kind), tail=Prior(-0.08, 0.10, 1e9, np.log(3.3), 0.35, 3.0))
    highs = []
    for seed in seeds:
        rng = np.random.default_rng([SEED, 1, seed])
        site = marks(rng)
        total = rng.poisson(site.rate * 10 / 1440)
        peaks = np.sort(rng.normal(np.repeat(site.mean, total), np.repeat(site.sd, total)))[::-1]
        levels, visit = _visit(peaks, 10, {10: site.level_for(10)})
        row = int(np.searchsorted(levels, site.level_for(10)))
        now = predict(levels, [visit], extrapolate=True, kind=kind)
        then = predict(levels, [visit], extrapolate=True, kind=before, spread=0.4)
        highs.append((now.high_per_day[row], then.high_per_day[row]))
    return np.median(highs, axis=0)


def _visit(peaks, minutes, true_level, start=None):
    levels = np.unique(np.append(np.arange(60.0, 111.0), list(true_level.values())))
    seen = (peaks >= levels[:, None]).sum(axis=1)
    return levels, Visit(seen, 60.0 * minutes, peaks, start)
