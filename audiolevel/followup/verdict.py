"""The verdict on a camera's logs, the level to set now, and the plan corrected by it.

Each log is held against the plan (`comparison`, `faults`); all logs together, at the settings they
were made at, say which level keeps the limit and how sure that is (`bayes`).

Entry points: `follow`, `Followup`, `Verdict`, `corrected_plan`.

Method and evidence: docs/followup.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from audiolevel.counting.day_counts import DayCount
from audiolevel.followup.bayes import RatePosterior, predictive, update
from audiolevel.followup.comparison import LogComparison, compare
from audiolevel.followup.decision import Decision, decide, limit_kept
from audiolevel.followup.event_log import Log
from audiolevel.followup.faults import Fault, find_fault
from audiolevel.followup.log_checks import span_of
from audiolevel.followup.plan_file import Expectation, corrected
from audiolevel.ground.intervals import Interval
from audiolevel.ground.notices import Notice, notice
from audiolevel.planning.plan_record import LimitRecord, PlanRecord

_SHORT_EXPOSURE = 0.5  # of a mean day; a log this short has seen one kind of hour only


class Verdict(StrEnum):
    """What a log says about the plan; the value is that of the JSON."""

    AS_EXPECTED = "as expected"
    MORE = "more"
    FEWER = "fewer"
    STUCK = "stuck"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class Caught:
    """How often a sound is caught at the last setting, and at the one of now."""

    sound: str
    distance_m: float | None
    before: float
    now: float


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
    decision : Decision
        What to set now.
    notices : tuple of Notice
        What should make the reader careful.
    """

    expectation: Expectation
    comparisons: tuple[LogComparison, ...]
    days: tuple[DayCount, ...]
    posterior: RatePosterior
    verdict: Verdict
    fault: Fault | None
    decision: Decision
    notices: tuple[Notice, ...]

    @property
    def last(self) -> LogComparison:
        """The log made last."""
        return self.comparisons[-1]

    @property
    def limit_kept(self) -> bool | None:
        """Whether the last setting keeps the limit of firings; None where that cannot be told."""
        if self.fault is not None or self.last.count == 0:
            return None
        return limit_kept(self.expectation, self.posterior, self.last)

    @property
    def shown(self) -> tuple[float, float] | None:
        """What to set on the camera's own scale, with its uncertainty; None where not known."""
        curve, at_db = self.expectation.curve, self.decision.set_db
        if not (curve.display_levels and curve.display_uncertainties):
            return None
        scales = (curve.display_levels, curve.display_uncertainties)
        value, sure = (float(np.interp(at_db, curve.settings_db, scale)) for scale in scales)
        return value, sure

    @property
    def caught(self) -> tuple[Caught, ...]:
        """Each sound placed or marked."""
        curve = self.expectation.curve
        at = (self.last.at_db, self.decision.set_db)
        return tuple(
            Caught(one.sound, one.distance_m, *np.interp(at, curve.settings_db, chances).tolist())
            for one in curve.detection or ()
            if (chances := [share for share in one.probability if share is not None])
            and len(chances) == len(curve.settings_db)
        )

    @property
    def shift_db(self) -> Interval:
        """From the last setting to that of now, and to the ends of the level for the limit.

        All three are 0 where the setting is kept.
        """
        decision, at_db = self.decision, self.last.at_db
        if decision.keep:
            return Interval(0.0, 0.0, 0.0)
        shift_db = decision.set_db - at_db
        low, high = decision.level.low - at_db, decision.level.high - at_db
        # a step cut at 6 dB may lie outside the level's interval, which must hold it
        return Interval(shift_db, min(low, shift_db), max(high, shift_db))


def follow(
    expectation: Expectation,
    logs: Sequence[tuple[Log, float]],
    wet: Sequence[bool | None] = (),
) -> Followup:
    """Compare logs with the plan, each made at its own setting, the latest last.

    Each log is held against what was known before it: the plan, the days followed up before, and
    the logs before it.

    Parameters
    ----------
    expectation : Expectation
        Of the plan.
    logs : sequence of (Log, float)
        Each with the level or change it was made at, in the plan's unit; at least one.
    wet : one of True, False and None for each log
        Whether the road was wet all the time; by default nobody said.

    Returns
    -------
    Followup

    Raises
    ------
    SettingError
        A log covers none of the active hours.
    """
    # what was followed up before stands in the corrected plan
    days = list(expectation.earlier)
    comparisons: list[LogComparison] = []
    fault: Fault | None = None
    for (log, at_db), was_wet in zip(logs, wet or [None] * len(logs), strict=True):
        # the first log tests the plan as it was told; later ones allow that the site has changed
        before = update(expectation.prior, days, changed=bool(days))
        comparison = compare(expectation, before, log, at_db, was_wet, learned=bool(days))
        comparisons.append(comparison)
        fault = find_fault(expectation, comparison, before)
        if fault is None:  # what a stuck detector counts says nothing about the site
            days += comparison.day_counts
    # for what to set: one site in ten may have changed
    posterior = update(expectation.prior, days)
    return Followup(
        expectation=expectation,
        comparisons=tuple(comparisons),
        days=tuple(days),
        posterior=posterior,
        verdict=_verdict(expectation, comparisons[-1], fault),
        fault=fault,
        decision=decide(expectation, posterior, comparisons, fault),
        notices=tuple(_notices(expectation, comparisons)),
    )


def _verdict(expectation: Expectation, last: LogComparison, fault: Fault | None) -> Verdict:
    if fault is not None:
        return Verdict.STUCK
    # no fault found, and yet silence cannot be told from a dead detector
    if last.count == 0:
        return Verdict.CANNOT_TELL
    if last.p_value < 1 - expectation.confidence:
        # beyond chance, and not above: then it is fewer
        more = last.observed_per_day > last.expected_per_day.high
        return Verdict.MORE if more else Verdict.FEWER
    # an upper limit that holds confirms nothing
    if last.expected_per_day.best is None:
        return Verdict.CANNOT_TELL
    return Verdict.AS_EXPECTED


# --- what should make the reader careful ---------------------------------------------------------


def _notices(expectation: Expectation, comparisons: Sequence[LogComparison]) -> list[Notice]:
    notices = []
    for one in comparisons:
        # with one log alone its name would say nothing
        name = one.log.name if len(comparisons) > 1 else ""
        notices += [about.of(name) for about in (*one.log.notices, *_about(one))]
    # all logs are told of all gaps, so a gap in one of them lies outside the others
    idle = set.intersection(*(set(one.log.idle_gaps) for one in comparisons))
    notices += [notice("gap outside", gap=gap) for gap in sorted(idle)]
    last = comparisons[-1]
    if last.expected_per_day.best is None:
        notices.append(notice("upper limit"))
    if last.count == 0 and not last.fired_elsewhere:
        notices.append(notice("silent", "no firing"))
    if not expectation.by_traffic:
        notices.append(notice("hours alike"))
    if expectation.option.mode != "threshold":
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


def corrected_plan(result: Followup) -> PlanRecord:
    """The plan with what to set now, and what the logs have taught of it.

    Its `reason` is left empty: `report.followup_json` says it.
    """
    expectation, posterior, decision = result.expectation, result.posterior, result.decision
    out = (1 - expectation.confidence) / 2
    here = posterior.log_rate_at(decision.set_db)
    shares = [0.5, out, 1 - out, *expectation.option.expected.rate_quantiles.shares]
    # one day of mean traffic
    day = predictive(posterior, decision.set_db, [1.0], expectation.confidence)
    level = decision.level
    return corrected(
        expectation,
        decision.set_db,
        result.shown,
        np.exp(posterior.quantiles(here, shares)).tolist(),
        day,
        LimitRecord(
            best_db=level.best, safe_db=decision.safe_db, low_db=level.low, high_db=level.high
        ),
        result.days,
        [*expectation.counted_s, *(span_of(one.log) for one in result.comparisons)],
    )
