"""Do the counts hold? Coverage, bias and widths on simulated sites, with a negative control.

    python -m tests.study.counting_study --out docs

writes `counting_coverage.csv` and the figures into the folder's `figures`. The same functions, with
fewer sites, are asserted in tests/test_counting_study.py.

Event domain: heights of a marked Poisson process, whose true rate is a formula. Level domain: level
histories of `tests.study.roadside`; the true level for r firings a day is read from whole
simulated days by a plain trigger, and scored on further days.

Every prediction is asked twice: at the levels whose true rate is a round number a day, which only
the study knows, and at the levels that the sample itself showed so many times, as a user meets
them.
"""

import argparse
import csv
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from itertools import chain
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from scipy.optimize import brentq
from scipy.signal import find_peaks
from scipy.stats import norm

from audiolevel.calibration import Scale
from audiolevel.counting import Visit, one_day, predict
from audiolevel.levels import ROW_S
from audiolevel.listening import listen as hear
from audiolevel.planning import gains_to_hear, make_plan, survey_of
from audiolevel.posterior import Dice, ended, nodes, quantile
from audiolevel.site import Site, TriggerSection
from audiolevel.tail import Prior, exceedance, separate_peaks, tail_of
from audiolevel.traffic import published
from audiolevel.triggers import Trigger, centibels, sweep
from tests.study.roadside import STEP_S, STRESS, counts, listen, ordinary_site, stress_site

TARGETS = (2, 10, 50, 200, 1000)
SEEN = (1, 2, 3, 5, 10, 20)
SEED = 20_240_601
TUESDAY = datetime(2024, 6, 4)


@dataclass(frozen=True)
class Score:
    """One prediction at one level, whose true rate is `target` a day.

    `at` "rate": the level was chosen for its true rate, and `covered` is the share of fresh days
    inside `low` to `high`. `at` "count": for the firings that the sample showed, and `covered` is 1
    if the true rate lies inside `rate_low` to `rate_high`.
    """

    site: int
    kind: str
    minutes: float
    method: str
    target: int
    seen: int
    low: float
    high: float
    rate_low: float
    rate_high: float
    best: float
    median: float  # of the posterior, also where no best estimate is given
    covered: float
    level_error_db: float = np.nan  # of level_for_limit(target)
    level_low_db: float = np.nan  # against the true level
    level_high_db: float = np.nan
    safe_db: float = np.nan
    at: str = "rate"


# --- event domain ----------------------------------------------------------------------------


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
        p = predict(levels, [visit], extrapolate=True, spread=0.0)
        scores += _scores(seed, "event", minutes, p, true_level, fresh, site.per_day)
        p = alternative(p, peaks, minutes)
        scores += _scores(seed, "event", minutes, p, true_level, fresh, method="plain tail")
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
        for name, options in {
            f"diurnal, {days} day": {"traffic": "published"},
            f"diurnal, {days} day, no spread": {"traffic": "published", "spread": 0.0},
            f"diurnal, {days} day, as heard": {},
        }.items():
            p = predict(levels, visits, extrapolate=True, **options)
            scores += _scores(seed, name, minutes, p, true_level, fresh, per_day)
    return scores


def _visit(peaks, minutes, true_level, start=None):
    levels = np.unique(np.append(np.arange(60.0, 111.0), list(true_level.values())))
    seen = (peaks >= levels[:, None]).sum(axis=1)
    return levels, Visit(seen, 60.0 * minutes, peaks, start)


# --- level domain ----------------------------------------------------------------------------


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
    first = listen(site, 24, rng)
    grid = np.arange(_level_of_peak(first, 2000), first.max() + 15)
    days = [listen(site, 24, rng) for _ in range(reference_days)]
    mean = np.mean([counts(day, grid) for day in days], axis=0)
    true_level = {r: _level_for(grid, mean, r) for r in TARGETS if mean.max() > 1.2 * r}
    exact = np.array(list(true_level.values()))
    fresh_counts = np.array([counts(listen(site, 24, rng), exact) for _ in range(fresh_days)])
    fresh = dict(zip(true_level, fresh_counts.T, strict=True))
    levels = np.unique(np.append(np.arange(np.median(first), first.max() + 30), exact))
    per_day = partial(_rate_at, grid, mean)
    scores = []
    for minutes, repeats in plan:
        for _ in range(repeats):
            sample = listen(site, minutes / 60, rng)
            seen = sweep(centibels(sample), Trigger("threshold", 0.0), levels, STEP_S)
            peaks = separate_peaks(sample, STEP_S)
            visit = Visit(np.array([rows.size for rows in seen]), 60.0 * minutes, peaks)
            p = predict(levels, [visit], extrapolate=True, spread=0.0)
            asked = (number, kind, minutes)
            scores += _scores(*asked, p, true_level, fresh, per_day)
            plain = _plain_peaks(sample)
            p = alternative(p, plain, minutes)
            scores += _scores(*asked, p, true_level, fresh, method="plain tail")
            scores += _control(*asked, plain, true_level, fresh)
    return scores


def _rate_at(grid, mean, level):
    """Mean count a day at a level, ln straight between; nan below the falling branch."""
    start = int(np.argmax(mean))
    log_mean = np.log(np.maximum(np.minimum.accumulate(mean[start:]), 0.05))
    if level < grid[start]:
        return np.nan
    return float(np.exp(np.interp(level, grid[start:], log_mean)))


def _plain_peaks(level):
    """Local maxima ten seconds apart, of whatever height."""
    places, _ = find_peaks(level, distance=round(10 / STEP_S))
    return np.sort(level[places])[::-1]


def _level_of_peak(level, rank):
    heights = _plain_peaks(level)
    return float(np.floor(heights[min(rank, heights.size - 1)]))


def _level_for(grid, mean, rate):
    """Level at which the mean count is `rate`, on the falling branch."""
    start = int(np.argmax(mean))
    log_mean = np.log(np.maximum(np.minimum.accumulate(mean[start:]), 1e-3))
    return float(np.interp(-np.log(rate), -log_mean, grid[start:]))


def plan_scores(sites=20, *, minutes=(10.0, 60.0), fresh_days=5):
    """The whole way: a level history in a file, heard and planned as by the command `plan`.

    Days are scored at the settings of the plan's own sweep that lie nearest the true levels, with
    the spread that `plan` assumes.
    """
    scores = []
    for number in range(sites):
        rng = np.random.default_rng([SEED, 5, number])
        site = ordinary_site(rng)
        day_sounds = [listen(site, 24, rng) for _ in range(fresh_days)]
        for length in minutes:
            plan = _plan_of(listen(site, length / 60, rng))
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
                low, high = p.low_per_day[row], p.high_per_day[row]
                inside = float(np.mean((days[:, at] >= low) & (days[:, at] <= high)))
                scores.append(_row(number, "plan", length, "ours", p, row, target, inside))
            per_day = partial(_rate_at, p.settings_db[first:], mean)
            scores += _scores_where_seen(number, "plan", length, p, per_day)
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
        site = Site(trigger=TriggerSection(modes=("threshold",)))
        return make_plan(survey_of([hear(path, gains=gains_to_hear(site, Scale(None)))], site))


# --- more sound --------------------------------------------------------------------------------


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
            level = listen(site, minutes / 60, rng)
            levels = np.arange(np.median(level), level.max() + 30, 0.5)
            seen = sweep(centibels(level), Trigger("threshold", 0.0), levels, STEP_S)
            visit = Visit(
                np.array([moments.size for moments in seen]),
                60.0 * minutes,
                separate_peaks(level, STEP_S),
            )
            once, twice = (
                predict(levels, visits, extrapolate=True, spread=0.0, seed=seed)
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


# --- scores ----------------------------------------------------------------------------------


def alternative(prediction, peaks, minutes):
    """The same count with a plainer tail, which ours must not be worse than.

    All local maxima ten seconds apart, at least eight of them, a wider prior, and no going over
    from tail to count before ten firings.
    """
    if peaks.size < 9:
        return prediction
    normal = Prior(log_scale_width=0.5, log_scale_freedom=1e9)
    tail = tail_of(peaks, normal, use=max(8, int(1.5 * np.sqrt(peaks.size))))
    dice = Dice(0, 2000)
    count, levels = prediction.count, prediction.settings_db
    rare = (count < 10) & (levels > tail.above_db)
    shape, scale = tail.draws(dice.node, dice.jitter)
    above = levels[rare, None] - tail.above_db
    by_tail = dice.gammas(np.array([tail.peaks_used])) * exceedance(above, shape, scale)
    draws = dice.gammas(count)
    draws[rare] = np.where(dice.safety, draws[rare], by_tail)
    draws *= 1440.0 / minutes
    branch = int(np.argmax(count))
    daily = nodes(draws, branch)
    curve = nodes(ended(draws, levels, tail, dice), branch)[branch:]
    low, high = one_day(daily)
    return replace(
        prediction,
        per_day=quantile(daily, 0.5),
        rate_low_per_day=quantile(daily, 0.025),
        rate_high_per_day=quantile(daily, 0.975),
        low_per_day=low,
        high_per_day=high,
        curve_db=levels[branch:],
        curve_per_day=curve,
    )


def _scores(site, kind, minutes, p, true_level, fresh, per_day=None, method="ours"):
    """Scores of one prediction at the levels of all true rates, and at those seen so often."""
    scores = []
    for rate, level in true_level.items():
        row = int(np.searchsorted(p.settings_db, level))
        inside = (fresh[rate] >= p.low_per_day[row]) & (fresh[rate] <= p.high_per_day[row])
        score = _row(site, kind, minutes, method, p, row, rate, float(inside.mean()))
        answer = p.level_for_limit(rate)
        if answer is not None:
            score = replace(
                score,
                level_error_db=answer.best_db - level,
                level_low_db=answer.low_db - level,
                level_high_db=(answer.high_db or np.inf) - level,
                safe_db=(answer.safe_db or np.inf) - level,
            )
        scores.append(score)
    return scores + (_scores_where_seen(site, kind, minutes, p, per_day) if per_day else [])


def _scores_where_seen(site, kind, minutes, p, per_day):
    """Scores at levels as the sample shows them: the middle one of those that fired so often."""
    scores = []
    falling = np.arange(p.count.size) >= np.argmax(p.count)
    for seen in SEEN:
        rows = np.flatnonzero((p.count == seen) & falling)
        if not rows.size:
            continue
        row = rows[rows.size // 2]
        true = per_day(p.settings_db[row])
        if np.isfinite(true):
            inside = float(p.rate_low_per_day[row] <= true <= p.rate_high_per_day[row])
            score = _row(site, kind, minutes, "ours", p, row, true, inside)
            scores.append(replace(score, at="count"))
    return scores


def _row(site, kind, minutes, method, p, row, target, covered):
    return Score(
        site=site,
        kind=kind,
        minutes=minutes,
        method=method,
        target=target,
        seen=int(p.count[row]),
        low=p.low_per_day[row],
        high=p.high_per_day[row],
        rate_low=p.rate_low_per_day[row],
        rate_high=p.rate_high_per_day[row],
        best=p.per_day[row],
        median=_median(p, p.settings_db[row]),
        covered=covered,
    )


def _median(prediction, level):
    """Posterior median at a level of the curve, ln(rate) straight between its points."""
    log_rate = np.log(np.maximum(quantile(prediction.curve_per_day, 0.5), 1e-6))
    return float(np.exp(np.interp(level, prediction.curve_db, log_rate)))


def _control(site, kind, minutes, peaks, true_level, fresh):
    """What must fail: one exponential through the sixty loudest peaks (half of them if fewer)."""
    rng = np.random.default_rng(0)
    k = min(60, peaks.size // 2)
    above = peaks[:k] - peaks[k]
    scale = above.sum() / rng.gamma(k, 1, 2000)
    foot = rng.gamma(k + 0.5, 1, 2000) / minutes * 1440
    scores = []
    for rate, level in true_level.items():
        draws = foot * np.exp(-np.maximum(level - peaks[k], 0) / scale)
        low, high = one_day(draws)
        days = fresh[rate]
        covered = float(np.mean((days >= low) & (days <= high)))
        limits = np.quantile(draws, [0.025, 0.5, 0.975])
        scores.append(
            Score(site, kind, minutes, "control", rate, 0, low, high, limits[0], limits[2],
                  limits[1], limits[1], covered)
        )  # fmt: skip
    return scores


def pick(scores, at="rate", **wanted):
    """Scores with these fields."""
    wanted["at"] = at
    return [s for s in scores if all(getattr(s, key) == value for key, value in wanted.items())]


def coverage(scores):
    """Share of fresh days, or of true rates, inside the interval."""
    return float(np.mean([s.covered for s in scores]))


def bias(scores):
    """Median over all cases of posterior median over truth."""
    return float(np.median([s.median / s.target for s in scores]))


def level_error(scores):
    """Median and 90 % point of the error of level_for_limit, and the cover of its interval."""
    error = np.abs([s.level_error_db for s in scores])
    inside = [s.level_low_db <= 0 <= s.level_high_db for s in scores]
    error = np.where(np.isnan(error), np.inf, error)
    return float(np.median(error)), float(np.quantile(error, 0.9)), float(np.mean(inside))


def table(scores):
    """One row for each set, length and true rate."""
    rows = []
    for method, name, minutes, of_set in _sets(pick(scores)):
        for target in TARGETS:
            of = [s for s in of_set if s.target == target]
            error = level_error(of) if _asked(of) else (np.nan,) * 3
            safe = np.mean([s.safe_db >= 0 for s in of]) if _asked(of) else np.nan
            row = {
                "method": method,
                "set": name,
                "minutes": f"{minutes:g}",
                "per_day": target,
                "cases": len(of),
                "coverage": f"{coverage(of):.3f}",
                "median_low": f"{np.median([s.low for s in of]):.0f}",
                "median_high": f"{np.median([s.high for s in of]):.0f}",
                "rate_ratio": f"{np.median([_rate_ratio(s) for s in of]):.3g}",
                "bias": f"{bias(of):.2f}",
                "level_error_p50_db": f"{error[0]:.2f}",
                "level_error_p90_db": f"{error[1]:.2f}",
                "level_interval_cover": f"{error[2]:.3f}",
                "safe_achieved": f"{safe:.3f}",
            }
            rows.append({key: "-" if value == "nan" else value for key, value in row.items()})
    return rows


def seen_table(scores):
    """One row for each set, length and number of firings seen."""
    return [
        {
            "set": name,
            "minutes": f"{minutes:g}",
            "seen": seen,
            "cases": len(of),
            "true_per_day": f"{np.median([s.target for s in of]):.0f}",
            "bias": f"{bias(of):.2f}",
            "rate_coverage": f"{coverage(of):.3f}",
        }
        for _, name, minutes, of_set in _sets(pick(scores, at="count"))
        for seen in SEEN
        if (of := [s for s in of_set if s.seen == seen])
    ]


def markdown(scores):
    """The three tables of docs/counting.md, line by line."""
    rows = [row for row in table(scores) if (row["method"], row["set"]) not in LEFT_OUT]
    groups = {}
    for row in rows:
        groups.setdefault((row["method"], row["set"], row["minutes"]), []).append(row)
    head = ["set, minutes", "2 a day", *map(str, TARGETS[1:])]
    yield from _lines(
        head,
        (
            [_label(*key), *(f"{_percent(r['coverage'])}: {_ends(r)}" for r in of)]
            for key, of in groups.items()
        ),
    )
    yield from _lines(
        head,
        (
            [_label(*key), *map(_level_cell, of)]
            for key, of in groups.items()
            if of[0]["level_error_p50_db"] != "-"
        ),
    )
    seen = {}
    for row in seen_table(scores):
        if row["seen"] <= 10 and ("ours", row["set"]) not in LEFT_OUT:
            cell = f"{row['bias']}, {_percent(row['rate_coverage'])}"
            seen.setdefault(("ours", row["set"], row["minutes"]), []).append(cell)
    yield from _lines(
        ["set, minutes", "fired once", "twice", "3 times", "5 times", "10 times"],
        ([_label(*key), *cells] for key, cells in seen.items()),
    )


LEFT_OUT = (
    ("ours", "diurnal, 5 day, as heard"),
    ("ours", "diurnal, 5 day, no spread"),
    ("control", "stress"),
)


def _label(method, name, minutes):
    return f"{name}, {minutes}" if method == "ours" else f"{method}, {name}, {minutes}"


def _percent(share):
    return f"{100 * float(share):.0f}"


def _ends(row):
    return f"{row['median_low']}–{row['median_high']}"


def _level_cell(row):
    error = f"{float(row['level_error_p50_db']):.1f}/{float(row['level_error_p90_db']):.1f}"
    return f"{error}, {_percent(row['level_interval_cover'])}, {row['bias']}"


def _lines(head, rows):
    yield "| " + " | ".join(head) + " |"
    yield "|---" * len(head) + "|"
    for row in rows:
        yield "| " + " | ".join(row) + " |"
    yield ""


def _sets(scores):
    sets = sorted({(s.method, _set(s), s.minutes) for s in scores})
    for method, name, minutes in sets:
        of = pick(scores, scores[0].at, method=method, minutes=minutes)
        yield method, name, minutes, [s for s in of if _set(s) == name]


def _asked(scores):
    """Whether the level for a rate was asked for as well."""
    return any(np.isfinite(s.level_error_db) for s in scores)


def _rate_ratio(score):
    return score.rate_high / max(score.rate_low, 1e-3)


def _set(score):
    return "stress" if score.kind in STRESS else score.kind


def study(ordinary=100, stress=50, jobs=2):
    """All scores of the full study."""
    scores = event_scores() + event_scores(minutes=10.0)
    scores += diurnal_scores() + diurnal_scores(minutes=50.0, days=5)
    scores += plan_scores(ordinary // 5)
    scores += level_scores(["ordinary"] * ordinary, jobs=jobs)
    scores += level_scores([STRESS[i % len(STRESS)] for i in range(stress)], jobs=jobs)
    return scores


def write(scores, folder):
    """Tables and figures of the study."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in (("coverage", table(scores)), ("seen", seen_table(scores))):
        with open(folder / f"counting_{name}.csv", "w", newline="") as file:
            out = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
            out.writeheader()
            out.writerows(rows)
    figure(scores, folder / "counting_coverage.png")
    example_figure(folder / "counting_curve.png")


# Okabe and Ito's colours, which stay apart with any colour vision; the marker tells as well.
LOOK = {
    ("ours", "ordinary", 10): ("#0072B2", "o", "roadside, 10 min"),
    ("ours", "ordinary", 60): ("#56B4E9", "s", "roadside, 60 min"),
    ("ours", "stress", 10): ("#D55E00", "^", "stress, 10 min"),
    ("ours", "stress", 60): ("#E69F00", "v", "stress, 60 min"),
    ("ours", "diurnal, 1 day", 60): ("#009E73", "D", "one visit of 60 min, whole day"),
    ("control", "ordinary", 10): ("#000000", "x", "control: exponential, 10 min"),
}


def figure(scores, path):
    """Coverage of one day's count, and error of the level asked for, against the true rate."""
    from matplotlib.figure import Figure

    page = Figure(figsize=(9, 4), layout="constrained")
    left, right = page.subplots(1, 2)
    for (method, name, minutes), (colour, marker, label) in LOOK.items():
        groups = [
            [s for s in pick(scores, method=method, minutes=minutes, target=r) if _set(s) == name]
            for r in TARGETS
        ]
        style = {"color": colour, "marker": marker, "label": label, "lw": 1}
        left.plot(TARGETS, [coverage(g) for g in groups], **style)
        if method == "ours":
            right.plot(TARGETS, [level_error(g)[0] for g in groups], **style)
    left.axhline(0.95, color="0.5", lw=0.8, ls="--")
    left.set(ylabel="days inside their 95 % interval", ylim=(0, 1.03))
    right.set(ylabel="median error of the level for that rate, dB", ylim=(0, None))
    for axes in (left, right):
        axes.set(xscale="log", xlabel="true firings per day", xticks=TARGETS)
        axes.set_xticklabels([str(r) for r in TARGETS])
        axes.minorticks_off()
        axes.spines[["top", "right"]].set_visible(False)
    handles = left.get_legend_handles_labels()
    right.legend(*handles, fontsize=8, frameon=False, loc="upper right")
    page.savefig(path, dpi=120, metadata={"Software": None})


def example_figure(path):
    """What a prediction looks like: firings a day against the level, with the truth beside it."""
    from matplotlib.figure import Figure

    rng = np.random.default_rng([SEED, 4])
    site = marks(rng)
    page = Figure(figsize=(9, 4), layout="constrained")
    for axes, minutes in zip(page.subplots(1, 2, sharey=True), (10.0, 60.0), strict=True):
        total = rng.poisson(site.rate * minutes / 1440)
        peaks = np.sort(rng.normal(np.repeat(site.mean, total), np.repeat(site.sd, total)))[::-1]
        levels = np.arange(66.0, 100.5, 0.5)
        visit = Visit((peaks >= levels[:, None]).sum(axis=1), 60 * minutes, peaks)
        p = predict(levels, [visit], extrapolate=True, spread=0.0)
        shown = np.maximum(p.rate_low_per_day, 0.3)
        axes.fill_between(levels, shown, p.rate_high_per_day, color="#56B4E9", alpha=0.35, lw=0)
        axes.plot(levels, p.per_day, color="#0072B2", label="best estimate and 95 % of the rate")
        truth = [site.per_day(x) for x in levels]
        axes.plot(levels, truth, color="#000000", ls="--", lw=1, label="truth")
        axes.axvline(peaks[0], color="#D55E00", lw=1, ls=":", label="loudest heard")
        axes.axvline(p.reach_db, color="#D55E00", lw=1, ls="-.", label="only a limit beyond")
        axes.set(yscale="log", ylim=(0.3, 5000), xlabel="level of the threshold, dB")
        axes.set_title(f"from {minutes:.0f} minutes", fontsize=10)
        axes.spines[["top", "right"]].set_visible(False)
    page.axes[0].set_ylabel("firings per day")
    page.axes[0].legend(fontsize=8, frameon=False, loc="upper right")
    page.savefig(path, dpi=120, metadata={"Software": None})


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder of docs")
    parser.add_argument("--ordinary", type=int, default=100)
    parser.add_argument("--stress", type=int, default=50)
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    began = time.perf_counter()
    found = study(options.ordinary, options.stress, options.jobs)
    write(found, options.out / "figures")
    for line in markdown(found):
        print(line)
    for minutes in (10, 60):
        wider = widenings(["ordinary"] * 50 + list(STRESS) * 10, minutes)
        print(f"the same {minutes} min twice: width at most x {wider.max(axis=0).round(3)}")
    print(f"{time.perf_counter() - began:.0f} s")
