"""The table in a log: its text in whatever encoding, its columns, what stands before it.

Entry points: `table_of`, `clips_in`.
"""

import codecs
import csv
import os
from collections import Counter
from pathlib import Path

from audiolevel.errors import SettingError
from audiolevel.files import SOUND_ENDINGS, VIDEO_ENDINGS
from audiolevel.names import printable
from audiolevel.texts import read_bytes

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
_PICTURE_ENDINGS = frozenset({".jpg", ".jpeg", ".png"})


def table_of(where: Path) -> list[list[str]]:
    """All rows of a text file that are not empty, their cells without spaces around them.

    Raises
    ------
    SettingError
        The file cannot be read, is empty, or is no text.
    """
    lines = [line for line in _text(where).splitlines() if line.strip()]
    if not lines:
        raise SettingError(f"{where}: is empty; export the camera's log again")
    if len(lines) > _MOST_ROWS or max(map(len, lines)) > _LONGEST_LINE:
        raise SettingError(
            f"{where}: has more than {_MOST_ROWS:,} rows, or one of more than {_LONGEST_LINE:,} "
            "characters; export a shorter time as CSV"
        )
    try:
        rows = csv.reader(lines, delimiter=_delimiter(lines))
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
        raise SettingError(f"{where}: is not text; export the camera's log as CSV")
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


def clips_in(folder: Path) -> list[list[str]]:
    """The clips below a folder as rows of a table: their paths, in order.

    A camera that keeps clips and no log has its times in their names. Pictures are taken where
    there is neither sound nor video.

    Raises
    ------
    SettingError
        There are none, or a folder cannot be looked into: fewer clips would be a quieter camera.
    """
    found = sorted(
        Path(parent) / name
        for parent, _, names in os.walk(folder, onerror=_refuse_closed)
        for name in names
    )
    for endings in (SOUND_ENDINGS | VIDEO_ENDINGS, _PICTURE_ENDINGS):
        clips = [path for path in found if path.suffix.lower() in endings]
        if clips:
            return [[printable(path.relative_to(folder).as_posix())] for path in clips]
    raise SettingError(f"{folder}: holds no clips; name the camera's log or its folder of clips")


def _refuse_closed(error: OSError) -> None:
    raise SettingError(
        f"{error.filename}: cannot be read ({error.strerror}), so its clips cannot be counted; "
        "check its permissions"
    ) from error
