"""Signs of a detector that no longer works: too long a silence, or firings too regular for sounds.

It looks stuck when it has not fired for longer than chance allows, when it fires at every re-arm,
or when it fires like a clock: sounds do none of these.

Entry points: `find_fault`, `Fault`, `FaultKind`.
"""

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum

import numpy as np

from audiolevel.counting import traffic as flows
from audiolevel.followup.active_time import active_minutes
from audiolevel.followup.bayes import RatePosterior, chance
from audiolevel.followup.comparison import LogComparison
from audiolevel.followup.day_spread import DAY_SD
from audiolevel.followup.plan_file import Expectation
from audiolevel.ground.arrays import Array, BoolArray

# sounds that come at random do not keep step twenty times on end
REGULAR_RUN = 20  # firings in a row at the re-arm time, or as regular as a clock
# the longest silence of a log is the worst of as many as it has firings, so it is held to less
_RARE = 1e-3
_SILENT_P = 5e-3
# a row is written up to a second late, and some detectors take a tenth longer to arm again
_REARM_SLACK, _CLOCK_SLACK_S = 1.1, 1.5
# sounds nearer to each other than this are one vehicle after another, not a clock
_SHORTEST_CLOCK_S = 5.0
_SAME_INTERVAL_S = 1.0


class FaultKind(Enum):
    """What makes a detector look stuck."""

    EVERY_REARM = "fires at every re-arm"
    CLOCKWORK = "fires at equal intervals"
    NEVER_FIRED = "has not fired at all"
    FELL_SILENT = "stopped firing"


@dataclass(frozen=True)
class Fault:
    """A sign that the detector is stuck.

    Attributes
    ----------
    kind : FaultKind
    interval_s : float or None
        Between firings: the re-arm time, or that of the clock.
    began : datetime or None
        When a silence began, by the clock on the wall.
    silent_s : float or None
        How long it lasted.
    other_events : bool
        Events of other kinds were logged meanwhile, so the camera was on.
    """

    kind: FaultKind
    interval_s: float | None = None
    began: datetime | None = None
    silent_s: float | None = None
    other_events: bool = False


def find_fault(
    expectation: Expectation, comparison: LogComparison, before: RatePosterior
) -> Fault | None:
    """The first sign that the detector was stuck; None if there is none.

    Parameters
    ----------
    expectation : Expectation
        Of the plan.
    comparison : LogComparison
        Of the log with it.
    before : RatePosterior
        Rate and steepness before the log.
    """
    return _regular(expectation, comparison) or _silent(expectation, comparison, before)


def _regular(expectation: Expectation, comparison: LogComparison) -> Fault | None:
    intervals = np.diff(comparison.log.fired_s)
    at_rearm = intervals <= expectation.rearm_s * _REARM_SLACK + _CLOCK_SLACK_S
    # a level below the background fires again as soon as it may
    if _longest_run(at_rearm) >= REGULAR_RUN:
        return Fault(FaultKind.EVERY_REARM, interval_s=expectation.rearm_s)
    if intervals.size >= REGULAR_RUN:
        # the median: a real sound now and then does not move it
        middle = float(np.median(intervals))
        alike = np.abs(intervals - middle) <= _SAME_INTERVAL_S
        if middle > _SHORTEST_CLOCK_S and _longest_run(alike) >= REGULAR_RUN:
            return Fault(FaultKind.CLOCKWORK, interval_s=middle)
    return None


def _silent(
    expectation: Expectation, comparison: LogComparison, before: RatePosterior
) -> Fault | None:
    log = comparison.log
    if comparison.fired_elsewhere:
        return None
    if comparison.count == 0:
        exposures = [day.exposure for day in comparison.day_counts]
        # few were expected, so none is no sign of anything
        if chance(before, comparison.heard_db, exposures, 0) >= _SILENT_P:
            return None
        return Fault(FaultKind.NEVER_FIRED, other_events=bool(log.other_s.size))
    # the log's own rate: a quieter site than planned is not a dead detector
    here = comparison.observed.log_rate_at(comparison.heard_db)
    rate = float(np.exp(comparison.observed.quantiles(here, [0.5])[0]))
    (off_s, on_s), worth = _longest_silence(expectation, comparison)
    # of count + 1 silences of a Poisson process each is longer with probability exp(-rate * worth)
    if (comparison.count + 1) * math.exp(-rate * worth) >= _RARE:
        return None
    return Fault(
        FaultKind.FELL_SILENT,
        began=datetime.fromtimestamp(off_s, UTC).astimezone(log.zone),
        silent_s=on_s - off_s,
        other_events=bool(np.any((log.other_s > off_s) & (log.other_s < on_s))),
    )


def _longest_run(holds: BoolArray) -> int:
    longest = run = 0
    for one in holds.tolist():
        run = run + 1 if one else 0
        longest = max(longest, run)
    return longest


def _longest_silence(
    expectation: Expectation, comparison: LogComparison
) -> tuple[tuple[float, float], float]:
    """The silence worth most, and its worth in days even if its hours are as quiet as may be.

    Quiet hours may be quieter than the traffic says, which a whole day evens out, and days differ.
    """
    log = comparison.log
    slack = flows.HOUR_SLACK if expectation.by_traffic else np.full(flows.HOURS, 1.0)
    # two standard deviations quieter, hour and day together: 0.23 to 0.52 of what is expected
    # of the hour is left, 0.12 where not even the traffic is known
    least = np.exp(-2 * np.hypot(slack, DAY_SD))
    best, longest = ((0.0, 0.0), 0.0)
    for begin, end in log.covered:
        fired_s = comparison.fired_s[(comparison.fired_s >= begin) & (comparison.fired_s <= end)]
        # silences begin and end with the stretch too
        edges = np.concatenate([[begin], fired_s, [end]])
        minutes = active_minutes(expectation.schedule, begin, end, log.zone)
        worth = minutes.active_s * expectation.weight[minutes.hour]
        # one edge more than minutes, for the end of the last
        clock = np.append(minutes.utc_min * 60.0, minutes.utc_min[-1] * 60.0 + 60.0)
        days = _between(edges, clock, worth)
        at_least = _between(edges, clock, worth * least[minutes.hour])
        # whole days in a silence have all their hours, so only the day's own spread is taken off
        gaps = np.maximum(at_least, np.floor(days + 1e-6) * math.exp(-2 * DAY_SD))
        place = int(np.argmax(gaps))
        if gaps[place] > longest:
            best, longest = (float(edges[place]), float(edges[place + 1])), float(gaps[place])
    return best, longest


def _between(edges: Array, clock: Array, worth: Array) -> Array:
    """Worth of the time from each edge to the next."""
    # running total of worth, read at each edge: minutes cut in two count in part
    return np.diff(np.interp(edges, clock, np.concatenate([[0.0], np.cumsum(worth)])))
