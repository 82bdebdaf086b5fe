"""Text files of moderate length, read whole: how long they may be, and one line for each fault.

Entry points: `read_bytes`, `read_text`, `read_table`.
"""

import csv
import io
import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from audiolevel.errors import SettingError

# what is made of a text takes up to thirty times its length in memory, and all of it fits into 1 GB
_MOST_BYTES = 16 << 20
_MOST_COLUMNS = 256


def read_bytes(path: str | os.PathLike[str], most: int = _MOST_BYTES) -> bytes:
    """All of an ordinary file of at most so many bytes.

    Raises
    ------
    SettingError
        It cannot be read, is no ordinary file, or is longer.
    """
    where = Path(path)
    try:
        # a device need not end, and a pipe need not begin
        ordinary = where.is_file() or not where.exists()
        data = b""
        if ordinary:
            with where.open("rb") as file:
                data = file.read(most + 1)
    # a null character in a name is a plain ValueError
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise SettingError(f"{where}: cannot be read ({why}); check the name") from error
    if not ordinary:
        raise SettingError(f"{where}: is no ordinary file; name one")
    if len(data) > most:
        raise SettingError(f"{where}: is longer than {most >> 20} MB; is it the right file?")
    return data


def read_text(
    path: str | os.PathLike[str], encoding: str = "utf-8", most: int = _MOST_BYTES
) -> str:
    """All of a text file in UTF-8.

    Raises
    ------
    SettingError
        As `read_bytes`, or it is another encoding's.
    """
    try:
        return read_bytes(path, most).decode(encoding)
    except UnicodeDecodeError as error:
        raise SettingError(f"{path}: is not text in UTF-8; save it as such") from error


def read_table(
    path: str | os.PathLike[str], check: Callable[[Sequence[str]], None], most_rows: int
) -> Iterator[tuple[int, dict[str, str]]]:
    """The rows of a CSV file, each with the number of its line.

    Parameters
    ----------
    path : path
    check : callable
        Called with the header, to refuse it.
    most_rows : int

    Raises
    ------
    SettingError
        As `read_text`, or it is no table, or has more rows than that.
    """
    # spreadsheets put a byte order mark first, which would stick to the first column's name
    text = io.StringIO(read_text(path, "utf-8-sig"), newline="")
    try:
        # a quote that is not closed would swallow the rows after it
        reader = csv.DictReader(text, strict=True)
        names = reader.fieldnames or []
        check(names)
        for number, row in enumerate(reader):
            if number >= most_rows or len(names) > _MOST_COLUMNS:
                raise SettingError(
                    f"{path}: has more than {most_rows:,} rows or {_MOST_COLUMNS} columns; is it "
                    "the right file?"
                )
            if None in row:
                raise SettingError(
                    f"{path}: line {reader.line_num}: has more cells than the header; mend it"
                )
            yield reader.line_num, row
    except csv.Error as error:
        raise SettingError(f"{path}: is no table ({error}); export it again as CSV") from error
