"""A journal that was broken off, and one that is in use."""

from pathlib import Path

import pytest

from audiolevel.batch.journal import Journal
from audiolevel.errors import AudioLevelError


def test_a_broken_line_is_passed_over_and_a_second_run_kept_out(tmp_path: Path) -> None:
    with Journal(tmp_path) as journal:
        journal.add("a", {"x": 1})
        journal.add("b", {"x": 2})
        with pytest.raises(AudioLevelError, match="another batch is at work there"):
            Journal(tmp_path).__enter__()
    path = tmp_path / ".journal.jsonl"
    path.write_bytes(path.read_bytes()[:-7])
    with Journal(tmp_path) as journal:
        assert "a" in journal
        assert "b" not in journal
        journal.add("c", {"x": 3})
    with Journal(tmp_path) as journal:
        assert journal.result("c") == {"x": 3}
