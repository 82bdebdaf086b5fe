"""Counts, lengths of time, shares and distances in words, to the two figures that they are good to.

The scripts of pages write the same (scripts/common.js).
"""

from math import ceil, floor, isfinite, isinf, log10

from audiolevel.ground.intervals import Interval
from audiolevel.privacy.audibility import FARTHEST_M

YEAR_DAYS, MONTH_DAYS = 365.25, 365.25 / 12
DAY_MIN = 1440


def count(value: float) -> str:
    """A count to two figures, and no finer than a tenth: 0, 0.3, 4.1, 38, 1,600."""
    if not isfinite(value):
        return "?"
    if value < 0.95:
        return "0" if value < 0.05 else f"{value:.1f}"
    # decimals that leave two figures; below zero for tens and hundreds
    digits = min(1, 1 - floor(log10(value)))
    rounded = round(value, digits)
    # no decimals from ten on, also where 9.96 has become 10
    return f"{rounded:,.1f}".removesuffix(".0") if rounded < 10 else f"{rounded:,.0f}"


def often(per_day: float) -> str:
    """How often something comes: 12 a day, one in 4 days, 8 a year, less than one a year."""
    if per_day * YEAR_DAYS < 1:
        return "less than one a year"
    if per_day < 1 / 14:
        return f"{count(per_day * YEAR_DAYS)} a year"
    # between these a day is too short to count in, and a year too long
    return f"one in {1 / per_day:.0f} days" if per_day < 0.67 else f"{count(per_day)} a day"


def fewer(per_day: float) -> str:
    """An upper limit of how often something comes: fewer than 12 a day, less than one a year."""
    said = often(per_day)
    return said if said.startswith("less") else f"fewer than {said}"


def between(low: float, high: float) -> str:
    """The two ends of an interval of counts."""
    return f"{count(low)} to {count(high)}"


def span(value: float, *, whole_hours: bool = False) -> str:
    """A length of time in round numbers: 45 s, 12 min, 3.5 h."""
    if value < 90:
        # whole seconds would make nothing of 0.2 s
        return f"{value:.0f} s" if value >= 1 else f"{value:.1g} s"
    if value < 3 * 3600:
        return f"{value / 60:.0f} min"
    return f"{value / 3600:.0f} h" if whole_hours else f"{value / 3600:.1f} h"


def days(value: float) -> str:
    """A length of time in days: 7.5 h, 3.1 days, 40 days, 14 months, 3.5 years."""
    # no card lasts that long
    if isinf(value) or value > 3650:
        return "10 years or more"
    if value < 2:
        return f"{count(24 * value)} h"
    if value < 99.5:
        return f"{count(value)} days"
    many, unit = (value / MONTH_DAYS, "months") if value < 730 else (value / YEAR_DAYS, "years")
    return f"{count(many)} {unit}"


def counted(number: float, thing: str, things: str = "") -> str:
    """A number of things: 1 recording, 2 recordings; `things` where an s is not all of it."""
    return f"{number:.15g} {thing if number == 1 else things or f'{thing}s'}"


def times(number: int) -> str:
    """How often: once, 12 times."""
    return "once" if number == 1 else f"{number} times"


def short(name: str, most: int = 48) -> str:
    """A name that somebody gave, in at most so many characters."""
    return name if len(name) <= most else f"{name[: most - 1].rstrip()}…"


def percent(share: float) -> str:
    """A share to two figures: 0.22 %, 38 %; what is less than one in two million is 0 %."""
    if share < 5e-7:
        return "0 %"
    if share < 1e-4:
        return "under 0.01 %"
    # two figures would make 99.6 % a "1e+02"
    return f"{100 * share:.2g} %" if share < 0.995 else "100 %"


def chance(best: float, low: float, high: float) -> str:
    """A chance with its interval, in whole per cents: 58 % (27 to 85)."""
    return f"{100 * best:.0f} % ({100 * low:.0f} to {100 * high:.0f})"


def metres(value: float) -> str:
    """A distance; never none, whole from 10 m on, in tens from 100 m on."""
    if isinf(value):
        return f"over {FARTHEST_M:g} m"
    # never "none": beside the microphone somebody is always heard
    if value < 0.1:
        return "0.1 m"
    # 9.95 would round to 10.0 and claim a decimal that 10 m does not
    return f"{value:.1f} m" if value < 9.95 else f"{round(value, -1 if value >= 99.5 else 0):.0f} m"


def up_to(value: float) -> str:
    """How far something reaches: `up to 23 m`, `over 300 m`."""
    return metres(value) if isinf(value) else f"up to {metres(value)}"


def minutes_a_day(minutes: Interval) -> str:
    """Minutes a day with their interval."""
    # only where even the upper end is nothing
    if minutes.high == 0:
        return "none"
    if minutes.best is None:
        return f"fewer than {count(minutes.high)} min a day"
    return f"{count(minutes.best)} min a day ({between(minutes.low, minutes.high)})"


def most_minutes(minutes: float) -> str:
    """Minutes of a day that are not passed: to two figures, and never rounded down."""
    # the step of two figures, a tenth at the finest
    step = 10.0 ** max(-1, floor(log10(max(minutes, 0.01))) - 1)
    # a hair above a step is a fault of the last bit
    most = step * ceil(minutes / step - 1e-9)
    return f"{count(most)} min" if most < DAY_MIN else "all day"


def card_days(days_kept: float, low_days: float, high_days: float) -> str:
    """How long a card lasts, with its interval."""
    if isinf(days_kept):
        return "nothing fills it"
    # nan: the count has an upper limit only, so days have a lower one
    if not isfinite(days_kept):
        return f"at least {days(low_days)}, by the upper limit of the count"
    return f"{days(days_kept)} ({days(low_days)} to {days(high_days)})"


def card(days_kept: float, low_days: float, high_days: float, recorded_share: float) -> str:
    """How long a card lasts, and how much of the time is recorded."""
    said = card_days(days_kept, low_days, high_days)
    if not isfinite(days_kept):
        return said
    return f"{said}, with {percent(recorded_share)} of the time recorded"
