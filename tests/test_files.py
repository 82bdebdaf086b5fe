"""Files are written whole or not at all, with the permissions of an ordinary new file."""

import os
import stat
from pathlib import Path

import pytest

from audiolevel.errors import AudioLevelError
from audiolevel.files import AtomicFile, write_text


def _write_half(path: Path) -> None:
    with AtomicFile(path) as file:
        file.write("half")
        raise RuntimeError


def test_a_file_that_fails_half_way_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "before")
    with pytest.raises(RuntimeError):
        _write_half(path)
    assert path.read_text(encoding="utf-8") == "before"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_permissions_follow_the_mask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_text(tmp_path / "a.txt", "text")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o640


def test_no_folder_is_said_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(AudioLevelError, match=r"cannot be written .*; choose another place"):
        write_text(tmp_path / "none" / "a.txt", "text")
