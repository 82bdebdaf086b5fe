"""Did the camera fire as often as the plan expected?

One log, made at one setting, against the plan: in all, by the hour of the day and by date, each
with what chance allows.

Conventions: `exposure` is time covered in mean days, weighed by the traffic expected in each hour;
`expected` counts and their intervals are the plan's own, before any log.

Entry points: `check`, `LogComparison`, `Share`.

Method and evidence: docs/followup.md.
"""

import math
from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, IntArray
from audiolevel.counting import traffic as flows
from audiolevel.counting.day_counts import DayCount
from audiolevel.counting.schedule import active_minutes
from audiolevel.errors import SettingError
from audiolevel.followup.bayes import RatePosterior, chance, predictive, update
from audiolevel.followup.event_log import Log
from audiolevel.followup.plan_file import Expectation

# an hour of which not even the traffic is known may fire half or twice as often as another
UNKNOWN_HOUR_SD = 0.65


@dataclass(frozen=True, eq=False)
class Share:
    """Expected and observed firings of one hour of the day, or of one date.

    `covered_h` are hours covered of active time. `stands_out` says that the observed count is
    outside what chance allows when every row of its table is tested.
    """

    name: str
    covered_h: float
    expected: float
    low: float
    high: float
    observed: int
    stands_out: bool = False
    carried_over: bool = False


@dataclass(frozen=True, eq=False)
class LogComparison:
    """One log at one setting against the plan."""

    log: Log
    at_db: float
    count: int
    left_out: int
    covered_s: float
    days: float
    exposure: float
    expected_per_day: float
    low_per_day: float
    high_per_day: float
    p_value: float
    by_hour: tuple[Share, ...]
    by_day: tuple[Share, ...]
    fired_s: Array
    observed: RatePosterior
    day_counts: tuple[DayCount, ...]

    @property
    def observed_per_day(self) -> float:
        """Firings a day of mean traffic."""
        return self.count / self.exposure


def check(promise: Expectation, alone: RatePosterior, log: Log, at_db: float) -> LogComparison:
    """Compare a log made at `at_db` with what was believed before it, `alone`.

    Raises
    ------
    SettingError
        If the log covers none of the active hours.
    """
    cells = cells_of(promise, log)
    if cells.exposure.sum() <= 0:
        raise SettingError(
            f"{log.name}: covers none of the active hours; check --from, --to and the schedule"
        )
    dates, exposure, count = cells.by_date()
    total = int(cells.count.sum())
    confidence = promise.confidence
    expect = predictive(alone, at_db, exposure.tolist(), confidence)
    day_worth = float(exposure.sum())
    known = promise.per_day
    if at_db != promise.set_db and not math.isnan(known):
        known = float(np.exp(alone.quantiles(alone.log_rate_at(at_db), [0.5])[0]))
    day_counts = [
        DayCount(at_db, int(n), float(e)) for n, e in zip(count, exposure, strict=True) if e > 0
    ]
    observed = update(promise.planned, day_counts)
    return LogComparison(
        log=log,
        at_db=at_db,
        count=total,
        left_out=cells.left_out,
        covered_s=float(cells.covered_s.sum()),
        days=float(cells.covered_s.sum()) / 3600 / promise.schedule.hours_active_per_day,
        exposure=day_worth,
        expected_per_day=known,
        low_per_day=expect.low / day_worth,
        high_per_day=expect.high / day_worth,
        p_value=chance(alone, at_db, exposure.tolist(), total),
        by_hour=_hours(promise, alone, at_db, cells, observed),
        by_day=_days(promise, alone, at_db, cells, dates),
        fired_s=cells.fired_s,
        observed=observed,
        day_counts=tuple(day_counts),
    )


@dataclass(frozen=True, eq=False)
class Cells:
    """Every hour of every date that a log covers: one row an hour, in order of time."""

    date: IntArray
    hour: IntArray
    covered_s: Array
    exposure: Array
    count: IntArray
    left_out: int
    fired_s: Array

    def by_date(self) -> tuple[IntArray, Array, IntArray]:
        """Dates, and exposure and count of each."""
        dates, place = np.unique(self.date, return_inverse=True)
        exposure = np.bincount(place, self.exposure, dates.size).astype(np.float64)
        return dates, exposure, np.bincount(place, self.count, dates.size).astype(np.int64)


def cells_of(promise: Expectation, log: Log) -> Cells:
    """Hours covered and firings in them; firings outside the active hours are left out.

    The first row of a log that says by itself what it covers opens the time covered, and is not
    counted: the firings after it are as many as chance sends into the time up to the last.
    """
    fired = log.fired_s
    if log.own_span and fired.size and fired[0] == log.covered[0][0]:
        fired = fired[1:]
    stretches = [active_minutes(promise.schedule, a, b, log.zone) for a, b in log.covered]
    minute = np.concatenate([one.utc_min for one in stretches])
    cell = np.concatenate([one.day * flows.HOURS + one.hour for one in stretches])
    active_s = np.concatenate([one.active_s for one in stretches])
    key, place = np.unique(cell, return_inverse=True)
    covered_s = np.bincount(place, active_s, key.size).astype(np.float64)
    # a firing at the very end of a stretch belongs to the stretch's last minute
    at = np.searchsorted(minute, fired // 60, side="right") - 1
    active = active_s[at] > 0
    count = np.bincount(place[at[active]], minlength=key.size).astype(np.int64)
    date, hour = np.divmod(key, flows.HOURS)
    return Cells(
        date=date,
        hour=hour,
        covered_s=covered_s,
        exposure=covered_s * promise.weight[hour],
        count=count,
        left_out=int((~active).sum()),
        fired_s=fired[active],
    )


def _days(
    promise: Expectation, alone: RatePosterior, at_db: float, cells: Cells, dates: IntArray
) -> tuple[Share, ...]:
    """Each date against the plan."""
    rows = []
    for date in dates.tolist():
        mine = cells.date == date
        exposure, count = float(cells.exposure[mine].sum()), int(cells.count[mine].sum())
        if exposure <= 0:
            continue
        expect = predictive(alone, at_db, [exposure], promise.confidence)
        rows.append(
            Share(
                name=str(np.datetime64(date, "D")),
                covered_h=float(cells.covered_s[mine].sum()) / 3600,
                expected=expect.median,
                low=expect.low,
                high=expect.high,
                observed=count,
                stands_out=not expect.low <= count <= expect.high,
            )
        )
    return tuple(rows)


def _hours(
    promise: Expectation, alone: RatePosterior, at_db: float, cells: Cells, observed: RatePosterior
) -> tuple[Share, ...]:
    """Each hour of the day against the plan; it stands out against the log's own total."""
    hours = [h for h in range(flows.HOURS) if cells.exposure[cells.hour == h].sum() > 0]
    apart = 1 - 0.05 / max(len(hours), 1)
    rows = []
    for hour in hours:
        mine = cells.hour == hour
        exposure = cells.exposure[mine]
        count = int(cells.count[mine].sum())
        slack = float(flows.HOUR_SLACK[hour]) if promise.by_traffic else UNKNOWN_HOUR_SD
        expect = predictive(alone, at_db, exposure.tolist(), promise.confidence, slack)
        usual = predictive(observed, at_db, exposure.tolist(), apart, slack)
        rows.append(
            Share(
                name=f"{hour:02d}",
                covered_h=float(cells.covered_s[mine].sum()) / 3600,
                expected=expect.median,
                low=expect.low,
                high=expect.high,
                observed=count,
                stands_out=not usual.low <= count <= usual.high,
                carried_over=bool(promise.carried_over[hour]),
            )
        )
    return tuple(rows)
