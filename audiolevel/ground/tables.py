"""Tables in text that others wrote: in whatever encoding, cells apart by whatever sign.

A table in memory, of pandas or of times alone, is read as its text would be (`TextTable`).

Entry points: `table_of`, `TextTable`, `text_table`, `KIND_LIKE`.
"""

import codecs
import csv
import os
import re
from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from audiolevel.ground.errors import SettingError
from audiolevel.ground.texts import read_bytes

# what headers call the column that says what a row is, in some languages
KIND_LIKE = re.compile(
    r"kind|type|typ\b|event|source|reason|trigger|class|ereignis|grund|anlass|evento|tipo|motif",
    re.IGNORECASE,
)
# in the order of trust: a comma may be a decimal one, where another sign parts the cells
_DELIMITERS = "\t;|,"
_MARKS = {
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}
# a year of a row every minute, of a hundred characters each
_MOST_ROWS, _MOST_BYTES = 525_600, 50 << 20
_MOST_CELLS, _LONGEST_LINE = 256, 500_000


@dataclass(frozen=True)
class TextTable(os.PathLike[str]):
    """A table in memory, as the text of its file would be; its name stands in for a path."""

    name: str
    text: str

    def __fspath__(self) -> str:
        return self.name

    __str__ = __fspath__


def text_table(given: Any) -> TextTable | None:
    """A pandas DataFrame or Series, or moments, as text; None where it is none of them.

    Parameters
    ----------
    given : DataFrame, Series, or sequence of datetime or datetime64
        An index of dates becomes the first column, `time`.
    """
    if hasattr(given, "to_csv"):
        # neither pandas nor any other library that has the same methods need be there
        table = given.to_frame() if hasattr(given, "to_frame") else given
        dated = hasattr(table.index, "tz")
        table = table.rename_axis("time") if dated else table
        return TextTable("table", table.to_csv(index=dated))
    moments = list(given) if not isinstance(given, str | os.PathLike) else []
    if moments and all(isinstance(one, datetime | np.datetime64) for one in moments):
        return TextTable("times", "\n".join(["time", *map(str, moments)]) + "\n")
    return None


def table_of(
    where: Path | TextTable,
    form: str = "export the camera's log again",
    most_rows: int = _MOST_ROWS,
) -> list[list[str]]:
    """All rows of a text file that are not empty, their cells without spaces around them.

    Parameters
    ----------
    where : Path or TextTable
    form : str
        What to do about a file without rows.
    most_rows : int
        That such a table can have.

    Raises
    ------
    SettingError
        The file cannot be read, is empty, is no text, or has more rows.
    """
    lines = [line for line in _text(where).splitlines() if line.strip()]
    if not lines:
        raise SettingError(f"{where}: is empty; {form}")
    if len(lines) > most_rows or max(map(len, lines)) > _LONGEST_LINE:
        raise SettingError(
            f"{where}: has more than {most_rows:,} rows, or one of more than {_LONGEST_LINE:,} "
            "characters; export a shorter time as CSV"
        )
    try:
        # a quote that is not closed would swallow the rows after it
        rows = csv.reader(lines, delimiter=_delimiter(lines), strict=True)
        # of what is no table and has a sign in it a million times
        return [[cell.strip() for cell in row[:_MOST_CELLS]] for row in rows]
    except csv.Error as error:
        raise SettingError(f"{where}: is no table ({error}); export it again as CSV") from error


def _text(where: Path | TextTable) -> str:
    if isinstance(where, TextTable):
        return where.text
    data = read_bytes(where, _MOST_BYTES)
    mark = next((name for start, name in _MARKS.items() if data.startswith(start)), None)
    # every second byte of western text in UTF-16 is zero
    if mark is None and data[1:2] == b"\0":
        mark = "utf-16-le"
    elif mark is None and data[:1] == b"\0":
        mark = "utf-16-be"
    try:
        text = data.decode(mark or "utf-8")
    except UnicodeDecodeError as error:
        if mark is not None:
            raise SettingError(f"{where}: breaks off or is no text; export it again") from error
        # reads every byte; the dates and kinds of western logs are the same in its relatives
        text = data.decode("latin-1")
    if "\0" in text:
        raise SettingError(f"{where}: is not text; export it as CSV")
    return text


def _delimiter(lines: list[str]) -> str:
    """The sign that stands equally often in most lines."""

    def alike(sign: str) -> int:
        counts = Counter(line.count(sign) for line in lines)
        # what stands in no line parts nothing
        del counts[0]
        return max(counts.values(), default=0)

    # of two that do equally well the first, which is the surer one
    return max(_DELIMITERS, key=alike) if any(map(alike, _DELIMITERS)) else ","
