"""Where the times of a log stand, where its table begins, and what its columns are called.

Entry points: `table_with_times`, `column`, `joined`.
"""

import os
import re
from collections import Counter
from pathlib import Path

from audiolevel.followup.clips import clips_in
from audiolevel.followup.log_format import LogFormat
from audiolevel.followup.time_forms import is_epoch_or_name, is_time
from audiolevel.ground.errors import SettingError
from audiolevel.ground.names import hint
from audiolevel.ground.tables import TextTable, table_of

_HALF_DAY = re.compile(r"[ap]\.?\s?m\.?", re.IGNORECASE)
# rows that are looked at to find the column of times
_SAMPLE = 200
# characters of a header in an error
_MOST_SHOWN = 120


def table_with_times(
    where: Path | TextTable, reading: LogFormat
) -> tuple[list[str], list[list[str]], list[int]]:
    """The table of a log, or of a folder of clips, from its first row with a time on.

    Parameters
    ----------
    where : Path or TextTable
    reading : LogFormat

    Returns
    -------
    header : list of str
        Empty names if there is none.
    rows : list of list of str
    columns : list of int
        Where the times stand: one column, or date and time side by side.

    Raises
    ------
    SettingError
        It cannot be read, or has no column of times.
    """
    is_clips = isinstance(where, Path) and os.path.isdir(where)
    rows = clips_in(Path(where)) if is_clips else table_of(where)
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


def _end_of_heading(rows: list[list[str]], reading: LogFormat, where: Path | TextTable) -> int:
    """Where the rows of a log without a single time would begin: a log without firings."""
    if len(rows) > 1:
        if reading.time_columns:
            # the rows are there and none can be read, which is told with an example
            return 1
        raise SettingError(
            f"{where}: no column of times {_form_named(reading)}; name it with --time-column and "
            "its form with --time-format, like '%d.%m.%Y %H:%M:%S'"
        )
    # a log without rows is a silent one if it is known what it covers
    if not (reading.begin and reading.end):
        raise SettingError(f"{where}: has no rows; say what it covers with --from and --to")
    return 1


def _form_named(reading: LogFormat) -> str:
    if reading.time_format:
        return f"like {reading.time_format}"
    return "like 2026-03-02T17:30:05, 31.12.2026 20:00, 12/31/2026 08:15 PM or 1767211200"


def _named_columns(rows: list[list[str]], reading: LogFormat, where: Path | TextTable) -> list[int]:
    names = [name.lower() for name in reading.time_columns if not name.isdecimal()]
    widest = max(rows, key=len)
    # by number alone no header is needed; else it is the first line that has all the names
    header = next((row for row in rows if {*names} <= {cell.lower() for cell in row}), rows[0])
    known = header if names else widest
    return [column(name, known, where, "--time-column") for name in reading.time_columns]


def _columns_of_time(rows: list[list[str]], reading: LogFormat) -> list[int]:
    """The first column that holds times in half of the rows, or two side by side that do."""
    # from the end, where no preamble is; enough to tell
    sample = rows[-_SAMPLE:]
    widest = max(len(row) for row in sample)
    places = [[at] for at in range(widest)] + [[at, at + 1] for at in range(widest - 1)]
    for columns in places:
        hits = sum(is_time(joined(row, columns), reading.time_format) for row in sample)
        if 2 * hits >= len(sample):
            return [*columns, *_half_days(sample, columns[-1] + 1)]
    if reading.time_format:
        return []
    # no dates: seconds since 1970, or names of clips
    for at in range(widest):
        if 2 * sum(is_epoch_or_name(joined(row, [at])) for row in sample) >= len(sample):
            return [at]
    return []


def _half_days(sample: list[list[str]], place: int) -> list[int]:
    """The place, if the column holds nothing but AM and PM: the times before it are of 12 hours."""
    cells = [row[place].strip() for row in sample if place < len(row) and row[place].strip()]
    halves = sum(bool(_HALF_DAY.fullmatch(cell)) for cell in cells)
    # a heading or a line before the table may stand there too
    return [place] if cells and 2 * halves >= len(sample) else []


def _has_time(row: list[str], columns: list[int], reading: LogFormat) -> bool:
    text = joined(row, columns)
    if is_time(text, reading.time_format):
        return True
    return not reading.time_format and is_epoch_or_name(text)


def column(name: str, header: list[str], where: Path | TextTable, option: str) -> int:
    """Place of a column by its name or its number from 1; `option` is what asked for it.

    Raises
    ------
    SettingError
        There is none; the nearest name is told.
    """
    # columns count from 1 for people
    if name.isdecimal() and 1 <= int(name) <= len(header):
        return int(name) - 1
    lower = [one.lower() for one in header]
    if name.lower() in lower:
        return lower.index(name.lower())
    said = hint(name, header, otherwise=f"it has {_listed(header)}")
    raise SettingError(f"{where}: no column {name!r} for {option}; {said}")


def _listed(header: list[str]) -> str:
    names = ", ".join(name for name in header if name)
    # what is no table at all may be one long line
    names = names if len(names) <= _MOST_SHOWN else f"{names[:_MOST_SHOWN]} …"
    return names or f"columns without names: {len(header)}"


def joined(row: list[str], columns: list[int]) -> str:
    """The cells of a row at some places, as one text."""
    # rows cut off are shorter than the header
    return " ".join(row[place] for place in columns if place < len(row))
