"""Moments meant by the times written in a log: zones, and clocks that are changed.

With an offset from UTC or by the clock on the wall, whose hours are skipped and repeated when
summer time begins and ends. What the times look like is the matter of `time_forms`.

Conventions: seconds since 1970 (UTC); a clock without a zone is taken as one that is never changed.

Entry point: `seconds_of`.
"""

from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.notices import Notice, notice


def seconds_of(
    moments: list[datetime], zone: tzinfo | None
) -> tuple[tzinfo, Array, tuple[Notice, ...]]:
    """Moments as seconds since 1970, by the zone of the camera's clock.

    Parameters
    ----------
    moments : list of datetime
        All with an offset from UTC, or all without, in the order of the log.
    zone : tzinfo or None
        Of the camera's clock, where the user names it.

    Returns
    -------
    zone : tzinfo
        Of the clock on the wall.
    utc_s : array, shape (moments,)
        Seconds since 1970, in the order given.
    notices : tuple of Notice
        What had to be assumed.
    """
    if moments and moments[0].tzinfo is not None:
        found_zone, notices = _zone_of_rows(moments, zone)
        # an offset in the row says the moment whatever the zone of the camera
        return found_zone, np.array([m.timestamp() for m in moments]), notices
    if zone is None:
        # differences and hours are right as long as nobody changes the clock
        return UTC, np.array([one.replace(tzinfo=UTC).timestamp() for one in moments]), ()
    return zone, *_local_seconds(moments, zone)


def _zone_of_rows(
    moments: list[datetime], zone: tzinfo | None
) -> tuple[tzinfo, tuple[Notice, ...]]:
    """Zone of rows that carry an offset; hours of the day need one that does not change."""
    if zone is not None:
        return zone, ()
    offsets = {one.utcoffset() for one in moments}
    notices: tuple[Notice, ...] = ()
    # summer time came or went: one fixed offset gives wrong hours on one side
    if len(offsets) > 1:
        notices = (notice("zone", "offset changes"),)
    elif offsets == {timedelta(0)}:
        notices = (notice("zone", "utc"),)
    return moments[0].tzinfo or UTC, notices


def _local_seconds(moments: list[datetime], zone: tzinfo) -> tuple[Array, tuple[Notice, ...]]:
    """Seconds since 1970 of a local clock; of an hour that comes twice, the one that fits."""
    # a log that begins with its latest row is read from its end
    falling = len(moments) > 1 and moments[0] > moments[-1]
    ordered = moments[::-1] if falling else moments
    seconds, last, repeated, skipped = [], -np.inf, 0, 0
    for one in ordered:
        # PEP 495: fold tells the two readings of a local time apart; equal ones are no change,
        # and in the hour that spring skips the second lies before the first
        first = one.replace(tzinfo=zone, fold=0).timestamp()
        second = one.replace(tzinfo=zone, fold=1).timestamp()
        at = first
        if second > first:
            repeated += 1
            # earlier than the row before it: the hour is being told a second time
            at = second if first < last else first
        elif second < first:
            skipped += 1
        seconds.append(at)
        # one row out of order must not send all after it into the second hour
        last = max(last, at)
    notices = []
    if repeated:
        notices.append(notice("clock change", "repeated", rows=repeated))
    if skipped:
        notices.append(notice("clock change", "skipped", rows=skipped))
    return np.array(seconds[::-1] if falling else seconds), tuple(notices)
