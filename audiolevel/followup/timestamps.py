"""Which moments are meant by the times written in a log?

ISO 8601 or a form the user names; with an offset from UTC or by the clock on the wall, whose hours
are skipped and repeated when summer time begins and ends.

Conventions: seconds since 1970 (UTC); a clock without a zone is taken as one that is never changed.

Entry points: `moment`, `on_the_wall`.
"""

from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np

from audiolevel.arrays import Array
from audiolevel.notices import Notice


def moment(text: str, time_format: str) -> datetime | None:
    """A time in ISO 8601 or the strptime form named; None if the text is none."""
    try:
        if time_format:
            return datetime.strptime(text, time_format)
        # a bare number or a date alone is no moment
        return datetime.fromisoformat(text) if ":" in text else None
    except ValueError:
        return None


def on_the_wall(
    moments: list[datetime], zone: tzinfo | None, found: list[Notice]
) -> tuple[tzinfo, Array]:
    """Zone of the clock on the wall, and the moments in seconds since 1970."""
    if moments and moments[0].tzinfo is not None:
        return _zone_of_rows(moments, zone, found), np.array([m.timestamp() for m in moments])
    if zone is None:
        return UTC, np.array([one.replace(tzinfo=UTC).timestamp() for one in moments])
    return zone, _resolved(moments, zone, found)


def _zone_of_rows(moments: list[datetime], zone: tzinfo | None, found: list[Notice]) -> tzinfo:
    if zone is not None:
        return zone
    offsets = {one.utcoffset() for one in moments}
    if len(offsets) > 1:
        text = "the rows' offset from UTC changes; hours are those of the first: give --zone"
        found.append(Notice("zone", text))
    elif offsets == {timedelta(0)}:
        text = "times are in UTC, so hours of the day are too; give --zone for the local clock"
        found.append(Notice("zone", text))
    return moments[0].tzinfo or UTC


def _resolved(moments: list[datetime], zone: tzinfo, found: list[Notice]) -> Array:
    """Seconds since 1970 of a local clock; of an hour that comes twice, the one that fits."""
    falling = len(moments) > 1 and moments[0] > moments[-1]
    ordered = moments[::-1] if falling else moments
    seconds, last, twice, skipped = [], -np.inf, 0, 0
    for one in ordered:
        first = one.replace(tzinfo=zone, fold=0).timestamp()
        second = one.replace(tzinfo=zone, fold=1).timestamp()
        at = first
        if second > first:
            twice += 1
            at = second if first < last else first
        elif second < first:
            skipped += 1
        seconds.append(at)
        last = max(last, at)
    if twice:
        text = f"{twice} rows in the hour that summer time's end repeats; placed by their order"
        found.append(Notice("clock change", text))
    if skipped:
        text = f"{skipped} rows in the hour that summer time skips: is the camera's clock changed?"
        found.append(Notice("clock change", text))
    return np.array(seconds[::-1] if falling else seconds)
