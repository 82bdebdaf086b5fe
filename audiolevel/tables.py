"""Tables in text that others wrote: in whatever encoding, cells apart by whatever sign.

Entry points: `table_of`, `KIND_LIKE`.
"""

import codecs
import csv
import re
from collections import Counter
from pathlib import Path

from audiolevel.errors import SettingError
from audiolevel.texts import read_bytes

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


def table_of(
    where: Path, form: str = "export the camera's log again", most_rows: int = _MOST_ROWS
) -> list[list[str]]:
    """All rows of a text file that are not empty, their cells without spaces around them.

    Parameters
    ----------
    where : Path
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


def _text(where: Path) -> str:
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
