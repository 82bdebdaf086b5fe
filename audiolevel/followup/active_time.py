"""Every minute of a stretch of time, by the clock on the wall, and how much of it is active.

Entry points: `active_minutes`, `Minutes`.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np

from audiolevel.counting.schedule import DAY_MIN, Schedule
from audiolevel.ground.arrays import Array, IntArray


@dataclass(frozen=True, eq=False)
class Minutes:
    """Every minute of a stretch of time, by the clock on the wall; arrays of one row a minute.

    Attributes
    ----------
    utc_min : ndarray of int
        Minutes since 1970 (UTC).
    day : ndarray of int
        Local date as days since 1970-01-01.
    weekday, hour : ndarray of int
        Local weekday, Monday 0, and hour.
    active_s : ndarray
        Seconds of the minute that lie in the stretch and in the active hours, 0 to 60.
    """

    utc_min: IntArray
    day: IntArray
    weekday: IntArray
    hour: IntArray
    active_s: Array


def active_minutes(schedule: Schedule, begin_s: float, end_s: float, zone: tzinfo = UTC) -> Minutes:
    """Minutes from `begin_s` to `end_s`, seconds since 1970 (UTC), with their active seconds."""
    # down and up to whole minutes; the part of a minute is taken care of below
    first, last = int(begin_s // 60), int(-(-end_s // 60))
    # at least one minute, so that a firing always has one to belong to
    utc_min = np.arange(first, max(last, first + 1), dtype=np.int64)
    local = utc_min + _offset_min(utc_min, zone)
    day, minute = np.divmod(local, DAY_MIN)
    weekday = (day + 3) % 7  # 1970-01-01 was a Thursday
    start = utc_min * 60.0
    # overlap of the minute and the stretch: less than 60 in the first and last only
    inside = np.clip(np.minimum(start + 60, end_s) - np.maximum(start, begin_s), 0, 60)
    active = schedule.minutes[weekday, minute]
    return Minutes(utc_min, day, weekday, minute // 60, inside * active)


def _offset_min(utc_min: IntArray, zone: tzinfo) -> IntArray:
    """Local clock minus UTC in minutes; clocks are changed on quarters of an hour at the finest."""
    # one look-up a quarter of an hour instead of one a minute
    quarter, place = np.unique(utc_min // 15, return_inverse=True)
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    offsets = []
    for q in quarter.tolist():
        away = (epoch + timedelta(minutes=15 * q)).astimezone(zone).utcoffset()
        offsets.append(0 if away is None else round(away.total_seconds() / 60))
    return np.array(offsets, dtype=np.int64)[place]
