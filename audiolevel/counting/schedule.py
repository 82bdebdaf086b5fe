"""The minutes of the week in which the trigger is active.

A window names weekdays and a time, `mon-fri 18:00-07:00`: on each of these days it opens at the
first time and closes at the second, on the next day if that is not later. Several windows are taken
together. Without any the trigger is active all 168 hours.

Counts "a day" are of a day on which it is active, so a trigger for Saturdays has its count of a
Saturday and not a seventh of it. Where the days differ in their hours it is the mean of them.

Conventions: weekday 0 is Monday; hours and minutes are the local clock's; a window holds its first
minute and not its last. At a change to summer time the skipped hour does not exist and at the
change back the repeated one counts twice, both as the clock on the wall would have it.

Entry points: `read_schedule`, `Schedule`, `zone_named`.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, tzinfo

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.ground.errors import SettingError
from audiolevel.ground.names import hint

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_MIN = 1440
HOURS = 24

_WINDOW = re.compile(
    r"(?:(?P<days>[a-z ,-]+)\s+)?(?P<from>\d{1,2}:\d\d)\s*-\s*(?P<to>\d{1,2}:\d\d)"
)


@dataclass(frozen=True, eq=False)
class Schedule:
    """Active minutes of the week, shape (7, 1440)."""

    minutes: BoolArray

    @property
    def hours_active_per_week(self) -> float:
        """Hours of the 168 in which the trigger is active."""
        return float(self.minutes.sum()) / 60

    @property
    def days_active_per_week(self) -> int:
        """Days a week as counts have them: on how many its busiest minute is active.

        So five nights over midnight are five, though they touch six dates.
        """
        return int(self.minutes.sum(axis=0).max())

    @property
    def hours_active_per_day(self) -> float:
        """Mean active hours of a day on which it is active."""
        return self.hours_active_per_week / self.days_active_per_week

    @property
    def always(self) -> bool:
        """Whether the trigger is active all the time."""
        return bool(self.minutes.all())

    def share_active_by_hour(self) -> Array:
        """Share of each hour of the day that is active, mean of the active days, shape (24,)."""
        week = self.share_active_by_weekday().sum(axis=0)
        return np.asarray(week / self.days_active_per_week)

    def share_active_by_weekday(self) -> Array:
        """Share of each hour of each weekday that is active, shape (7, 24)."""
        # the three axes are weekday, hour and minute
        return np.asarray(self.minutes.reshape(7, HOURS, 60).mean(axis=2))


def read_schedule(windows: Sequence[str]) -> Schedule:
    """Schedule of the windows of `schedule.active`; none means always.

    Raises
    ------
    SettingError
        If a window is not like "mon-fri 18:00-07:00", or names a day or time that does not exist.
    """
    if not windows:
        return Schedule(np.ones((7, DAY_MIN), dtype=bool))
    # one row of minutes: a window over midnight runs on without a case of its own
    week = np.zeros(7 * DAY_MIN, dtype=bool)
    for window in windows:
        days, first, last = _window(window)
        for day in days:
            minutes = np.arange(day * DAY_MIN + first, day * DAY_MIN + last)
            # Sunday's late window ends on Monday of the same week
            week[minutes % week.size] = True
    return Schedule(week.reshape(7, DAY_MIN))


def _window(text: str) -> tuple[list[int], int, int]:
    """Weekdays of a window, first minute and the minute after the last (maybe the next day)."""
    found = _WINDOW.fullmatch(text.strip().lower())
    if not found:
        raise SettingError(
            f"schedule.active: {text!r} is no window; write it like 'mon-fri 18:00-07:00'"
        )
    first, last = (_minute(found[name], text) for name in ("from", "to"))
    if first == DAY_MIN:
        raise SettingError(f"schedule.active: {text!r} begins at 24:00; say 00:00 of the next day")
    if first == last:
        raise SettingError(f"schedule.active: {text!r} is empty; for all day write 00:00-24:00")
    return _days(found["days"], text), first, last if last > first else last + DAY_MIN


def _minute(clock: str, text: str) -> int:
    hours, minutes = (int(part) for part in clock.split(":"))
    if minutes > 59 or hours * 60 + minutes > DAY_MIN:
        raise SettingError(
            f"schedule.active: {text!r}: there is no time {clock}; clocks go from 00:00 to 24:00"
        )
    return hours * 60 + minutes


def _days(names: str | None, text: str) -> list[int]:
    if names is None:
        return list(range(7))
    days: list[int] = []
    for part in names.replace(" ", "").split(","):
        ends = [_day(name, text) for name in part.split("-")]
        if len(ends) > 2:
            raise SettingError(f"schedule.active: {text!r}: give two weekdays like mon-fri")
        # sat-mon goes over the end of the week; a single day has both ends the same
        days += [(ends[0] + i) % 7 for i in range((ends[-1] - ends[0]) % 7 + 1)]
    return days


def _day(name: str, text: str) -> int:
    if name[:3] not in WEEKDAYS or not _full_name(name[:3]).startswith(name):
        raise SettingError(
            f"schedule.active: {text!r}: no weekday {name!r}; {hint(name, WEEKDAYS)}"
        )
    return WEEKDAYS.index(name[:3])


def _full_name(short: str) -> str:
    middle = {"tue": "s", "wed": "nes", "thu": "rs", "sat": "ur"}
    return f"{short}{middle.get(short, '')}day"


# --- the clock -----------------------------------------------------------------------------------


def zone_named(name: str, said: str = "schedule.zone") -> tzinfo:
    """Time zone of an IANA name; "" is a clock that is never changed.

    `said` is what it is called where it comes from.

    Raises
    ------
    SettingError
        If this computer's list of time zones does not have it.
    """
    from zoneinfo import ZoneInfo, available_timezones

    if not name:
        return UTC
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        advice = "names look like Region/City, or CET"
        # some systems bring no list of zones, which is not the user's spelling
        if not available_timezones():
            advice = "this computer has no list of time zones; install the package tzdata"
        raise SettingError(f"{said}: no time zone {name!r}; {advice}") from error
