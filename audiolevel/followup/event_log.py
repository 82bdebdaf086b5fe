"""Firings of the camera by its own log: the table, its times, its kinds of event, what it covers.

A log is any table in text with a column of times, or a folder of clips whose names hold them. Rows
may be out of order, doubled, of several kinds, with or without a time zone; what was found and done
about it stands in `Log.notices`.

Conventions: times are seconds since 1970 (UTC); a clock without a zone is taken as one that is
never changed. "Covered" is the time in which a firing would have been logged.

Entry points: `read_log`, `LogFormat`, `Log`.
"""

import os
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path

import numpy as np

from audiolevel.counting.schedule import zone_named
from audiolevel.followup.log_columns import column, joined, table_with_times
from audiolevel.followup.log_format import LogFormat as LogFormat
from audiolevel.followup.time_forms import (
    ORDERS,
    AmbiguousDates,
    times_of,
)
from audiolevel.followup.timestamps import seconds_of
from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.ground.errors import SettingError
from audiolevel.ground.names import printable
from audiolevel.ground.notices import Notice, notice
from audiolevel.ground.tables import KIND_LIKE, TextTable

# a year without a single row is no pause of a camera whose log is looked at within weeks
_ANOTHER_CLOCK_DAYS = 366.0
# longer than a camera is left as it was set
_MOST_YEARS = 10
# a header written twice or a line cut off is usual; more means the form of time is wrong
_MOST_UNREADABLE = 0.1
# two times written to the whole second may lie 1 s nearer than the firings did, and a clock drifts
_CLOCK_RESOLUTION_S = 1.5
# a column with more values than this holds names or numbers, not kinds of event
_MOST_KINDS = 12


@dataclass(frozen=True, eq=False)
class Log:
    """Firings of the sound trigger in rising order, and what the log covers.

    Attributes
    ----------
    fired_s, other_s : arrays, shape (firings,), (rows,)
        Moments of firings, and of rows of other kinds.
    covered : tuple of (float, float)
        Stretches covered, without the gaps.
    zone : tzinfo
        Of the clock on the wall.
    own_span : bool
        The log's own rows had to say what it covers; its first row then opens it and is no count.
    kinds_known : bool
        Rows of the sound trigger are known from others.
    recorded_s : float
        Sum of the lengths of the recordings; nan if not logged.
    rows_s : tuple of (float, float) or None
        First and last moment of all rows; None where there are none.
    form : str
        How its times were read, as in `time_forms.Times`.
    idle_gaps : tuple of str
        Gaps that lie outside its time, as they were given.
    """

    name: str
    fired_s: Array
    other_s: Array
    covered: tuple[tuple[float, float], ...]
    zone: tzinfo
    own_span: bool
    kinds_known: bool
    recorded_s: float
    notices: tuple[Notice, ...]
    rows_s: tuple[float, float] | None = None
    form: str = ""
    idle_gaps: tuple[str, ...] = ()


def read_log(path: str | os.PathLike[str], reading: LogFormat) -> Log:
    """Read a camera's log.

    Parameters
    ----------
    path : path or TextTable
        A table in text, cells apart by commas, semicolons, tabs or bars, with or without a header
        and lines before it; or a folder of clips.
    reading : LogFormat

    Returns
    -------
    Log

    Raises
    ------
    SettingError
        If the file cannot be read, has no column of times, has dates that may have the day or the
        month first, or its kinds cannot be told apart as asked; or a gap that ends before it
        begins.
    """
    where = path if isinstance(path, TextTable) else Path(path)
    notices: list[Notice] = []
    header, rows, columns = table_with_times(where, reading)
    moments, kept_rows, form = _moments(rows, columns, reading, where, notices)
    named = reading.zone
    zone, utc_s, about_zone = seconds_of(
        moments, zone_named(named, "--zone") if isinstance(named, str) else named
    )
    notices += about_zone
    kinds = _kinds(header, kept_rows, reading, where, notices)
    # without a column of kinds every row may be the trigger's
    wanted = np.array([one is None or one in _lower(reading.kinds) for one in kinds], dtype=bool)
    if not reading.kinds:
        wanted[:] = True
    # stable: rows of one second stay as they were written
    order = np.argsort(utc_s, kind="stable")
    # latest first is a usual way to export and no disorder
    if np.any(np.diff(utc_s) < 0) and np.any(np.diff(utc_s) > 0) and not _falls(utc_s):
        notices.append(notice("unsorted"))
    fired = _single(utc_s[order][wanted[order]], reading.rearm_s, notices)
    covered, idle_gaps = _covered(utc_s, reading, zone, where)
    # in gaps, or before and after what the user says is covered
    outside = np.array([not any(a <= t <= b for a, b in covered) for t in fired], dtype=bool)
    if outside.any():
        notices.append(notice("outside", firings=int(outside.sum())))
    return Log(
        name=printable(where.name),
        fired_s=fired[~outside],
        other_s=utc_s[order][~wanted[order]],
        covered=covered,
        zone=zone,
        own_span=reading.begin is None,
        # a log of one kind only is taken for the trigger's
        kinds_known=bool(reading.kinds) or (len(set(kinds)) == 1 and kinds[0] is not None),
        recorded_s=_recorded_s(header, kept_rows, wanted, reading, where),
        notices=tuple(notices),
        rows_s=(float(utc_s.min()), float(utc_s.max())) if utc_s.size else None,
        form=form,
        idle_gaps=idle_gaps,
    )


# --- times ---------------------------------------------------------------------------------------


def _moments(
    rows: list[list[str]],
    columns: list[int],
    reading: LogFormat,
    where: Path | TextTable,
    notices: list[Notice],
) -> tuple[list[datetime], list[list[str]], str]:
    """Times that can be read, their rows and form; a tenth may be unreadable, not more."""
    try:
        texts = [joined(row, columns) for row in rows]
        times = times_of(texts, reading.time_format, reading.date_order)
    except AmbiguousDates as error:
        raise SettingError(f"{where}: {_both(error)}") from error
    read = times.moments
    bad = [number for number, one in enumerate(read) if one is None]
    if len(bad) > _MOST_UNREADABLE * len(rows):
        raise SettingError(
            f"{where}: no readable time in {len(bad)} of {len(rows)} rows, the first "
            f"{texts[bad[0]]!r}; give its form with --time-format"
        )
    if bad:
        notices.append(notice("unreadable", rows=len(bad), of_rows=len(rows)))
    moments = [one for one in read if one is not None]
    if not moments:
        return [], [], times.form
    aware = sum(one.tzinfo is not None for one in moments)
    # the two cannot be put on one time line
    if 0 < aware < len(moments):
        raise SettingError(f"{where}: some times have a zone and some have none; export it again")
    kept = [row for row, one in zip(rows, read, strict=True) if one is not None]
    right = _by_one_clock(moments)
    if not right.all():
        notices.append(notice("wrong clock", rows=int((~right).sum()), of_rows=len(rows)))
        moments = [one for one, good in zip(moments, right, strict=True) if good]
        kept = [row for row, good in zip(kept, right, strict=True) if good]
    return moments, kept, times.form


def _by_one_clock(moments: Sequence[datetime]) -> BoolArray:
    """Which rows are of the stretch that most of them are in; shape (rows,).

    A camera that lost its power logs by the day its clock was made with, until somebody sets it.
    """
    days = np.array([(one - moments[0]).total_seconds() for one in moments]) / 86_400
    order = np.argsort(days, kind="stable")
    stretch = np.empty(len(days), dtype=np.int64)
    stretch[order] = np.cumsum(np.diff(days[order], prepend=days[order[0]]) > _ANOTHER_CLOCK_DAYS)
    rows_in = np.bincount(stretch)
    # of two stretches as long as each other the later one: clocks fall back
    most = len(rows_in) - 1 - int(np.argmax(rows_in[::-1]))
    return np.asarray(stretch == most)


def _both(error: AmbiguousDates) -> str:
    """What dates are that fit two orders, and how to settle it."""
    meanings = [
        f"{when.day} {when:%b %Y} (--date-order {order}: {ORDERS[order]})"
        for order, when in error.readings.items()
    ]
    return (
        f"{error.text!r} may be {' or '.join(meanings)}, and no row of the log tells which; "
        "say so by --date-order"
    )


def _falls(utc_s: Array) -> bool:
    return bool(np.all(np.diff(utc_s) <= 0))


# --- rows ----------------------------------------------------------------------------------------


def _lower(names: Sequence[str]) -> set[str]:
    return {name.lower() for name in names}


def _kinds(
    header: list[str],
    rows: list[list[str]],
    reading: LogFormat,
    where: Path | TextTable,
    notices: list[Notice],
) -> list[str | None]:
    """Kind of each row in small letters; None where the log has no such column."""
    place = _kind_column(header, reading, where)
    if place is None:
        likely = [i for i, name in enumerate(header) if KIND_LIKE.search(name)]
        for column in likely:
            seen = Counter(_cell(row, column) for row in rows)
            # one value tells nothing apart
            if 1 < len(seen) <= _MOST_KINDS:
                notices.append(notice("kinds", column=header[column], kinds=_some(seen)))
        return [None] * len(rows)
    if not rows:
        return []
    kinds = [_cell(row, place).lower() for row in rows]
    seen = Counter(kinds)
    if not reading.kinds and len(seen) > 1:
        raise SettingError(
            f"{where}: column {header[place] or place + 1} holds {_some(seen)}; say with --kind "
            "which are the sound trigger's"
        )
    missing = _lower(reading.kinds) - set(seen)
    # one of several kinds may have had no row; none of them at all is a slip of spelling
    if missing == _lower(reading.kinds) and reading.kinds:
        raise SettingError(f"{where}: no row of kind {min(missing)!r}; it has {_some(seen)}")
    return list(kinds)


def _kind_column(header: list[str], reading: LogFormat, where: Path | TextTable) -> int | None:
    if reading.kind_column:
        return column(reading.kind_column, header, where, "--kind-column")
    if not reading.kinds:
        return None
    likely = [i for i, name in enumerate(header) if KIND_LIKE.search(name)]
    if not likely:
        raise SettingError(f"{where}: where does the kind stand? Name it with --kind-column")
    return likely[0]


def _cell(row: list[str], place: int) -> str:
    return row[place] if place < len(row) else ""


def _some(seen: Counter[str]) -> str:
    names = [f"{name or 'nothing'} ({count})" for name, count in seen.most_common(6)]
    return ", ".join(names) + (" and more" if len(seen) > 6 else "")


def _single(times_s: Array, rearm_s: float, notices: list[Notice]) -> Array:
    """One time a firing: equal rows and rows within the re-arm time are one."""
    if times_s.size == 0:
        return times_s
    distinct = np.unique(times_s)
    if distinct.size < times_s.size:
        notices.append(notice("duplicates", rows=times_s.size - distinct.size))
    single = [float(distinct[0])]
    for time in distinct[1:].tolist():
        # from the last that counted, as the detector counts its dead time from a firing
        if time - single[-1] >= rearm_s - _CLOCK_RESOLUTION_S:
            single.append(time)
    if len(single) < distinct.size:
        rows = distinct.size - len(single)
        notices.append(notice("within re-arm", rows=rows, rearm_s=rearm_s))
    return np.array(single)


def _recorded_s(
    header: list[str],
    rows: list[list[str]],
    wanted: BoolArray,
    reading: LogFormat,
    where: Path | TextTable,
) -> float:
    if not reading.length_column:
        return float("nan")
    place = column(reading.length_column, header, where, "--length-column")
    total = 0.0
    for row, counts in zip(rows, wanted, strict=True):
        try:
            # a decimal comma where the comma does not part the cells
            length = float(_cell(row, place).replace(",", ".")) if counts else 0.0
            if not 0 <= length < float("inf"):
                raise ValueError
            total += length
        except ValueError as error:
            raise SettingError(
                f"{where}: length {_cell(row, place)!r} is no number of seconds"
            ) from error
    return total


def _covered(
    utc_s: Array, reading: LogFormat, zone: tzinfo, where: Path | TextTable
) -> tuple[tuple[tuple[float, float], ...], tuple[str, ...]]:
    """Stretches covered, and the gaps that take nothing out of them."""

    def seconds(when: datetime) -> float:
        return (when if when.tzinfo else when.replace(tzinfo=zone)).timestamp()

    # all rows, whatever their kind: the camera was on
    begin = seconds(reading.begin) if reading.begin else float(utc_s.min())
    end = seconds(reading.end) if reading.end else float(utc_s.max())
    if end <= begin:
        raise SettingError(f"{where}: covers no time; say what it covers with --from and --to")
    if (years := (end - begin) / 86_400 / 365.25) > _MOST_YEARS:
        # every day is looked at by itself
        raise SettingError(
            f"{where}: covers {years:.0f} years, and at most {_MOST_YEARS} are followed up; say a "
            "shorter time with --from and --to, or cut out rows of a wrong clock"
        )
    stretches, idle = [(begin, end)], []
    for gap in reading.gaps:
        said = "/".join(when.isoformat() for when in gap)
        off, on = (seconds(when) for when in gap)
        # its two sides would overlap, and time be counted twice
        if on <= off:
            raise SettingError(f"--gap {said}: ends before it begins; give the earlier time first")
        if on <= begin or off >= end:
            idle.append(said)
        # what is left before and after the gap; pieces that come out empty are dropped
        parts = [((a, min(b, off)), (max(a, on), b)) for a, b in stretches]
        stretches = [part for pair in parts for part in pair if part[1] > part[0]]
    if not stretches:
        raise SettingError(f"{where}: the gaps leave nothing of the time covered")
    return tuple(stretches), tuple(idle)
