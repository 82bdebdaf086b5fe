"""The journal of a batch: results that outlive any stop.

An SQLite database with one row a result, each brought to the disk before the next is begun. A run
that is killed loses what was in work and nothing else. While a run has it open nobody else can: the
system lets go of the lock when the process ends, however it ends.

Entry point: `Journal`.
"""

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

from audiolevel.ground.errors import AudioLevelError

NAME = ".journal.sqlite"


class Journal:
    """Results by key; nothing of them is kept in memory.

    Parameters
    ----------
    folder : Path
        Of the results; the journal is a hidden file in it.

    Raises
    ------
    AudioLevelError
        Another run is at work in the folder, or the journal cannot be read or written.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / NAME

    def __enter__(self) -> "Journal":
        try:
            # no time-out: a second run is told at once and does not wait for hours
            self._file = sqlite3.connect(self._path, timeout=0, isolation_level=None)
        except sqlite3.Error as error:
            raise self._unusable(error) from error
        try:
            # from the first write on nobody else reads or writes, until the connection is closed
            self._file.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._file.execute("BEGIN EXCLUSIVE")
            self._file.execute(
                "CREATE TABLE IF NOT EXISTS results (key TEXT PRIMARY KEY, result TEXT NOT NULL)"
            )
            self._file.execute("COMMIT")
        except sqlite3.Error as error:
            self._file.close()
            raise self._unusable(error) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()

    def __contains__(self, key: str) -> bool:
        return self._row(key) is not None

    def _row(self, key: str) -> tuple[str] | None:
        try:
            found = self._file.execute("SELECT result FROM results WHERE key = ?", (key,))
            row: tuple[str] | None = found.fetchone()
        except sqlite3.Error as error:
            raise self._unusable(error) from error
        return row

    def add(self, key: str, result: dict[str, Any]) -> None:
        """Keep a result, ready for JSON; it is on the disk when this returns.

        Raises
        ------
        AudioLevelError
            There is no room for it; what was kept before is still there.
        """
        text = json.dumps(result, allow_nan=False)
        try:
            # of two results with one key the later holds
            self._file.execute("INSERT OR REPLACE INTO results VALUES (?, ?)", (key, text))
        except sqlite3.Error as error:
            raise self._unusable(error) from error

    def result(self, key: str) -> dict[str, Any]:
        """The result kept under a key.

        Raises
        ------
        KeyError
            There is none.
        """
        row = self._row(key)
        if row is None:
            raise KeyError(key)
        result: dict[str, Any] = json.loads(row[0])
        return result

    def results(self, keys: list[str]) -> Iterator[dict[str, Any]]:
        """The results of these keys that are there, one at a time."""
        for key in keys:
            row = self._row(key)
            if row is not None:
                yield json.loads(row[0])

    def _unusable(self, error: sqlite3.Error) -> AudioLevelError:
        name = getattr(error, "sqlite_errorname", "")
        if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            return AudioLevelError(
                f"{self._path.parent}: another batch is at work there; wait for it or choose "
                "another folder"
            )
        if name.startswith(("SQLITE_NOTADB", "SQLITE_CORRUPT", "SQLITE_ERROR")):
            return AudioLevelError(
                f"{self._path}: is damaged ({error}); remove it to measure everything again"
            )
        return AudioLevelError(
            f"{self._path}: cannot be written ({error}); make room or choose another folder"
        )
