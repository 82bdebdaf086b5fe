"""What to set after a camera's log: the level that keeps the limit, as far as the log allows.

A plan's safe level costs catches, and the log gives them back: the setting goes to half a decibel
above the best estimate of the level for the limit, and never to where three times the limit is
within what is possible. It is raised only if the log shows that the limit is broken, and lowered
only if that catches more. No step is larger than 6 dB, none goes to a level at which the sample
itself counted more than the limit allows, and none leaves the settings that the plan's curve
covers. A camera that hears less than the sample did is told so and not set: its gain, an automatic
gain or a cover has to be looked at first.

Entry points: `decide`, `Decision`, `Reason`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from audiolevel.followup.bayes import RatePosterior, predictive, update
from audiolevel.followup.comparison import LogComparison
from audiolevel.followup.faults import Fault
from audiolevel.followup.plan_file import Expectation
from audiolevel.ground.intervals import Interval

# the step of the levels that a plan tries
SETTING_STEP_DB = 0.5
SAFE_SHARE = 0.9
# Above the best estimate, so that days keep the limit rather than break it; and where more than so
# many times the limit has more than this chance nothing is set: with both 1.0 % of the days at
# proposed levels had three times the limit on measured streets (docs/real_loop.md).
ABOVE_BEST_DB = 0.5
FAR_TOO_MANY, FAR_CHANCE = 3.0, 0.025
# less is not worth climbing a ladder for
WORTH_GIVING_BACK_DB = 1.5
# 0.28 neper a decibel make 6 dB a factor of five in firings: enough to follow up first
LARGEST_STEP_DB = 6.0
# half of that: silence does not say how far to go
SILENT_STEP_DB = 3.0
# one silent check may be a quiet day; a dead detector is found by making a sound
SILENT_CHECKS = 2
# a shift that the log alone shows with 95 % certainty, and that no weather explains: a wet road is
# 3 to 5 dB louder (docs/counting.md), a dry one after a wet visit as much quieter
HEARS_LESS_DB = 3.0


class Reason(StrEnum):
    """Why the setting is kept or changed."""

    KEPT = "kept"
    LIMIT_BROKEN = "limit broken"
    WANTED_MISSED = "wanted missed"
    GIVEN_BACK = "given back"
    SILENT = "silent"
    FIRED_ELSEWHERE = "fired elsewhere"
    SILENT_AGAIN = "silent again"
    FAULT = "fault"
    HEARS_LESS = "hears less"


@dataclass(frozen=True)
class Decision:
    """What to set now.

    Attributes
    ----------
    reason : Reason
    set_db : float
        The setting of now, in the plan's unit: that of the last log where it is kept.
    keep : bool
        Whether the setting is left as it is.
    level : Interval
        Setting that gives just the limit of firings, within what the plan's curve supports.
    safe_db : float
        Setting that keeps the limit with 90 %, within the same.
    short_of_db : float
        By how much a step was cut short; follow up again for the rest.
    """

    reason: Reason
    set_db: float
    keep: bool
    level: Interval
    safe_db: float
    short_of_db: float = 0.0


def decide(
    expectation: Expectation,
    posterior: RatePosterior,
    comparisons: Sequence[LogComparison],
    fault: Fault | None,
) -> Decision:
    """What to set after the last of some logs.

    Parameters
    ----------
    expectation : Expectation
        Of the plan.
    posterior : RatePosterior
        Rate and steepness after all logs.
    comparisons : sequence of LogComparison
        One a log, in their order.
    fault : Fault or None
        What looks stuck in the last log.
    """
    last = comparisons[-1]
    lasting = posterior.lasting
    level, safe_db = _level_for_limit(expectation, lasting)
    target_db = _target_db(expectation, lasting, level)
    # lower than what catches enough would buy nothing; what is raised is raised for the limit alone
    catching_db = expectation.option.catching_db
    lowest_db = target_db if catching_db is None else max(target_db, catching_db)

    def kept(reason: Reason) -> Decision:
        return Decision(reason, last.at_db, keep=True, level=level, safe_db=safe_db)

    # a stuck detector's counts say nothing of the level
    if fault is not None:
        return kept(Reason.FAULT)
    if last.fired_elsewhere:
        return kept(Reason.FIRED_ELSEWHERE)
    if last.count == 0:
        silent = _silent_checks(expectation, comparisons)
        # lower only if there is something to gain, and silence has been seen twice
        if silent < SILENT_CHECKS or not _gains_by_less(expectation, last.at_db):
            return kept(Reason.SILENT)
        # never below what keeps the limit, nor where the sample itself broke it
        lower_db = max(last.at_db - SILENT_STEP_DB, lowest_db)
        return _to(Reason.SILENT_AGAIN, lower_db, last.at_db, level, safe_db) or kept(Reason.SILENT)
    if _hears_less(expectation, last):
        return kept(Reason.HEARS_LESS)
    if _breaks_limit(expectation, posterior, last):
        higher_db = max(target_db, last.at_db)
        broken = _to(Reason.LIMIT_BROKEN, higher_db, last.at_db, level, safe_db)
        return broken or kept(Reason.KEPT)
    if _gains_by_less(expectation, last.at_db) and lowest_db <= last.at_db - WORTH_GIVING_BACK_DB:
        reason = Reason.GIVEN_BACK if catching_db is None else Reason.WANTED_MISSED
        lower = _to(reason, lowest_db, last.at_db, level, safe_db)
        return lower or kept(Reason.KEPT)
    return kept(Reason.KEPT)


def limit_kept(
    expectation: Expectation, posterior: RatePosterior, last: LogComparison
) -> bool | None:
    """Whether the setting of the last log keeps the limit; None where that cannot be told."""
    lasting, limit = posterior.lasting, expectation.limit_per_day
    # nine of ten of all that is possible after the log lie above the one and below the other
    ends = lasting.quantiles(lasting.log_rate_at(last.at_db), [1 - SAFE_SHARE, SAFE_SHARE])
    low, high = (math.exp(float(end)) for end in ends)
    if last.observed_per_day > limit:
        return False if low > limit else None
    return True if high <= limit else None


def _level_for_limit(expectation: Expectation, posterior: RatePosterior) -> tuple[Interval, float]:
    # the rest of the confidence, half at each end
    out = (1 - expectation.confidence) / 2
    levels = posterior.level_for(expectation.limit_per_day)
    shares = [0.5, SAFE_SHARE, out, 1 - out]
    # what the sample counted stays in the sum: no log makes its firings unheard
    lowest, highest = _counted_floor_db(expectation), max(expectation.curve.settings_db)
    best, safe, low, high = np.clip(posterior.quantiles(levels, shares), lowest, highest).tolist()
    planned = expectation.option.level_for_limit
    # the log would go lower than the sample's own counts allow
    if best <= lowest and planned is not None and planned.best_db is not None:
        # log and sample contradict each other: up to the plan's own level everything may be true
        high, safe = max(high, planned.best_db), max(safe, planned.best_db)
    return Interval(best, low, high), safe


def _target_db(expectation: Expectation, lasting: RatePosterior, level: Interval) -> float:
    """The setting to go to, in small or large steps."""
    far = lasting.level_for(FAR_TOO_MANY * expectation.limit_per_day)
    kept_db = float(lasting.quantiles(far, [1 - FAR_CHANCE])[0])
    assert level.best is not None  # of a distribution
    return max(level.best + ABOVE_BEST_DB, kept_db, _counted_floor_db(expectation))


def _to(
    reason: Reason, wanted_db: float, now_db: float, level: Interval, safe_db: float
) -> Decision | None:
    """A step to the setting that is wanted, cut at 6 dB; None if it is no step at all."""
    # the rest of a larger step waits for the next log
    step_db = float(np.clip(wanted_db - now_db, -LARGEST_STEP_DB, LARGEST_STEP_DB))
    # rounded up, so that the limit is kept; a millionth forgives a level that is a half already
    set_db = math.ceil((now_db + step_db) / SETTING_STEP_DB - 1e-6) * SETTING_STEP_DB
    # rounding may bring it back to where it is
    if abs(set_db - now_db) < SETTING_STEP_DB / 2:
        return None
    return Decision(
        reason,
        set_db,
        keep=False,
        level=level,
        safe_db=safe_db,
        short_of_db=wanted_db - now_db - step_db,
    )


def _silent_checks(expectation: Expectation, comparisons: Sequence[LogComparison]) -> int:
    """How many checks on end, the last one included, had no firing at all."""
    # one that fired at other times is no silent one
    checks = [one.count + one.fired_elsewhere for one in comparisons]
    # the days followed up before are one check more, the first
    if expectation.earlier:
        checks = [sum(day.count for day in expectation.earlier), *checks]
    silent = 0
    # from the last check back to the last firing
    for count in reversed(checks):
        if count:
            break
        silent += 1
    return silent


def _gains_by_less(expectation: Expectation, at_db: float) -> bool:
    """Whether a lower setting catches more: not where the plan knows that this catches enough."""
    catching_db = expectation.option.catching_db
    # less than half a step lower cannot be set
    return catching_db is None or catching_db < at_db - SETTING_STEP_DB / 2


def _breaks_limit(expectation: Expectation, posterior: RatePosterior, last: LogComparison) -> bool:
    """Whether the log shows more firings than the limit, and all that is known agrees."""
    log_rate = posterior.log_rate_at(last.at_db)
    # one bad day breaks no limit as long as the median of all that is known keeps it
    median = math.exp(float(posterior.quantiles(log_rate, [0.5])[0]))
    limit = expectation.limit_per_day
    return last.observed_per_day > limit and median > limit


def _hears_less(expectation: Expectation, last: LogComparison) -> bool:
    """Whether the log contradicts what the sample *counted*: far fewer firings than it must be."""
    # an extrapolated rate may simply have been too high; a counted one was there
    counted = last.expected_per_day.best is not None and expectation.option.expected.seen > 0
    # logs before this one may have raised what is expected: the sample did not hear that
    sample = update(expectation.prior, (), changed=False)
    exposures = [day.exposure for day in last.day_counts]
    heard = predictive(sample, last.heard_db, exposures, expectation.confidence)
    least = min(last.expected_per_day.low, heard.low / last.exposure)
    fewer = last.observed_per_day < least
    if not (counted and fewer and last.p_value < 1 - expectation.confidence):
        return False
    # by how much the plan's curve has to be moved to give what was observed
    shape = expectation.prior.shapes.middle
    plan_rate = math.log(max(least, 1e-9))
    # half a firing where there was none, as its logarithm does not exist
    seen_rate = math.log(max(last.observed_per_day, 0.5 / last.exposure))
    # dB: a lower rate lies at a higher level, so hearing less is above zero
    moved_db = float(shape.level(seen_rate) - shape.level(plan_rate))
    return moved_db >= HEARS_LESS_DB


def _counted_floor_db(expectation: Expectation) -> float:
    """The lowest setting at which the sample did not count more than the limit allows."""
    curve, limit = expectation.curve, expectation.limit_per_day
    rows = zip(curve.settings_db, curve.rate_low_per_day, curve.method, strict=True)
    # an extrapolated rate is a belief, and the posterior weighs it already
    over = [at_db for at_db, low, method in rows if method == "counted" and (low or 0.0) > limit]
    # one step above the highest that broke it; else the lowest that was tried
    return max(over) + SETTING_STEP_DB if over else min(curve.settings_db)
