"""Text files of moderate length, read whole: how long they may be, and one line for each fault.

Entry points: `read_bytes`, `read_text`.
"""

import os
from pathlib import Path

from audiolevel.ground.errors import SettingError

# what is made of a text takes up to thirty times its length in memory, and all of it fits into 1 GB
_MOST_BYTES = 16 << 20


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
