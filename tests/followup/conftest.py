"""A log of the text that a test gives."""

from pathlib import Path
from typing import Any

import pytest

from audiolevel.followup.event_log import Log, LogFormat, read_log


@pytest.fixture
def read(tmp_path: Path) -> Any:
    def _read(text: str, **options: Any) -> Log:
        path = tmp_path / "log.csv"
        path.write_text(text, encoding="utf-8")
        return read_log(path, LogFormat(**options))

    return _read
