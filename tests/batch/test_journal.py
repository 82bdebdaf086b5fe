"""The journal: results that outlive a stop, one run at a time, an end in one line."""

import subprocess
import sys
from pathlib import Path

import pytest

from audiolevel.batch.journal import NAME, Journal
from audiolevel.ground.errors import AudioLevelError


def test_results_are_there_again_and_the_later_one_holds(tmp_path: Path) -> None:
    with Journal(tmp_path) as journal:
        journal.add("a", {"x": 1})
        journal.add("b", {"x": 2})
        journal.add("a", {"x": 3})
    with Journal(tmp_path) as journal:
        assert "a" in journal
        assert "c" not in journal
        assert journal.result("a") == {"x": 3}
        assert list(journal.results(["b", "c", "a"])) == [{"x": 2}, {"x": 3}]
        with pytest.raises(KeyError):
            journal.result("c")


def test_a_second_run_is_refused_from_this_process_and_another(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from audiolevel.batch.journal import Journal\n"
        "try: Journal(Path(sys.argv[1])).__enter__()\n"
        "except ValueError as error: print(error)"
    )
    with Journal(tmp_path) as journal:
        journal.add("a", {"x": 1})
        with pytest.raises(AudioLevelError, match="another batch is at work there"):
            Journal(tmp_path).__enter__()
        other = subprocess.run(
            [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True
        )
        assert "another batch is at work there" in other.stdout
        assert journal.result("a") == {"x": 1}


def test_what_was_kept_is_there_after_a_kill(tmp_path: Path) -> None:
    code = (
        "import os, signal, sys; from pathlib import Path\n"
        "from audiolevel.batch.journal import Journal\n"
        "with Journal(Path(sys.argv[1])) as journal:\n"
        "    for key in range(5): journal.add(str(key), {'x': key})\n"
        "    os.kill(os.getpid(), signal.SIGKILL)"
    )
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
    with Journal(tmp_path) as journal:
        assert [one["x"] for one in journal.results(list("012345"))] == [0, 1, 2, 3, 4]


def test_what_is_no_journal_is_said_in_one_line(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(b"no database at all" * 100)
    with pytest.raises(AudioLevelError, match=r"is damaged .*; remove it to measure"):
        Journal(tmp_path).__enter__()
    with pytest.raises(AudioLevelError, match=r"cannot be written .*; make room"):
        Journal(tmp_path / "none").__enter__()


def test_no_room_keeps_what_was_there(tmp_path: Path) -> None:
    code = (
        "import resource, sys; from pathlib import Path\n"
        "from audiolevel.batch.journal import Journal\n"
        "from audiolevel.ground.errors import AudioLevelError\n"
        "with Journal(Path(sys.argv[1])) as journal:\n"
        "    journal.add('a', {'x': 1})\n"
        "    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))\n"
        "    try: journal.add('b', {'x': 'long' * 50_000})\n"
        "    except AudioLevelError as error: print(error)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert "make room or choose another folder" in run.stdout
    with Journal(tmp_path) as journal:
        assert journal.result("a") == {"x": 1}
        assert "b" not in journal
