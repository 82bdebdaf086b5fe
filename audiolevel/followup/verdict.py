"""What should be set now, after what the camera logged?

Each log is held against the plan (`comparison`, `stuck`); all logs together, at the settings they
were made at, say which level keeps the limit and how sure that is (`belief`).

Entry points: `follow`, `Followup`, `corrected_plan`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from audiolevel.counting.day_counts import DayCount
from audiolevel.followup.bayes import RatePosterior, predictive, update
from audiolevel.followup.comparison import LogComparison, check
from audiolevel.followup.event_log import Log
from audiolevel.followup.faults import stuck
from audiolevel.followup.plan_file import Expectation, corrected
from audiolevel.notices import Notice

VERDICTS = ("as expected", "more", "fewer", "stuck", "cannot tell")
SETTING_STEP_DB = 0.5
FEW = 3.0  # under so many firings expected, none at all says nothing


@dataclass(frozen=True, eq=False)
class Followup:
    """All logs together; the last one is at the setting of today.

    Attributes
    ----------
    days : tuple of DayCount
        All days that the belief rests on.
    verdict : str
        Of the last log: one of `VERDICTS`.
    stuck : str
        What looks stuck in the last log; empty if nothing does.
    best_db, safe_db, low_db, high_db : float
        Level that keeps the limit with even odds, with 90 %, and its interval.
    """

    promise: Expectation
    logs: tuple[LogComparison, ...]
    days: tuple[DayCount, ...]
    belief: RatePosterior
    verdict: str
    stuck: str
    best_db: float
    safe_db: float
    low_db: float
    high_db: float
    cautions: tuple[Notice, ...]

    @property
    def last(self) -> LogComparison:
        """The log made last."""
        return self.logs[-1]

    @property
    def shift_db(self) -> tuple[float, float, float]:
        """From the last setting to the level for the limit: best, low, high."""
        at = self.last.at_db
        return self.best_db - at, self.low_db - at, self.high_db - at


def follow(promise: Expectation, logs: Sequence[tuple[Log, float]]) -> Followup:
    """Compare logs with the plan, each made at its own setting, the latest last.

    Each log is held against what was believed before it: the plan, the days followed up before,
    and the logs before it.

    Parameters
    ----------
    promise : Expectation
    logs : sequence of (Log, level or change in the plan's unit)
        At least one.
    """
    days = list(promise.earlier)
    checked, found = [], []
    for log, at_db in logs:
        before = update(promise.planned, days, changed=bool(days))
        one = check(promise, before, log, at_db)
        checked.append(one)
        found.append(stuck(promise, one, before))
        if not found[-1]:  # what a stuck detector counts says nothing about the site
            days += one.day_counts
    belief = update(promise.planned, days)
    out = (1 - promise.confidence) / 2
    levels = belief.quantiles(belief.level_for(promise.limit_per_day), [0.5, 0.9, out, 1 - out])
    best, safe, low, high = (float(level) for level in levels)
    return Followup(
        promise=promise,
        logs=tuple(checked),
        days=tuple(days),
        belief=belief,
        verdict=_verdict(promise, checked[-1], found[-1]),
        stuck=found[-1],
        best_db=best,
        safe_db=safe,
        low_db=low,
        high_db=high,
        cautions=tuple(_cautions(promise, checked)),
    )


def _verdict(promise: Expectation, last: LogComparison, stuck_how: str) -> str:
    if stuck_how:
        return "stuck"
    if last.p_value < 1 - promise.confidence:
        return "more" if last.observed_per_day > last.high_per_day else "fewer"
    silent = last.count == 0 and not last.expected_per_day * last.exposure >= FEW
    if silent or (math.isnan(last.expected_per_day) and not promise.earlier):
        return "cannot tell"
    return "as expected"


# --- what should make the reader careful ---------------------------------------------------------


def _cautions(promise: Expectation, logs: Sequence[LogComparison]) -> list[Notice]:
    found = []
    for one in logs:
        name = one.log.name if len(logs) > 1 else ""
        found += [c.of(name) for c in (*one.log.cautions, *_about(one))]
    last = logs[-1]
    if math.isnan(last.expected_per_day):
        text = "the plan gave only an upper limit here, so fewer firings cannot surprise it"
        found.append(Notice("upper limit", text))
    if last.count == 0 and last.exposure * (promise.per_day or 0) < FEW:
        text = (
            "no firing, and few were to come: the detector may be dead; make a sound it must "
            "catch (mind ears and neighbours) and look whether it is logged"
        )
        found.append(Notice("silent", text))
    if not promise.by_traffic:
        text = "the plan has no counts by hour, so every active hour is expected to be alike"
        found.append(Notice("hours alike", text))
    if promise.option["mode"] != "threshold":
        text = "how counts fall with a change in level is little known: set, and follow up again"
        found.append(Notice("change", text))
    return found


def _about(one: LogComparison) -> list[Notice]:
    found = []
    if not one.log.told_apart:
        text = (
            "every row is taken as a firing of the sound trigger: if the camera logs other events "
            "too, the count is an upper limit, fewer holds, more may be theirs, and the level to "
            "set is no higher than said"
        )
        found.append(Notice("not told apart", text))
    if one.log.own_span:
        text = (
            "taken to cover the time from its first to its last row; if the camera listened "
            "longer, say so with --from and --to"
        )
        found.append(Notice("span", text))
    if one.left_out:
        text = f"{one.left_out} firings outside the active hours are not counted"
        found.append(Notice("inactive", text))
    if one.exposure < 0.5:
        text = f"covers {one.days:.2g} days: follow up again after a whole day or more"
        found.append(Notice("short", text))
    return found


# --- the corrected plan --------------------------------------------------------------------------


def corrected_plan(made: Followup) -> dict[str, Any]:
    """The plan's JSON with the level for the limit, to half a decibel, as what to set now."""
    promise, belief = made.promise, made.belief
    set_db = math.ceil(made.best_db / SETTING_STEP_DB - 1e-6) * SETTING_STEP_DB
    out = (1 - promise.confidence) / 2
    here = belief.log_rate_at(set_db)
    shares = [0.5, out, 1 - out, *promise.option["expected"]["rate_quantiles"]["shares"]]
    day = predictive(belief, set_db, [1.0], promise.confidence)
    levels = {"best_db": made.best_db, "safe_db": made.safe_db}
    levels |= {"low_db": made.low_db, "high_db": made.high_db}
    return corrected(
        promise,
        set_db,
        np.exp(belief.quantiles(here, shares)).tolist(),
        (day.low, day.high),
        {name: round(level, 2) for name, level in levels.items()},
        made.days,
    )
