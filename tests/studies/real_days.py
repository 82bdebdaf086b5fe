"""Do the counts hold on real days? Visits to measured streets, against other days there.

    AUDIOLEVEL_REAL_LEVELS=folder python -m tests.studies.real_days --out docs

writes `real_days.md` with all tables. The series are streets by the highest level of each minute, a
quiet street by the minute and by the second, and vehicles passing a kerb. A firing is a minute (or
a vehicle) that reaches the level; by the second the package's own trigger counts. Visits are drawn
from a fixed seed, on weekdays, at any hour or by day; the truth is the count of another weekday
(of the same day where only one was measured). What is fitted to series is fitted without the one
that is scored: `left_out`.
"""

import argparse
import csv
import gzip
import os
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cache
from itertools import chain
from pathlib import Path

import numpy as np

from audiolevel.counting.exposure import LEVEL_PER_FLOW_DB, Visit
from audiolevel.counting.peaks_over_threshold import separate_peaks
from audiolevel.counting.rates import predict
from audiolevel.counting.site_kinds import KINDS, UNKNOWN
from audiolevel.counting.traffic import published
from audiolevel.metering.decibels import centibels
from audiolevel.triggers.trigger import Trigger, sweep

SEED = 20_261_125
TARGETS = (2, 10, 50, 200)
LIMIT = 10
DAY_MIN = 1440
STREETS = ("street 1", "street 3", "street 5", "street 6")
SERIES = (*STREETS, "quiet, minutes", "quiet, seconds", "kerb")
KIND_OF = dict.fromkeys(STREETS, "street") | {
    "quiet, minutes": "quiet",
    "quiet, seconds": "quiet",
    "kerb": "busy road",
}
PLANS = ((1, 10), (1, 60), (3, 10), (5, 10), (5, 20))
HOURS = {"any hour": (0, 24), "8–20 h": (8, 20)}


# --- the series ----------------------------------------------------------------------------------


def folder():
    """Where the measured series lie."""
    return Path(os.environ["AUDIOLEVEL_REAL_LEVELS"])


def rows_of(name):
    """Rows of one file, without its heading."""
    with gzip.open(folder() / f"{name}.csv.gz", "rt") as file:
        return list(csv.reader(file))[1:]


@dataclass(frozen=True, eq=False)
class Series:
    """Events of whole days: minutes from the day's beginning, and levels.

    `row_s` is 1 for the series by the second, whose firings the trigger counts; 0 for separate
    events. `same_day`: the truth is the day of the visits themselves.
    """

    name: str
    days: list
    minutes: list
    levels: list
    row_s: float = 0.0
    same_day: bool = False
    hours: tuple = (0, 24)

    def cut(self, day, first_min, last_min):
        """Levels of a stretch of a day."""
        at = self.minutes[day]
        return self.levels[day][(at >= first_min) & (at < last_min)]

    def heard(self, level, settings):
        """Firings at each setting, and separate peaks."""
        if self.row_s:
            trigger = Trigger("threshold", 0.0)
            fired = sweep(centibels(level), trigger, settings, self.row_s)
            return np.array([rows.size for rows in fired]), separate_peaks(level, self.row_s)
        peaks = np.sort(level)[::-1]
        below = np.searchsorted(peaks[::-1], settings - 1e-9)
        return peaks.size - below, peaks


@cache
def series(name):
    """One of the measured series, its weekdays."""
    if name == "kerb":
        return _kerb()
    if name.startswith("street"):
        return _by_row(name, f"street_{name[-1]}_minutes", 60)
    return _by_row(name, name.replace(", ", "_"), 60 if "minutes" in name else 1)


def _by_row(name, file, row_s):
    by_day = {}
    for moment, level in rows_of(file):
        if level:
            at = datetime.fromisoformat(moment)
            midnight = at.replace(hour=0, minute=0, second=0)
            by_day.setdefault(midnight, []).append(((at - midnight).total_seconds(), float(level)))
    alone = len(by_day) <= 2
    whole = {
        day: np.array(rows).T
        for day, rows in sorted(by_day.items())
        if len(rows) > 0.97 * 86_400 / row_s and (alone or day.weekday() < 5)
    }
    return Series(
        name,
        list(whole),
        [at / 60 for at, _ in whole.values()],
        [level for _, level in whole.values()],
        row_s=float(row_s == 1),
        same_day=alone,
    )


def _kerb():
    """Days of more than 500 vehicles, 7 to 19 h; the instrument's own day is the truth."""
    by_day = {}
    for _, level, _, _, moment in rows_of("kerb_passbys"):
        if level:
            at = datetime.fromisoformat(moment)
            midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
            by_day.setdefault(midnight, []).append(((at - midnight).total_seconds(), float(level)))
    full = {d: np.array(rows).T for d, rows in sorted(by_day.items()) if len(rows) > 500}
    return Series(
        "kerb",
        list(full),
        [at / 60 for at, _ in full.values()],
        [level for _, level in full.values()],
        same_day=True,
        hours=(7, 19),
    )


# --- what is fitted, and without which series ----------------------------------------------------


SHAPES = (0.0, 0.025, 0.05, 0.075, 0.1)
FITTING = ((1, 60), (5, 10))
# mean of ln(variance) over ln(scale²), of a scaled inverse chi-squared variable of 4 degrees
LOG_VARIANCE_BIAS = 0.270


@cache
def shape_errors(name, n=16):
    """Errors of the level for 10 a day for each shape that could be the prior's mean."""
    kind = KINDS[KIND_OF[name]]
    found = []
    for shape in SHAPES:
        tried = replace(kind, tail=replace(kind.tail, shape_mean=shape))
        of = [scores(name, *plan, "any hour", kind=tried, n=n) for plan in FITTING]
        found.append([s.error_db for s in chain(*of)])
    return np.array(found)


@cache
def hours_shift_db(name):
    """Spread between the hours' levels from 8 to 22 h, cleared of what the traffic explains."""
    one = series(name)
    levels = []
    for d, day in enumerate(one.days):
        flow = published(day)
        for hour in range(max(8, one.hours[0]), min(22, one.hours[1])):
            l10, laeq = _levels(one.cut(d, 60 * hour, 60 * hour + 60))[[0, 3]]
            levels.append((l10 + laeq) / 2 - LEVEL_PER_FLOW_DB * np.log(flow[hour]))
    return float(np.std(levels, ddof=1))


@cache
def left_out(name):
    """The kind of a series, with what is fitted taken from the other streets alone.

    Shape: the prior's mean that leaves their levels for 10 a day without bias. Shift: the scale of
    a scaled inverse chi-squared variance by the mean logarithm of theirs. The other kinds have one
    place each and take nothing from it: they are the streets' values, widened.
    """
    kind = KINDS[KIND_OF[name]]
    if name not in STREETS:
        return kind
    others = [n for n in STREETS if n != name]
    errors = np.concatenate([shape_errors(n) for n in others], axis=1)
    shape = SHAPES[int(np.argmin(np.abs(np.median(errors, axis=1))))]
    log_variance = np.mean([2 * np.log(hours_shift_db(n)) for n in others])
    shift_db = float(np.exp((log_variance - LOG_VARIANCE_BIAS) / 2))
    return replace(kind, shift_db=round(shift_db, 2), tail=replace(kind.tail, shape_mean=shape))


# --- cases ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Score:
    """One prediction against one day."""

    series: str
    visits: int
    minutes: int
    hours: str
    known: str
    inside: tuple
    high: tuple
    error_db: float
    day_error_db: float
    of_day_error_db: float
    width_db: float
    safe_on_day: bool
    safe_on_mean: bool


def level_for(grid, counts, rate):
    """Level at which a falling count is `rate`."""
    start = int(np.argmax(counts))
    falling = np.log(np.maximum(np.minimum.accumulate(counts[start:]), 1e-3))
    return float(np.interp(-np.log(rate), -falling, grid[start:]))


def cases(name, visits, minutes, hours, n) -> Iterator[tuple]:
    """Draw n cases: settings, visits, true levels, counts of the day there, its own level."""
    one = series(name)
    first, last = max(HOURS[hours][0], one.hours[0]), min(HOURS[hours][1], one.hours[1])
    top = max(map(np.max, one.levels)) + 25
    grid = np.arange(np.median(one.levels[0]), top, 0.5)
    daily = np.array([one.heard(level, grid)[0] for level in one.levels])
    rng = np.random.default_rng([SEED, SERIES.index(name), visits, minutes, first])
    for _ in range(n):
        day = int(rng.integers(len(one.days)))
        others = [day] if one.same_day else [d for d in range(len(one.days)) if d != day]
        mean = daily[day if one.same_day and name == "kerb" else slice(None)]
        mean = mean if mean.ndim == 1 else mean.mean(axis=0)
        true = {rate: level_for(grid, mean, rate) for rate in TARGETS}
        settings = np.unique(np.append(np.arange(np.floor(grid[0]), top), list(true.values())))
        count = one.heard(one.levels[day], settings)[0]
        heard = [
            _visit(one, d, rng, 60 * first, 60 * last, minutes, settings)
            for d in rng.choice(others, visits, replace=len(others) < visits)
        ]
        yield settings, heard, true, count, level_for(settings, count.astype(float), LIMIT)


def _visit(one, day, rng, first_min, last_min, minutes, settings):
    while True:
        at = int(rng.integers(first_min, last_min - minutes + 1))
        level = one.cut(day, at, at + minutes)
        if level.size >= 5 and (one.hours != (0, 24) or _whole(one, level, minutes)):
            break
    counts, peaks = one.heard(level, settings)
    start = one.days[day] + timedelta(minutes=at)
    return Visit(counts, 60.0 * minutes, peaks, start, *_levels(level))


def _levels(level):
    """L10, L50, L90 and LAeq."""
    l90, l50, l10 = np.percentile(level, [10, 50, 90])
    return np.array([l10, l50, l90, 10 * np.log10(np.mean(10 ** (level / 10)))])


def _whole(one, level, minutes):
    return level.size > 0.9 * minutes * (60 if one.row_s else 1)


def scores(name, visits, minutes, hours, known="kind", n=60, kind=None):
    """Scores of n cases; `known` is what is said of the site: its kind, or nothing."""
    kind = kind or (left_out(name) if known == "kind" else UNKNOWN)
    active = np.zeros(24)
    active[slice(*series(name).hours)] = 1.0
    found = []
    for settings, heard, true, count, day_db in cases(name, visits, minutes, hours, n):
        p = predict(
            settings, heard, extrapolate=True, traffic="published", active=active, kind=kind
        )
        rows = np.searchsorted(settings, list(true.values()))
        answer = p.level_for_limit(LIMIT)
        safe = np.inf if answer is None or answer.safe_db is None else answer.safe_db
        high = np.inf if answer is None or answer.high_db is None else answer.high_db
        best, low = (np.nan,) * 2 if answer is None else (answer.best_db, answer.low_db)
        found.append(
            Score(
                name,
                visits,
                minutes,
                hours,
                known,
                tuple((p.low_per_day[rows] <= count[rows]) & (count[rows] <= p.high_per_day[rows])),
                tuple(p.high_per_day[rows]),
                best - true[LIMIT],
                best - day_db,
                level_for(p.curve_db, np.median(p.curve_of_day, axis=1), LIMIT) - day_db,
                high - low,
                bool(safe >= day_db - 1e-9),
                bool(safe >= true[LIMIT] - 1e-9),
            )
        )
    return found


# --- tables --------------------------------------------------------------------------------------


def line(label, found):
    """One row: inside at each rate, median upper end at 10, error, bias, safe level kept."""
    inside = 100 * np.mean([s.inside for s in found], axis=0)
    error = np.array([s.error_db for s in found])
    day = np.abs([s.day_error_db for s in found])
    return (
        f"| {label} | {' / '.join(f'{x:.0f}' for x in inside)} | "
        f"{np.median([s.high[1] for s in found]):.0f} | "
        f"{np.nanmedian(np.abs(error)):.1f}, {np.nanmedian(error):+.1f} | "
        f"{np.nanmedian(day):.1f} | "
        f"{100 * np.mean([s.safe_on_day for s in found]):.0f} "
        f"({100 * np.mean([s.safe_on_mean for s in found]):.0f}) |"
    )


HEAD = (
    "| series | inside at 2 / 10 / 50 / 200 a day, % | upper end at 10 | level for 10: error, bias "
    "dB | error on the day | safe level kept: day (mean day), % |\n|---|---|---|---|---|---|"
)


def _one(job):
    name, visits, minutes, hours, known, n = job
    return scores(name, visits, minutes, hours, known, n)


def study(n=40, jobs=2, plans=PLANS, names=SERIES, known=("kind", "nothing"), hours=tuple(HOURS)):
    """All scores, in a fixed order."""
    todo = [
        (name, visits, minutes, when, what, n)
        for what in known
        for when in hours
        for visits, minutes in plans
        for name in names
        if when == "any hour" or (name != "kerb" and what == "kind")
    ]
    for name in names:  # once, not in every process
        left_out(name)
    if jobs == 1:
        return list(chain.from_iterable(map(_one, todo)))
    with ProcessPoolExecutor(jobs) as pool:
        return list(chain.from_iterable(pool.map(_one, todo)))


def tables(found) -> Iterator[str]:
    """A table for each kind of visit."""
    groups = {}
    for one in found:
        groups.setdefault((one.known, one.hours, one.visits, one.minutes), []).append(one)
    for (known, hours, visits, minutes), of in groups.items():
        what = "its kind is known" if known == "kind" else "nothing is said of the site"
        number = "one visit" if visits == 1 else f"{visits} visits"
        yield f"\n## {number} of {minutes} min, {hours}, {what}\n"
        yield HEAD
        for name in SERIES:
            own = [s for s in of if s.series == name]
            if own:
                yield line(name, own)
        yield line("**streets together**", [s for s in of if s.series in STREETS])


def narrower(name="quiet, minutes", n=60, visits=3, minutes=10):
    """Share of cases in which several visits' interval is narrower than the first one's alone."""
    found = []
    for settings, heard, *_ in cases(name, visits, minutes, "8–20 h", n):
        widths = []
        for some in (heard[:1], heard):
            p = predict(settings, some, extrapolate=True, traffic="published", kind=KIND_OF[name])
            answer = p.level_for_limit(LIMIT)
            widths.append((answer.high_db or np.inf) - answer.low_db)
        found.append(widths[1] < widths[0])
    return float(np.mean(found))


def that_day_table(found) -> Iterator[str]:
    """Five visits to the quiet street against the level of that very day.

    What is asked of one day is answered by the middle of what one day does, which lies below the
    mean of the days.
    """
    yield "\n## Five visits to the quiet street, the level for 10 on that very day\n"
    yield (
        "The middle of what one day does, which lies below the mean of the days, against the "
        "day's own\nlevel: error, bias, dB.\n"
    )
    yield "| series | five of | any hour | 8–20 h |\n|---|---|---|---|"
    for name in ("quiet, minutes", "quiet, seconds"):
        for minutes in (10, 20):
            cells = []
            for hours in HOURS:
                errors = [
                    s.of_day_error_db
                    for s in found
                    if (s.series, s.visits, s.minutes, s.hours, s.known)
                    == (name, 5, minutes, hours, "kind")
                ]
                cells.append(f"{np.median(np.abs(errors)):.1f}, {np.median(errors):+.1f}")
            yield f"| {name} | {minutes} min | {' | '.join(cells)} |"


INTRODUCTION = """# Visits to real places, and the days they predict

Made by `python -m tests.studies.real_days --out docs` from measured series that are not part of the
repository; what it means stands in [counting](counting.md). {n} draws a row, fixed seed. Inside:
the other weekday's count in its 95 % interval, at the levels that fire so often on the mean
weekday. Upper end: median, of that interval where 10 a day are true. Error: of the level for 10 a
day against the mean weekday's; on the day: against that day's own. Safe level: kept 10 on that day
(on the mean day). The kerb: vehicles from 7 to 19 h, within one day.
"""


def page(found, n) -> str:
    """The whole page."""
    fitted = [
        "\n## What is fitted, without the series that it is used on\n",
        "| series | shape of the tail's prior | shift of a visit, dB | hours' levels, sd dB |",
        "|---|---|---|---|",
    ]
    for name in SERIES:
        kind = left_out(name)
        fitted.append(
            f"| {name} | {kind.tail.shape_mean:+.3f} ± {kind.tail.shape_width} t₃ | "
            f"{kind.shift_db:.2f} | {hours_shift_db(name):.1f} |"
        )
    fitted += that_day_table(found)
    last = (
        "\nAt the quiet street three visits of ten minutes give a narrower interval than the\n"
        f"first of them alone in {100 * narrower(n=n):.0f} % of {n} cases.\n"
    )
    return "\n".join([INTRODUCTION.format(n=n), *tables(found), *fitted, last])


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder of docs")
    parser.add_argument("--cases", type=int, default=100)
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    began = time.perf_counter()
    made = page(study(options.cases, options.jobs), options.cases)
    (options.out / "real_days.md").write_text(made, encoding="utf-8")
    print(f"{time.perf_counter() - began:.0f} s")
