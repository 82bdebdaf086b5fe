"""Files written beside their name, so that nobody ever finds half of one."""

import os
import tempfile
from pathlib import Path
from types import TracebackType
from typing import TextIO

from audiolevel.errors import AudioLevelError


class AtomicFile:
    """Write a text file beside its name, and give it the name only when it is complete.

    Parameters
    ----------
    path : path

    Raises
    ------
    AudioLevelError
        The folder does not exist or may not be written.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)

    def __enter__(self) -> TextIO:
        try:
            handle, name = tempfile.mkstemp(dir=self.path.parent, prefix=f".{self.path.name}.")
        except OSError as error:
            raise AudioLevelError(
                f"{self.path}: cannot be written ({error.strerror}); choose another place"
            ) from error
        self._draft = Path(name)
        self._file = os.fdopen(handle, "w", encoding="utf-8", newline="")
        return self._file

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()
        if kind is not None:
            self._draft.unlink(missing_ok=True)
            return
        keep_mode(self._draft)
        os.replace(self._draft, self.path)


def keep_mode(draft: Path) -> None:
    """Give a draft the permissions that an ordinary new file would have (`mkstemp` gives 0600)."""
    mask = os.umask(0)
    os.umask(mask)
    draft.chmod(0o666 & ~mask)


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Write a whole text file, all of it or nothing."""
    with AtomicFile(path) as file:
        file.write(text)
