"""Does the detector look stuck?

It does when it has not fired for longer than chance allows, when it fires at every re-arm, or when
it fires like a clock: sounds do none of these.

Entry points: `stuck`.
"""

import math
from datetime import UTC, datetime

import numpy as np

from audiolevel.arrays import Array, BoolArray
from audiolevel.counting import traffic as flows
from audiolevel.counting.day_counts import DAY_SD
from audiolevel.counting.schedule import active_minutes
from audiolevel.followup.bayes import RatePosterior, chance
from audiolevel.followup.comparison import LogComparison
from audiolevel.followup.plan_file import Expectation

REGULAR_RUN = 20  # firings in a row at the re-arm time, or as regular as a clock
_RARE = 1e-3
_SILENT_P = 5e-3


def stuck(promise: Expectation, checked: LogComparison, alone: RatePosterior) -> str:
    """What looks stuck, in words; empty if nothing does.

    Parameters
    ----------
    alone : RatePosterior
        The plan's own, before any log.
    """
    return _regular(promise, checked) or _silent(promise, checked, alone)


def _regular(promise: Expectation, checked: LogComparison) -> str:
    intervals = np.diff(checked.log.fired_s)
    if _longest_run(intervals <= promise.rearm_s * 1.1 + 1.5) >= REGULAR_RUN:
        return f"fires at every re-arm ({promise.rearm_s:g} s), {REGULAR_RUN} times on end or more"
    if intervals.size >= REGULAR_RUN:
        middle = float(np.median(intervals))
        if middle > 5 and _longest_run(np.abs(intervals - middle) <= 1.0) >= REGULAR_RUN:
            return f"fires every {middle:.0f} s like a clock, which is not what sounds do"
    return ""


def _silent(promise: Expectation, checked: LogComparison, alone: RatePosterior) -> str:
    log = checked.log
    if checked.count == 0:
        exposures = [day.exposure for day in checked.day_counts]
        none = chance(alone, checked.at_db, exposures, 0)
        alive = ", while other events were logged" if log.other_s.size else ""
        return f"has not fired at all{alive}" if none < _SILENT_P else ""
    here = checked.observed.log_rate_at(checked.at_db)
    rate = float(np.exp(checked.observed.quantiles(here, [0.5])[0]))
    (off_s, on_s), worth = _longest_silence(promise, checked)
    if (checked.count + 1) * math.exp(-rate * worth) >= _RARE:
        return ""
    others = np.any((log.other_s > off_s) & (log.other_s < on_s))
    began = datetime.fromtimestamp(off_s, UTC).astimezone(log.zone)
    alive = ", while other events were logged" if others else ""
    return f"did not fire for {(on_s - off_s) / 3600:.0f} h from {began:%Y-%m-%d %H:%M} on{alive}"


def _longest_run(holds: BoolArray) -> int:
    longest = run = 0
    for one in holds.tolist():
        run = run + 1 if one else 0
        longest = max(longest, run)
    return longest


def _longest_silence(
    promise: Expectation, checked: LogComparison
) -> tuple[tuple[float, float], float]:
    """The silence worth most, and its worth in days even if its hours are as quiet as may be.

    Quiet hours may be quieter than the traffic says, which a whole day evens out, and days differ.
    """
    log = checked.log
    slack = flows.HOUR_SLACK if promise.by_traffic else np.full(flows.HOURS, 1.0)
    least = np.exp(-2 * np.hypot(slack, DAY_SD))
    best, longest = ((0.0, 0.0), 0.0)
    for begin, end in log.covered:
        fired_s = checked.fired_s[(checked.fired_s >= begin) & (checked.fired_s <= end)]
        edges = np.concatenate([[begin], fired_s, [end]])
        minutes = active_minutes(promise.schedule, begin, end, log.zone)
        worth = minutes.active_s * promise.weight[minutes.hour]
        clock = np.append(minutes.utc_min * 60.0, minutes.utc_min[-1] * 60.0 + 60.0)
        days = _between(edges, clock, worth)
        at_least = _between(edges, clock, worth * least[minutes.hour])
        gaps = np.maximum(at_least, np.floor(days + 1e-6) * math.exp(-2 * DAY_SD))
        place = int(np.argmax(gaps))
        if gaps[place] > longest:
            best, longest = (float(edges[place]), float(edges[place + 1])), float(gaps[place])
    return best, longest


def _between(edges: Array, clock: Array, worth: Array) -> Array:
    """Worth of the time from each edge to the next."""
    return np.diff(np.interp(edges, clock, np.concatenate([[0.0], np.cumsum(worth)])))
