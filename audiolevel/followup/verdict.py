"""The verdict on a camera's logs, the level to set now, and the plan corrected by it.

Each log is held against the plan (`comparison`, `faults`); all logs together, at the settings they
were made at, say which level keeps the limit and how sure that is (`bayes`).

Entry points: `follow`, `Followup`, `Verdict`, `corrected_plan`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np

from audiolevel.counting.day_counts import DayCount
from audiolevel.followup.bayes import RatePosterior, predictive, update
from audiolevel.followup.comparison import LogComparison, compare
from audiolevel.followup.event_log import Log
from audiolevel.followup.faults import Fault, find_fault
from audiolevel.followup.plan_file import Expectation, corrected
from audiolevel.intervals import Interval
from audiolevel.notices import Notice, notice

SETTING_STEP_DB = 0.5
FEW = 3.0  # under so many firings expected, none at all says nothing: exp(-3) is 5 %
SAFE_SHARE = 0.9
_SHORT_EXPOSURE = 0.5  # of a mean day; a log this short has seen one kind of hour only


class Verdict(StrEnum):
    """What a log says about the plan; the value is that of the JSON."""

    AS_EXPECTED = "as expected"
    MORE = "more"
    FEWER = "fewer"
    STUCK = "stuck"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, eq=False)
class Followup:
    """All logs together; the last one is at the setting of today.

    Attributes
    ----------
    expectation : Expectation
        Of the plan.
    comparisons : tuple of LogComparison
        One a log, in their order.
    days : tuple of DayCount
        All days that the posterior rests on.
    posterior : RatePosterior
        Rate and steepness after all logs.
    verdict : Verdict
        Of the last log.
    fault : Fault or None
        What looks stuck in the last log.
    level : Interval
        Level that keeps the limit with even odds, and its interval, in the plan's unit.
    safe_db : float
        Level that keeps it with 90 %.
    notices : tuple of Notice
        What should make the reader careful.
    """

    expectation: Expectation
    comparisons: tuple[LogComparison, ...]
    days: tuple[DayCount, ...]
    posterior: RatePosterior
    verdict: Verdict
    fault: Fault | None
    level: Interval
    safe_db: float
    notices: tuple[Notice, ...]

    @property
    def last(self) -> LogComparison:
        """The log made last."""
        return self.comparisons[-1]

    @property
    def best_db(self) -> float:
        """Level that keeps the limit with even odds."""
        assert self.level.best is not None  # every posterior has a median
        return self.level.best

    @property
    def shift_db(self) -> tuple[float, float, float]:
        """From the last setting to the level for the limit: best, low, high."""
        at_db = self.last.at_db
        return self.best_db - at_db, self.level.low - at_db, self.level.high - at_db


def follow(expectation: Expectation, logs: Sequence[tuple[Log, float]]) -> Followup:
    """Compare logs with the plan, each made at its own setting, the latest last.

    Each log is held against what was known before it: the plan, the days followed up before, and
    the logs before it.

    Parameters
    ----------
    expectation : Expectation
        Of the plan.
    logs : sequence of (Log, float)
        Each with the level or change it was made at, in the plan's unit; at least one.

    Returns
    -------
    Followup

    Raises
    ------
    SettingError
        A log covers none of the active hours.
    """
    days = list(expectation.earlier)
    comparisons: list[LogComparison] = []
    fault: Fault | None = None
    for log, at_db in logs:
        before = update(expectation.prior, days, changed=bool(days))
        comparison = compare(expectation, before, log, at_db)
        comparisons.append(comparison)
        fault = find_fault(expectation, comparison, before)
        if fault is None:  # what a stuck detector counts says nothing about the site
            days += comparison.day_counts
    posterior = update(expectation.prior, days)
    out = (1 - expectation.confidence) / 2
    levels = posterior.level_for(expectation.limit_per_day)
    best, safe, low, high = posterior.quantiles(levels, [0.5, SAFE_SHARE, out, 1 - out]).tolist()
    return Followup(
        expectation=expectation,
        comparisons=tuple(comparisons),
        days=tuple(days),
        posterior=posterior,
        verdict=_verdict(expectation, comparisons[-1], fault),
        fault=fault,
        level=Interval(best, low, high),
        safe_db=safe,
        notices=tuple(_notices(expectation, comparisons)),
    )


def _verdict(expectation: Expectation, last: LogComparison, fault: Fault | None) -> Verdict:
    if fault is not None:
        return Verdict.STUCK
    if last.p_value < 1 - expectation.confidence:
        more = last.observed_per_day > last.expected_per_day.high
        return Verdict.MORE if more else Verdict.FEWER
    best = last.expected_per_day.best
    if last.count == 0 and (best is None or best * last.exposure < FEW):
        return Verdict.CANNOT_TELL
    if best is None and not expectation.earlier:
        return Verdict.CANNOT_TELL
    return Verdict.AS_EXPECTED


# --- what should make the reader careful ---------------------------------------------------------


def _notices(expectation: Expectation, comparisons: Sequence[LogComparison]) -> list[Notice]:
    notices = []
    for one in comparisons:
        name = one.log.name if len(comparisons) > 1 else ""
        notices += [about.of(name) for about in (*one.log.notices, *_about(one))]
    last = comparisons[-1]
    if last.expected_per_day.best is None:
        notices.append(notice("upper limit"))
    if last.count == 0 and last.exposure * (expectation.per_day or 0) < FEW:
        notices.append(notice("silent", "no firing"))
    if not expectation.by_traffic:
        notices.append(notice("hours alike"))
    if expectation.option["mode"] != "threshold":
        notices.append(notice("change"))
    return notices


def _about(comparison: LogComparison) -> list[Notice]:
    """What belongs to one log."""
    notices = []
    if not comparison.log.kinds_known:
        notices.append(notice("not told apart"))
    if comparison.log.own_span:
        notices.append(notice("span"))
    if comparison.left_out:
        notices.append(notice("inactive", firings=comparison.left_out))
    if comparison.exposure < _SHORT_EXPOSURE:
        notices.append(notice("short", "log", days=comparison.days))
    return notices


# --- the corrected plan --------------------------------------------------------------------------


def corrected_plan(result: Followup) -> dict[str, Any]:
    """The plan's JSON with the level for the limit, to half a decibel, as what to set now.

    Its `reason` is left empty: `report.followup_json` says it.
    """
    expectation, posterior = result.expectation, result.posterior
    # rounded up, so that the limit is kept; a millionth forgives a level that is a half already
    set_db = math.ceil(result.best_db / SETTING_STEP_DB - 1e-6) * SETTING_STEP_DB
    out = (1 - expectation.confidence) / 2
    here = posterior.log_rate_at(set_db)
    shares = [0.5, out, 1 - out, *expectation.option["expected"]["rate_quantiles"]["shares"]]
    day = predictive(posterior, set_db, [1.0], expectation.confidence)
    levels = {"best_db": result.best_db, "safe_db": result.safe_db}
    levels |= {"low_db": result.level.low, "high_db": result.level.high}
    return corrected(
        expectation,
        set_db,
        np.exp(posterior.quantiles(here, shares)).tolist(),
        day,
        {name: round(level, 2) for name, level in levels.items()},
        result.days,
    )
