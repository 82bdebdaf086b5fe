"""Files are written whole or not at all, and never over what must not be lost."""

import os
import stat
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import AudioLevelError
from audiolevel.ground.files import Run, draft_of, is_sound, text_file, write_text, writing


def _write_half(path: Path) -> None:
    with text_file(path, "") as file:
        file.write("half")
        raise RuntimeError


def test_a_file_that_fails_half_way_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "before", "before")
    with pytest.raises(RuntimeError):
        _write_half(path)
    assert path.read_text(encoding="utf-8") == "before"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_permissions_follow_the_mask(tmp_path: Path) -> None:
    old = os.umask(0o027)
    try:
        write_text(tmp_path / "a.txt", "text", "text")
    finally:
        os.umask(old)
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o640


def test_no_folder_is_said_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(AudioLevelError, match=r"cannot be written .*; choose another place"):
        write_text(tmp_path / "none" / "a.txt", "text", "")


def test_an_input_is_known_under_every_name(tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_text("1")
    (tmp_path / "soft").symlink_to("in.csv")
    os.link(tmp_path / "in.csv", tmp_path / "hard")
    (tmp_path / "sub").mkdir()
    run = Run([tmp_path / "in.csv"], force=True)
    for name in ("in.csv", "soft", "hard", "sub/../in.csv"):
        with pytest.raises(AudioLevelError, match="is read by this command"):
            run.check(tmp_path / name, "")
    # an input that is not there is told by its name
    with pytest.raises(AudioLevelError, match="is read by this command"):
        Run([tmp_path / "none"]).check(tmp_path / "sub" / ".." / "none", "")
    run.check(tmp_path / "other", "")


def test_only_what_carries_the_mark_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    write_text(path, "text\nmade by x\n", "made by x")
    write_text(path, "again\nmade by x\n", "made by x")
    with pytest.raises(AudioLevelError, match="--force replaces it"):
        write_text(path, "other\nmade by y\n", "made by y")
    with pytest.raises(AudioLevelError, match="--force replaces it"):
        write_text(path, "other", None)
    with writing(force=True) as run:
        write_text(path, "forced\nmade by y\n", "made by y")
    assert run.written == [path]
    assert path.read_text(encoding="utf-8").startswith("forced")
    (tmp_path / "empty").touch()
    write_text(tmp_path / "empty", "text", "mark")  # nothing is lost


def test_the_mark_of_a_long_file_may_stand_at_either_end(tmp_path: Path) -> None:
    for name, text in (("head", "mark" + "x" * 10**6), ("tail", "x" * 10**6 + "mark\n")):
        (tmp_path / name).write_text(text)
        Run().check(tmp_path / name, "mark")
    (tmp_path / "inside").write_text("x" * 10**6 + "mark" + "x" * 10**6)
    with pytest.raises(AudioLevelError, match="was not made by"):
        Run().check(tmp_path / "inside", "mark")


def test_no_sound_is_replaced_even_by_force(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.flac", np.zeros(800), 8000)
    # told by what it holds as well
    (tmp_path / "a.json").write_bytes((tmp_path / "a.flac").read_bytes())
    (tmp_path / "clip.bin").write_bytes(b"\0\0\0\x18ftypmp42")
    (tmp_path / "gone.mp4").write_text("no video at all")
    for name in ("a.flac", "a.json", "clip.bin", "gone.mp4"):
        assert is_sound(tmp_path / name)
        with pytest.raises(AudioLevelError, match="never replaced"):
            Run(force=True).check(tmp_path / name, "")


def test_a_link_is_followed_and_a_device_is_no_file(tmp_path: Path) -> None:
    write_text(tmp_path / "real.txt", "mark 1", "mark")
    (tmp_path / "link.txt").symlink_to("real.txt")
    write_text(tmp_path / "link.txt", "mark 2", "mark")
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "mark 2"
    with pytest.raises(AudioLevelError, match="no ordinary file"):
        write_text("/dev/null", "text", "")
    with pytest.raises(AudioLevelError, match="no ordinary file"):
        write_text(tmp_path, "text", "")


def test_what_a_killed_run_left_is_removed_by_the_next(tmp_path: Path) -> None:
    code = (
        "import os, signal, sys; from audiolevel.ground.files import text_file\n"
        "with text_file(sys.argv[1], '') as file:\n"
        "    file.write('half'); os.kill(os.getpid(), signal.SIGKILL)"
    )
    subprocess.run([sys.executable, "-c", code, str(tmp_path / "a.txt")], check=False)
    (left,) = tmp_path.iterdir()
    assert left.name.endswith(".part")
    with draft_of(tmp_path / "a.txt", "") as own:
        own.write_text("whole")
        assert not left.exists()
        write_text(tmp_path / "a.txt", "meanwhile", "")
        assert own.exists()  # a process that lives keeps its drafts
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]
    assert (tmp_path / "a.txt").read_text() == "whole"


LIMITED = (
    "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
    "from audiolevel.ground.files import write_text\n"
    "from audiolevel.ground.errors import AudioLevelError\n"
    "try: write_text(sys.argv[1], 'mark' + 'x' * int(sys.argv[2]), 'mark')\n"
    "except AudioLevelError as error: print(error)"
)


@pytest.mark.parametrize("size", [5000, 10**7])  # found when closed, and while writing
def test_no_room_keeps_the_old_file(tmp_path: Path, size: int) -> None:
    path = tmp_path / "a.txt"
    path.write_text("mark: before")
    run = subprocess.run(
        [sys.executable, "-c", LIMITED, str(path), str(size)], capture_output=True, text=True
    )
    assert run.stderr == ""
    assert "cannot be written (File too large); choose another place" in run.stdout
    assert path.read_text() == "mark: before"
    assert [one.name for one in tmp_path.iterdir()] == ["a.txt"]


def test_what_an_earlier_run_left_is_removed_and_nothing_else(tmp_path: Path) -> None:
    mark = "made by audiolevel batch"
    files = {"old.txt": f"x\n{mark}\n", "own.txt": "my notes", "empty.txt": ""}
    files |= {"new.txt": f"y\n{mark}\n", "read.txt": f"z\n{mark}\n"}
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    with writing([tmp_path / "read.txt"]) as run:
        write_text(tmp_path / "new.txt", files["new.txt"], mark)
        cleared = [name for name in (*files, "none.txt") if run.clear(tmp_path / name, mark)]
    assert cleared == ["old.txt"]
    assert {one.name for one in tmp_path.iterdir()} == set(files) - {"old.txt"}
