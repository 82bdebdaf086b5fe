"""Distances, shares and minutes, as the review sheet says them.

Entry points: `metres`, `up_to`, `percent`, `minutes_a_day`.
"""

from math import isinf

from audiolevel.intervals import Interval
from audiolevel.privacy.audibility import FARTHEST_M
from audiolevel.report.text import count


def metres(value: float) -> str:
    """A distance; never none, and whole from 10 m on."""
    if isinf(value):
        return f"over {FARTHEST_M:g} m"
    # never "none": beside the microphone somebody is always heard
    if value < 0.1:
        return "0.1 m"
    # 9.95 would round to 10.0 and claim a decimal that 10 m does not
    return f"{value:.1f} m" if value < 9.95 else f"{value:.0f} m"


def up_to(value: float) -> str:
    """How far something reaches: `up to 23 m`, `over 300 m`."""
    return metres(value) if isinf(value) else f"up to {metres(value)}"


def percent(share: float | None) -> str:
    """A share that was judged, in per cent."""
    assert share is not None  # a share that was judged has a best estimate
    # a decimal only where whole per cents would hide it
    return f"{100 * share:.1f} %" if 0 < share < 0.1 else f"{100 * share:.0f} %"


def minutes_a_day(minutes: Interval) -> str:
    """Minutes a day with their interval."""
    # only where even the upper end is nothing
    if minutes.high == 0:
        return "none"
    if minutes.best is None:
        return f"fewer than {count(minutes.high)} min a day"
    return f"{count(minutes.best)} min a day ({count(minutes.low)} to {count(minutes.high)})"
