"""The journal of a batch: results that outlive any stop.

One line of JSON a result, appended before the next is begun. A run that is killed leaves at most
one broken line at the end, which is passed over. A lock on the file keeps a second run out;
the system lets go of it when the process ends, however it ends.

Entry point: `Journal`.
"""

import fcntl
import json
import os
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Any

from audiolevel.errors import AudioLevelError

NAME = ".journal.jsonl"


class Journal:
    """Results by key; what is kept in memory is where each line begins.

    Parameters
    ----------
    folder : Path
        Of the results; the journal is a hidden file in it.

    Raises
    ------
    AudioLevelError
        Another run is at work in the folder.
    """

    def __init__(self, folder: Path) -> None:
        self._path = folder / NAME
        self._where: dict[str, tuple[int, int]] = {}

    def __enter__(self) -> "Journal":
        self._file = os.open(self._path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o644)
        try:
            # LOCK_NB: a second run is told at once and does not wait for hours
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(self._file)
            raise AudioLevelError(
                f"{self._path.parent}: another batch is at work there; wait for it or choose "
                "another folder"
            ) from error
        self._load()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        os.close(self._file)

    def _load(self) -> None:
        at = 0
        with self._path.open("rb") as file:
            for line in file:
                if line.endswith(b"\n"):
                    key = self._key(line)
                    if key is not None:
                        # of two lines with one key the later holds
                        self._where[key] = (at, len(line))
                at += len(line)
        # a line broken off by a stop must not run on into the next result
        if at and not self._ends_with_newline(at):
            os.write(self._file, b"\n")

    def _ends_with_newline(self, size: int) -> bool:
        return os.pread(self._file, 1, size - 1) == b"\n"

    @staticmethod
    def _key(line: bytes) -> str | None:
        try:
            return str(json.loads(line)["key"])
        except (ValueError, KeyError, TypeError):
            return None

    def __contains__(self, key: str) -> bool:
        return key in self._where

    def add(self, key: str, result: dict[str, Any]) -> None:
        """Keep a result, ready for JSON; it is on its way to the disk when this returns."""
        line = json.dumps({"key": key, "result": result}, allow_nan=False).encode() + b"\n"
        at = os.lseek(self._file, 0, os.SEEK_END)
        written = os.write(self._file, line)
        # the system may take less than it is given, as on a disk that is nearly full
        while written < len(line):
            written += os.write(self._file, line[written:])
        self._where[key] = (at, len(line))

    def result(self, key: str) -> dict[str, Any]:
        """The result kept under a key.

        Raises
        ------
        KeyError
            There is none.
        """
        at, length = self._where[key]
        result: dict[str, Any] = json.loads(os.pread(self._file, length, at))["result"]
        return result

    def results(self, keys: list[str]) -> Iterator[dict[str, Any]]:
        """The results of these keys that are there, one at a time."""
        for key in keys:
            if key in self._where:
                yield self.result(key)
