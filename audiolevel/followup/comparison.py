"""One log against the plan: in all, by the hour of the day and by date, with what chance allows.

The log was made at one setting. Conventions: `exposure` is time covered in mean days, weighed by
the traffic expected in each hour; `expected` counts and their intervals are those from before the
log.

Entry points: `compare`, `LogComparison`, `PeriodComparison`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from audiolevel.counting import traffic as flows
from audiolevel.counting.belief import louder_when
from audiolevel.counting.day_counts import DayCount
from audiolevel.followup.active_time import active_minutes
from audiolevel.followup.bayes import RatePosterior, chance, predictive, update
from audiolevel.followup.event_log import Log
from audiolevel.followup.plan_file import Expectation
from audiolevel.ground.arrays import Array, BoolArray, IntArray
from audiolevel.ground.errors import SettingError
from audiolevel.ground.intervals import Interval

# an hour of which not even the traffic is known may fire half or twice as often as another
UNKNOWN_HOUR_SD = 0.65
# all hours of a log are tested at once: each with its part of this share of false alarms
_HOURS_FALSE_ALARMS = 0.05


@dataclass(frozen=True)
class PeriodComparison:
    """Expected and observed firings of one hour of the day, or of one date.

    Attributes
    ----------
    name : str
        Hour ("07") or date ("2026-03-02").
    covered_h : float
        Hours covered of active time.
    expected : Interval
        Count to expect, before the log.
    observed : int
    stands_out : bool
        The observed count is outside what chance allows: of its own expectation for a date, of the
        log's own total, with all hours tested at once, for an hour.
    carried_over : bool
        No recording covers the hour; its expectation comes from the traffic alone.
    """

    name: str
    covered_h: float
    expected: Interval
    observed: int
    stands_out: bool
    carried_over: bool = False


@dataclass(frozen=True, eq=False)
class LogComparison:
    """One log at one setting against the plan.

    Attributes
    ----------
    log : Log
    at_db : float
        The setting it was made at, in the plan's unit.
    count, left_out : int
        Firings in the active hours covered, and outside them.
    covered_s : float
        Active time covered.
    days : float
        The same in days of active hours.
    exposure : float
        The same in days of mean traffic.
    expected_per_day : Interval
        Rate before the log; its limits are those of the mean of a time as long as this.
    p_value : float
        Probability of a total as far out as the count or farther, before the log.
    by_hour, by_day : tuple of PeriodComparison
    fired_s : array, shape (count,)
        Firings counted, seconds since 1970.
    observed : RatePosterior
        The plan with this log alone.
    day_counts : tuple of DayCount
        Its dates.
    louder_db : float
        By how much its weather made the site louder than on the mean day; 0 if nobody said.
    """

    log: Log
    at_db: float
    count: int
    left_out: int
    covered_s: float
    days: float
    exposure: float
    expected_per_day: Interval
    p_value: float
    by_hour: tuple[PeriodComparison, ...]
    by_day: tuple[PeriodComparison, ...]
    fired_s: Array
    observed: RatePosterior
    day_counts: tuple[DayCount, ...]
    louder_db: float = 0.0

    @property
    def heard_db(self) -> float:
        """The setting at which days of mean weather fire as often as those of the log."""
        return self.at_db - self.louder_db

    @property
    def fired_elsewhere(self) -> bool:
        """Whether it has firings, and all of them in hours in which it should be off."""
        return self.count == 0 and self.left_out > 0

    @property
    def observed_per_day(self) -> float:
        """Firings a day of mean traffic."""
        return self.count / self.exposure


def compare(
    expectation: Expectation,
    before: RatePosterior,
    log: Log,
    at_db: float,
    wet: bool | None = None,
    *,
    learned: bool = False,
) -> LogComparison:
    """Compare a log with what was known before it.

    Parameters
    ----------
    expectation : Expectation
        Of the plan.
    before : RatePosterior
        Rate and steepness before this log.
    log : Log
    at_db : float
        Level or change the log was made at, in the plan's unit.
    wet : bool, optional
        Whether the road was wet all the time; None if nobody said.
    learned : bool
        Whether days counted before are in `before`, and not the plan alone.

    Returns
    -------
    LogComparison

    Raises
    ------
    SettingError
        The log covers none of the active hours.
    """
    cells = cells_of(expectation, log)
    if cells.exposure.sum() <= 0:
        raise SettingError(
            f"{log.name}: covers none of the active hours; check --from, --to and the schedule"
        )
    # dates are the unit of days that differ; hours of one date share its day
    dates, exposure, count = cells.by_date()
    total, worth = int(cells.count.sum()), float(exposure.sum())
    louder_db = louder_when(wet, *expectation.weather)
    heard_db = at_db - louder_db
    # counts; over the exposure they are rates a day
    covered_s = float(cells.covered_s.sum())
    most = expectation.most_in(covered_s)
    expected = predictive(before, heard_db, exposure.tolist(), expectation.confidence)
    expected = expected.at_most(most)
    best = _best_per_day(expectation, before, heard_db, learned)
    day_counts = [
        DayCount(at_db, int(n), float(e), louder_db)
        for n, e in zip(count, exposure, strict=True)
        if e > 0
    ]
    # this log alone, so that its hours are held against its own total
    observed = update(expectation.prior, day_counts)
    return LogComparison(
        log=log,
        at_db=at_db,
        count=total,
        left_out=cells.left_out,
        covered_s=covered_s,
        days=covered_s / 3600 / expectation.schedule.hours_active_per_day,
        exposure=worth,
        expected_per_day=Interval(
            None if best is None else min(best, most / worth),
            expected.low / worth,
            expected.high / worth,
        ),
        p_value=chance(before, heard_db, exposure.tolist(), total),
        by_hour=_hours(expectation, before, heard_db, cells, observed),
        by_day=_dates(expectation, before, heard_db, cells, dates),
        fired_s=cells.fired_s,
        observed=observed,
        day_counts=tuple(day_counts),
        louder_db=louder_db,
    )


def _best_per_day(
    expectation: Expectation, before: RatePosterior, at_db: float, learned: bool
) -> float | None:
    """The plan's own estimate at its setting; else, and after logs, the median of what is known."""
    # the plan had an upper limit only, and a median of it would be no estimate
    if not learned and math.isnan(expectation.per_day):
        return None
    if not learned and at_db == expectation.set_db:
        return expectation.per_day
    return float(np.exp(before.quantiles(before.log_rate_at(at_db), [0.5])[0]))


@dataclass(frozen=True, eq=False)
class Cells:
    """Every hour of every date that a log covers, in order of time.

    Attributes
    ----------
    date, hour : arrays, shape (cells,)
        Days since 1970 and hour of the day by the clock on the wall.
    covered_s, exposure : arrays, shape (cells,)
        Active time covered, in seconds and in days of mean traffic.
    count : array, shape (cells,)
        Firings in it.
    left_out : int
        Firings outside the active hours.
    fired_s : array, shape (firings counted,)
        Seconds since 1970.
    """

    date: IntArray
    hour: IntArray
    covered_s: Array
    exposure: Array
    count: IntArray
    left_out: int
    fired_s: Array

    def by_date(self) -> tuple[IntArray, Array, IntArray]:
        """Dates, and exposure and count of each; arrays of shape (dates,)."""
        dates, place = np.unique(self.date, return_inverse=True)
        # sums of each date, as the place says which one a cell belongs to
        exposure = np.bincount(place, self.exposure, dates.size).astype(np.float64)
        return dates, exposure, np.bincount(place, self.count, dates.size).astype(np.int64)


def cells_of(expectation: Expectation, log: Log) -> Cells:
    """Hours covered and firings in them; firings outside the active hours are left out.

    The first row of a log that says by itself what it covers opens the time covered, and is not
    counted: the firings after it are as many as chance sends into the time up to the last.
    """
    fired = log.fired_s
    stretches = [active_minutes(expectation.schedule, a, b, log.zone) for a, b in log.covered]
    minute = np.concatenate([one.utc_min for one in stretches])
    # date and hour as one number, taken apart again below
    cell = np.concatenate([one.day * flows.HOURS + one.hour for one in stretches])
    active_s = np.concatenate([one.active_s for one in stretches])
    # an hour that two stretches share, or the clock repeats, is one cell
    key, place = np.unique(cell, return_inverse=True)
    covered_s = np.bincount(place, active_s, key.size).astype(np.float64)
    # a firing at the very end of a stretch belongs to the stretch's last minute
    # "right" and one back: the last minute that begins at or before the firing
    at = np.searchsorted(minute, fired // 60, side="right") - 1
    # by the schedule the trigger could not fire then, yet it did: told, not counted
    active = active_s[at] > 0
    left_out = int((~active).sum())
    # the span was taken from the rows: its first row opens it and cannot also be counted
    if log.own_span and fired.size and fired[0] == log.covered[0][0]:
        active[0] = False
    count = np.bincount(place[at[active]], minlength=key.size).astype(np.int64)
    date, hour = np.divmod(key, flows.HOURS)
    return Cells(
        date=date,
        hour=hour,
        covered_s=covered_s,
        # seconds to days of mean traffic
        exposure=covered_s * expectation.weight[hour],
        count=count,
        left_out=left_out,
        fired_s=fired[active],
    )


def _dates(
    expectation: Expectation, before: RatePosterior, at_db: float, cells: Cells, dates: IntArray
) -> tuple[PeriodComparison, ...]:
    """Each date against what was known before the log."""
    rows = []
    for date in dates.tolist():
        own = cells.date == date
        exposure = float(cells.exposure[own].sum())
        # a date of which only inactive hours are covered
        if exposure <= 0:
            continue
        expected = predictive(before, at_db, [exposure], expectation.confidence)
        name = str(np.datetime64(date, "D"))
        stands_out = int(cells.count[own].sum()) not in expected
        rows.append(_period(expectation, name, cells, own, expected, stands_out))
    return tuple(rows)


def in_one_piece(hours: Sequence[int]) -> list[int]:
    """Hours of a day from the first after their longest pause: a night begins in the evening."""
    pauses = [(hour - before) % flows.HOURS for before, hour in pairwise([*hours[-1:], *hours])]
    first = pauses.index(max(pauses)) if len(hours) > 1 else 0
    return [*hours[first:], *hours[:first]]


def _hours(
    expectation: Expectation,
    before: RatePosterior,
    at_db: float,
    cells: Cells,
    observed: RatePosterior,
) -> tuple[PeriodComparison, ...]:
    """Each hour of the day against the plan; it stands out against the log's own total."""
    # hours that nothing is expected of are no tests, and take no part of the false alarms
    hours = in_one_piece(
        [h for h in range(flows.HOURS) if cells.exposure[cells.hour == h].sum() > 0]
    )
    share = 1 - _HOURS_FALSE_ALARMS / max(len(hours), 1)  # Bonferroni
    rows = []
    for hour in hours:
        own = cells.hour == hour
        # one entry a date: the hour shares each day's own rate
        exposure = cells.exposure[own].tolist()
        # neper; an hour differs from its traffic besides what days differ
        slack = float(flows.HOUR_SLACK[hour]) if expectation.by_traffic else UNKNOWN_HOUR_SD
        expected = predictive(before, at_db, exposure, expectation.confidence, slack)
        # against the log's own total: a site louder than planned has not 24 odd hours
        usual = predictive(observed, at_db, exposure, share, slack)
        stands_out = int(cells.count[own].sum()) not in usual
        carried_over = bool(expectation.carried_over[hour])
        name = f"{hour:02d}"
        rows.append(_period(expectation, name, cells, own, expected, stands_out, carried_over))
    return tuple(rows)


def _period(
    expectation: Expectation,
    name: str,
    cells: Cells,
    own: BoolArray,
    expected: Interval,
    stands_out: bool,
    carried_over: bool = False,
) -> PeriodComparison:
    covered_s = float(cells.covered_s[own].sum())
    return PeriodComparison(
        name=name,
        covered_h=covered_s / 3600,
        expected=expected.at_most(expectation.most_in(covered_s)),
        observed=int(cells.count[own].sum()),
        stands_out=stands_out,
        carried_over=carried_over,
    )
