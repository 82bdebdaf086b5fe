"""Firings of the camera by its own log: the table, its times, its kinds of event, what it covers.

A log is any table in text with a column of times, or a folder of clips whose names hold them. Rows
may be out of order, doubled, of several kinds, with or without a time zone; what was found and done
about it stands in `Log.notices`.

Conventions: times are seconds since 1970 (UTC); a clock without a zone is taken as one that is
never changed. "Covered" is the time in which a firing would have been logged.

Entry points: `read_log`, `LogFormat`, `Log`.
"""

import difflib
import os
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path

import numpy as np

from audiolevel.arrays import Array, BoolArray
from audiolevel.errors import SettingError
from audiolevel.followup.log_table import clips_in, table_of
from audiolevel.followup.time_forms import (
    ORDERS,
    AmbiguousDates,
    is_epoch_or_name,
    is_time,
    times_of,
)
from audiolevel.followup.timestamps import seconds_of
from audiolevel.notices import Notice, notice

_KIND_LIKE = re.compile(r"kind|type|event|source|reason|trigger|class", re.IGNORECASE)
# a header written twice or a line cut off is usual; more means the form of time is wrong
_MOST_UNREADABLE = 0.1
# two times written to the whole second may lie 1 s nearer than the firings did, and a clock drifts
_CLOCK_RESOLUTION_S = 1.5
# rows that are looked at to find the column of times
_SAMPLE = 200
# a column with more values than this holds names or numbers, not kinds of event
_MOST_KINDS = 12


@dataclass(frozen=True)
class LogFormat:
    """How a log is to be read; every default looks for what the log itself shows.

    Attributes
    ----------
    time_columns : tuple of str
        Name or number (from 1) of the column of times; two are joined, date and time.
    time_format : str
        As of strptime; "" finds out.
    date_order : str
        "dmy", "mdy" or "ymd" for dates in numbers; "" finds out from the whole column.
    kind_column, kinds : str, tuple of str
        Where the kind of event stands, and which of them are firings of the sound trigger.
    length_column : str
        Where the length of the recording stands, in seconds.
    zone : tzinfo or None
        Of the camera's clock.
    rearm_s : float
        Of the trigger: rows nearer to each other are one firing.
    begin, end : datetime or None
        What the log covers; None is from its first or to its last row.
    gaps : tuple of (datetime, datetime)
        When the camera was off.
    """

    time_columns: tuple[str, ...] = ()
    time_format: str = ""
    date_order: str = ""
    kind_column: str = ""
    kinds: tuple[str, ...] = ()
    length_column: str = ""
    zone: tzinfo | None = None
    rearm_s: float = 10.0
    begin: datetime | None = None
    end: datetime | None = None
    gaps: tuple[tuple[datetime, datetime], ...] = ()


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


def read_log(path: str | os.PathLike[str], reading: LogFormat) -> Log:
    """Read a camera's log.

    Parameters
    ----------
    path : path
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
        month first, or its kinds cannot be told apart as asked.
    """
    where = Path(path)
    notices: list[Notice] = []
    header, rows, columns = _table(where, reading)
    moments, kept_rows, form = _moments(rows, columns, reading, where, notices)
    zone, utc_s, about_zone = seconds_of(moments, reading.zone)
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
    covered, own_span = _covered(utc_s, reading, zone, where)
    # in gaps, or before and after what the user says is covered
    outside = np.array([not any(a <= t <= b for a, b in covered) for t in fired], dtype=bool)
    if outside.any():
        notices.append(notice("outside", firings=int(outside.sum())))
    return Log(
        name=where.name,
        fired_s=fired[~outside],
        other_s=utc_s[order][~wanted[order]],
        covered=covered,
        zone=zone,
        own_span=own_span,
        # a log of one kind only is taken for the trigger's
        kinds_known=bool(reading.kinds) or (len(set(kinds)) == 1 and kinds[0] is not None),
        recorded_s=_recorded_s(header, kept_rows, wanted, reading, where),
        notices=tuple(notices),
        rows_s=(float(utc_s.min()), float(utc_s.max())) if utc_s.size else None,
        form=form,
    )


# --- the table -----------------------------------------------------------------------------------


def _table(where: Path, reading: LogFormat) -> tuple[list[str], list[list[str]], list[int]]:
    """Header (empty names if there is none), rows, and the columns of times."""
    rows = clips_in(where) if where.is_dir() else table_of(where)
    if reading.time_columns:
        columns = _named_columns(rows, reading, where)
    else:
        columns = _columns_of_time(rows, reading)
    timed = Counter(len(row) for row in rows[-_SAMPLE:] if _has_time(row, columns, reading))
    # as wide as the rows with times are: a line before the table may hold a date as well
    usual = timed.most_common(1)[0][0] if timed else 0
    first = next(
        (i for i, row in enumerate(rows) if len(row) >= usual and _has_time(row, columns, reading)),
        None,
    )
    if first is None:
        first = _end_of_heading(rows, reading, where)
    width = max(columns, default=0) + 1
    # the last line before the times that is as wide: what stands before it is a preamble
    header = next((row for row in reversed(rows[:first]) if len(row) >= width), None)
    return header or [""] * max(width, len(rows[min(first, len(rows) - 1)])), rows[first:], columns


def _end_of_heading(rows: list[list[str]], reading: LogFormat, where: Path) -> int:
    """Where the rows of a log without a single time would begin: a log without firings."""
    if len(rows) > 1:
        if reading.time_columns:
            # the rows are there and none can be read, which is told with an example
            return 1
        raise SettingError(
            f"{where}: no column of times {_form_named(reading)}; name it with --time-column and "
            "its form with --time-format"
        )
    # a log without rows is a silent one if it is known what it covers
    if not (reading.begin and reading.end):
        raise SettingError(f"{where}: has no rows; say what it covers with --from and --to")
    return 1


def _form_named(reading: LogFormat) -> str:
    if reading.time_format:
        return f"like {reading.time_format}"
    return "like 2026-03-02T17:30:05, 31.12.2026 20:00, 12/31/2026 08:15 PM or 1767211200"


def _named_columns(rows: list[list[str]], reading: LogFormat, where: Path) -> list[int]:
    names = [name.lower() for name in reading.time_columns if not name.isdecimal()]
    widest = max(rows, key=len)
    # by number alone no header is needed; else it is the first line that has all the names
    header = next((row for row in rows if {*names} <= {cell.lower() for cell in row}), rows[0])
    known = header if names else widest
    return [_column(name, known, where, "--time-column") for name in reading.time_columns]


def _columns_of_time(rows: list[list[str]], reading: LogFormat) -> list[int]:
    """The first column that holds times in half of the rows, or two side by side that do."""
    # from the end, where no preamble is; enough to tell
    sample = rows[-_SAMPLE:]
    widest = max(len(row) for row in sample)
    places = [[at] for at in range(widest)] + [[at, at + 1] for at in range(widest - 1)]
    for columns in places:
        hits = sum(is_time(_joined(row, columns), reading.time_format) for row in sample)
        if 2 * hits >= len(sample):
            return columns
    if reading.time_format:
        return []
    # no dates: seconds since 1970, or names of clips
    for at in range(widest):
        if 2 * sum(is_epoch_or_name(_joined(row, [at])) for row in sample) >= len(sample):
            return [at]
    return []


def _has_time(row: list[str], columns: list[int], reading: LogFormat) -> bool:
    text = _joined(row, columns)
    if is_time(text, reading.time_format):
        return True
    return not reading.time_format and is_epoch_or_name(text)


def _column(name: str, header: list[str], where: Path, option: str) -> int:
    """Place of a column by its name or its number from 1."""
    # columns count from 1 for people
    if name.isdecimal() and 1 <= int(name) <= len(header):
        return int(name) - 1
    lower = [one.lower() for one in header]
    if name.lower() in lower:
        return lower.index(name.lower())
    near = difflib.get_close_matches(name.lower(), lower, n=1, cutoff=0.5)
    hint = f"did you mean {header[lower.index(near[0])]}?" if near else f"it has {_listed(header)}"
    raise SettingError(f"{where}: no column {name!r} for {option}; {hint}")


def _listed(header: list[str]) -> str:
    return ", ".join(name for name in header if name) or f"{len(header)} columns without names"


def _joined(row: list[str], columns: list[int]) -> str:
    # rows cut off are shorter than the header
    return " ".join(row[place] for place in columns if place < len(row))


def _moments(
    rows: list[list[str]],
    columns: list[int],
    reading: LogFormat,
    where: Path,
    notices: list[Notice],
) -> tuple[list[datetime], list[list[str]], str]:
    """Times that can be read, their rows and form; a tenth may be unreadable, not more."""
    try:
        texts = [_joined(row, columns) for row in rows]
        times = times_of(texts, reading.time_format, reading.date_order)
    except AmbiguousDates as error:
        raise SettingError(f"{where}: {_both(error)}") from error
    read = times.moments
    bad = [number for number, one in enumerate(read) if one is None]
    if len(bad) > _MOST_UNREADABLE * len(rows):
        raise SettingError(
            f"{where}: {len(bad)} of {len(rows)} rows have no readable time, the first "
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
    return moments, kept, times.form


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
    header: list[str], rows: list[list[str]], reading: LogFormat, where: Path, notices: list[Notice]
) -> list[str | None]:
    """Kind of each row in small letters; None where the log has no such column."""
    place = _kind_column(header, reading, where)
    if place is None:
        likely = [i for i, name in enumerate(header) if _KIND_LIKE.search(name)]
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


def _kind_column(header: list[str], reading: LogFormat, where: Path) -> int | None:
    if reading.kind_column:
        return _column(reading.kind_column, header, where, "--kind-column")
    if not reading.kinds:
        return None
    likely = [i for i, name in enumerate(header) if _KIND_LIKE.search(name)]
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
    where: Path,
) -> float:
    if not reading.length_column:
        return float("nan")
    place = _column(reading.length_column, header, where, "--length-column")
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
    utc_s: Array, reading: LogFormat, zone: tzinfo, where: Path
) -> tuple[tuple[tuple[float, float], ...], bool]:
    def seconds(when: datetime) -> float:
        return (when if when.tzinfo else when.replace(tzinfo=zone)).timestamp()

    # all rows, whatever their kind: the camera was on
    begin = seconds(reading.begin) if reading.begin else float(utc_s.min())
    end = seconds(reading.end) if reading.end else float(utc_s.max())
    if end <= begin:
        raise SettingError(f"{where}: covers no time; say what it covers with --from and --to")
    stretches = [(begin, end)]
    for gap in reading.gaps:
        off, on = (seconds(when) for when in gap)
        # what is left before and after the gap; pieces that come out empty are dropped
        parts = [((a, min(b, off)), (max(a, on), b)) for a, b in stretches]
        stretches = [part for pair in parts for part in pair if part[1] > part[0]]
    if not stretches:
        raise SettingError(f"{where}: the gaps leave nothing of the time covered")
    return tuple(stretches), reading.begin is None
