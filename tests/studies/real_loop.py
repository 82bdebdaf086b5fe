"""Plan, log and re-set on measured streets, and a year of their monitors' own logs.

    AUDIOLEVEL_REAL_LEVELS=folder python -m tests.studies.real_loop --out docs

writes `real_loop.md` and `real_loop.csv`. A street is planned from one visit of an hour
by day; then the weekdays after the visit are its camera's log, one after another: a firing is a
minute that reaches the level set. The truth is the level at which the month's mean weekday fires
at the limit.

The yearly logs are the times at which the monitors' own triggers fired; their level is not known
and was changed at times. A plan made from one hour of them is followed up day after day.
"""

import argparse
import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import chain
from pathlib import Path

import numpy as np

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.day_counts import DayCount
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.followup.bayes import predictive, update
from audiolevel.followup.event_log import Log
from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import corrected_plan, follow
from tests.evidence import put
from tests.studies.followup_study import plan_object
from tests.studies.real_series import (
    LIMIT,
    SEED,
    SERIES,
    STREETS,
    level_for,
    made_visit,
    rows_of,
    series,
)

PUBLISHED = Conditions(traffic="published")
EVENINGS = 7
LOG_DAYS = (0, 1, 2, 4, 7)
# what is set every evening: the best estimate, half a decibel more, and no step above 6 dB
ABOVE_BEST_DB, STEP_DB = 0.5, 6.0
OVER = 3 * LIMIT


# --- plan, log, re-set ---------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Street:
    """A street's settings, count of each weekday there, and true level for the limit."""

    name: str
    settings: np.ndarray
    daily: np.ndarray
    true_db: float

    @property
    def mean(self) -> np.ndarray:
        """Count of the mean weekday at each setting."""
        return np.asarray(self.daily.mean(axis=0))

    def own_db(self, first: int, days: int) -> float:
        """The level at which so many days from one on fired at the limit themselves."""
        if not days:
            return math.nan
        return level_for(self.settings, self.daily[first : first + days].mean(axis=0), LIMIT)

    def row(self, level_db: float) -> int:
        """The setting nearest to a level."""
        return int(np.abs(self.settings - level_db).argmin())


@cache
def street(name):
    """A street and its truth."""
    one = series(name)
    settings = np.arange(np.floor(np.median(one.levels[0])), max(map(np.max, one.levels)) + 25, 0.5)
    daily = np.array([one.heard(level, settings)[0] for level in one.levels])
    return Street(name, settings, daily, level_for(settings, daily.mean(axis=0), LIMIT))


def plans(name, n) -> Iterator[tuple]:
    """So many visits of an hour by day: the day, what is predicted, and dice for what follows."""
    one, of = series(name), street(name)
    rng = np.random.default_rng([SEED, 8, SERIES.index(name)])
    for _ in range(n):
        # the log's days come after the visit's
        day = int(rng.integers(len(one.days) - EVENINGS))
        visit = made_visit(one, day, rng, 8 * 60, 20 * 60, 60, of.settings)
        prediction = predict(of.settings, [visit], PUBLISHED, extrapolate=True)
        yield day, prediction, rng


@dataclass(frozen=True)
class Evening:
    """What is known and what is set after so many days of log.

    Attributes
    ----------
    name, days
        Street, and days of log so far.
    error_db : float
        Best estimate of the level for the limit, less the true one.
    alone_db : float
        The same of the level at which these days themselves fired at the limit on the mean.
    width_db : float
        Of the level's 95 % interval.
    holds, holds_own : bool
        Whether that holds the true level, and that of these days themselves.
    next_inside : bool
        Whether the next day's count lies in its interval.
    per_day, count
        Rate of the mean weekday at what was set for the next day, and that day's count.
    changed : bool
        Whether a follow-up set it, and not the plan.
    """

    name: str
    days: int
    error_db: float
    alone_db: float
    width_db: float
    holds: bool
    holds_own: bool
    next_inside: bool
    per_day: float
    count: int
    changed: bool


def set_every_evening(name, n, first="safe") -> list[Evening]:
    """The best estimate is set every evening, beginning with the plan's safe or best level."""
    of, found = street(name), []
    for day, prediction, _ in plans(name, n):
        limit = prediction.level_for_limit(LIMIT)
        at = of.row(limit.safe_db if first == "safe" else limit.best_db)
        expectation = expectation_of(plan_object(prediction, at, LIMIT))
        days: list[DayCount] = []
        for k in range(EVENINGS + 1):
            posterior = update(expectation.prior, days, changed=bool(days))
            best, low, high = posterior.lasting.quantiles(
                posterior.level_for(LIMIT), [0.5, 0.025, 0.975]
            )
            if k:
                step = np.clip(best + ABOVE_BEST_DB - of.settings[at], -STEP_DB, STEP_DB)
                at = of.row(of.settings[at] + step)
            set_db = float(of.settings[at])
            count = int(of.daily[min(day + 1 + k, len(of.daily) - 1), at])
            expected = predictive(posterior, set_db, [1.0], 0.95)
            own_db = of.own_db(day + 1, k)
            found.append(
                Evening(
                    name,
                    k,
                    # before any log the plan speaks for itself
                    (best if k else limit.best_db) - of.true_db,
                    own_db - of.true_db,
                    high - low,
                    bool(low <= of.true_db <= high),
                    bool(low <= own_db <= high),
                    count in expected,
                    float(of.mean[at]),
                    count,
                    k > 0,
                )
            )
            days.append(DayCount(set_db, count, 1.0))
    return found


def by_the_program(name, n) -> list[Evening]:
    """The program's own plan, follow-up and corrected plan; half with sounds that are missed."""
    of, found = street(name), []
    one = series(name)
    for day, prediction, rng in plans(name, n):
        at = of.row(prediction.level_for_limit(LIMIT).safe_db)
        catching_db = float(of.settings[at] + rng.uniform(-8, 8)) if rng.random() < 0.5 else None
        plan, changed = plan_object(prediction, at, LIMIT, catching_db), False
        for k in range(EVENINGS):
            level_db = plan.recommended.level_db
            at = of.row(level_db)
            log = _log(one.levels[day + 1 + k], one.minutes[day + 1 + k], level_db, k)
            result = follow(expectation_of(plan), [(log, level_db)])
            best, own_db = result.decision.level, of.own_db(day + 1, k + 1)
            found.append(
                Evening(
                    name,
                    k + 1,
                    best.best - of.true_db,
                    own_db - of.true_db,
                    best.high - best.low,
                    of.true_db in best,
                    own_db in best,
                    log.fired_s.size in result.last.by_day[0].expected,
                    float(of.mean[at]),
                    log.fired_s.size,
                    changed,
                )
            )
            changed = changed or not result.decision.keep
            plan = corrected_plan(result)
    return found


def _log(level, minutes, at_db, number):
    """A whole weekday's log; every day is laid on the same Monday and those after it."""
    begin = datetime(2024, 6, 3, tzinfo=UTC).timestamp() + 86400.0 * number
    return Log(
        name="log",
        fired_s=begin + 60 * np.floor(minutes[level >= at_db - 1e-9]),
        other_s=np.empty(0),
        covered=((begin, begin + 86400.0),),
        zone=UTC,
        own_span=False,
        kinds_known=True,
        recorded_s=math.nan,
        notices=(),
    )


# --- a year of the monitors' own logs ------------------------------------------------------------


@dataclass(frozen=True)
class NextDay:
    """A day's count against what followed from so many days of log before it."""

    name: str
    days: int
    inside: bool
    low: float
    high: float
    count: int


@cache
def yearly(name):
    """Firings of each hour of each day from the first whole day on, (days, 24), and that day."""
    moments = [datetime.fromisoformat(row[0]) for row in rows_of(f"street_{name[-1]}_events")]
    first = min(moments).replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=1)
    # the last day may have been cut off
    hours = np.zeros(((max(moments) - first).days, 24), dtype=np.int64)
    last = -math.inf
    for at in sorted(moments):
        day, seconds = (at - first).days, (at - first).total_seconds()
        # as any log: firings within the re-arm time are one
        if 0 <= day < len(hours) and seconds - last >= 10:
            hours[day, at.hour] += 1
            last = seconds
    return hours, first


def next_days(name, every=5) -> list[NextDay]:
    """Plans from one hour on every fifth day, and the days after it one by one."""
    hours, first = yearly(name)
    rng = np.random.default_rng([SEED, 9, SERIES.index(name)])
    found = []
    most = max(LOG_DAYS)
    for start in range(0, len(hours) - most - 2, every):
        hour = int(rng.integers(8, 20))
        daily = hours[start : start + most + 2].sum(axis=1)
        # a monitor that is off for a day is no quiet street
        if not daily.all():
            continue
        visit = Visit(hours[start, [hour]], 3600.0, None, first + timedelta(days=start, hours=hour))
        prediction = predict([0.0], [visit], PUBLISHED, extrapolate=True)
        # an hour without a firing is an upper limit, and no plan
        if math.isnan(prediction.per_day[0]):
            continue
        expectation = expectation_of(plan_object(prediction, 0, LIMIT))
        for days in LOG_DAYS:
            counted = [DayCount(0.0, int(n), 1.0) for n in daily[1 : 1 + days]]
            posterior = update(expectation.prior, counted, changed=bool(days))
            expected = predictive(posterior, 0.0, [1.0], 0.95)
            count = int(daily[1 + days])
            inside = count in expected
            found.append(NextDay(name, days, inside, expected.low, expected.high, count))
    return found


# --- tables --------------------------------------------------------------------------------------


def evening_rows(label, found, days=LOG_DAYS) -> Iterator[str]:
    """One row for each number of days: errors, the days' own, interval, next day, firings."""
    for k in days:
        of = [one for one in found if one.days == k]
        if not of:
            continue
        error = np.array([one.error_db for one in of])
        middle, most = np.quantile(np.abs(error), [0.5, 0.9])
        alone = np.abs([one.alone_db for one in of])
        own = "–" if np.isnan(alone).all() else f"{np.median(alone):.1f}"
        often = np.mean([5 <= one.per_day <= 16 for one in of])
        yield (
            f"| {label} | {k} | {middle:.1f}/{most:.1f} | {np.median(error):+.1f} | {own} | "
            f"{100 * np.mean([one.holds for one in of]):.0f} | {of_own(of)} | "
            f"{np.median([one.width_db for one in of]):.0f} | "
            f"{100 * np.mean([one.next_inside for one in of]):.0f} | {100 * often:.0f} | "
            f"{share_over(of, 'per_day'):.1f} ({share_over(of, 'count'):.0f}) |"
        )


def of_own(found) -> str:
    """Share of intervals that hold the level of the very days logged, in %; none without a log."""
    return f"{100 * np.mean([one.holds_own for one in found]):.0f}" if found[0].days else "–"


def share_over(found, what) -> float:
    """Share of the settings of a follow-up with more than three times the limit, in %."""
    rates = [getattr(one, what) for one in found if one.changed]
    return 100 * float(np.mean(np.array(rates) > OVER)) if rates else 0.0


EVENING_HEAD = (
    "| | days of log | error of the level, dB: median/90 % | bias | those days alone | interval "
    "holds the month's, % | those days', % | its width, dB | next day inside, % | mean day 5 to 16 "
    "there, % | over 30 on the mean day (on the next), % |\n" + "|---" * 11 + "|"
)

PAGE = """# Plan, log and re-set on real streets

Made by `python -m tests.studies.real_loop --out docs` from measured series that are not part of the
repository; what it means is in [follow-up](followup.md). {n} plans a street, fixed seed, each
from one visit of an hour between 8 and 20 h; limit {limit} a day; the weekdays after the visit are
the log. Error: of the level for the limit against that of the month's mean weekday. "Those days
alone": the same error of the level at which the days logged fired at the limit themselves, their
whole curve known, which no log at one setting can be expected to beat without a plan.

"""


def page(n, program_n) -> str:
    """The whole page."""
    lines = [PAGE.format(n=n, limit=LIMIT)]
    for first in ("safe", "best"):
        found = {name: set_every_evening(name, n, first) for name in STREETS}
        together = list(chain(*found.values()))
        lines += [
            f"## The best estimate set every evening, the plan's {first} level first\n",
            EVENING_HEAD,
            *evening_rows("streets together", together),
        ]
        for name in STREETS:
            lines += evening_rows(name, found[name], (1, 4))
        lines.append("")
    found = {name: by_the_program(name, program_n) for name in STREETS}
    lines += [
        "## What the program itself sets\n",
        f"By its own decisions ([rules](followup.md)); {program_n} plans a street, half with "
        "wanted sounds\nthat are caught up to a level within 8 dB of the plan's, below which it "
        "never goes.\n",
        EVENING_HEAD,
    ]
    together = list(chain(*found.values()))
    lines += evening_rows("**streets together**", together)
    for name in STREETS:
        lines += evening_rows(name, found[name], (1, 4))
    on_mean, on_day = (share_over(together, what) for what in ("per_day", "count"))
    lines.append(
        f"\nOf all evenings at a setting that a follow-up proposed, {on_mean:.1f} % have more than "
        f"{OVER} firings on the\nmean day there, and {on_day:.1f} % counted more on that evening.\n"
    )
    lines += [
        "## A year of the monitors' own logs\n",
        "A plan from one hour of the log, followed up by so many days: the next day's count inside "
        "its 95 %\ninterval, and the interval's median ends.\n",
        "| street | " + " | ".join(f"{k} days" for k in LOG_DAYS) + " | all with a log |",
        "|---" * (len(LOG_DAYS) + 2) + "|",
    ]
    years = {name: next_days(name) for name in STREETS}
    for name, of in [*years.items(), ("**together**", list(chain(*years.values())))]:
        cells = []
        for k in LOG_DAYS:
            row = [one for one in of if one.days == k]
            ends = [np.median([getattr(one, end) for one in row]) for end in ("low", "high")]
            cells.append(
                f"{100 * np.mean([one.inside for one in row]):.0f}: {ends[0]:.0f}–{ends[1]:.0f}"
            )
        logged = 100 * np.mean([one.inside for one in of if one.days])
        lines.append(f"| {name} | {' | '.join(cells)} | {logged:.0f} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder of docs")
    parser.add_argument("--cases", type=int, default=40)
    parser.add_argument("--program-cases", type=int, default=10)
    options = parser.parse_args()
    began = time.perf_counter()
    put(options.out, "real_loop", page(options.cases, options.program_cases))
    print(f"{time.perf_counter() - began:.0f} s")
