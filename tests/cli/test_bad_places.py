"""A full disk and a folder that may not be written: the old state is left, one line says why."""

import shutil
import subprocess
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
import soundfile as sf

from tests.batch.made_folder import RATE, bytes_in, wave_of
from tests.cli.commands import run

Mount = Callable[..., Path]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Mount]:
    """Makes a file system of a size; it can be made larger, and read only."""
    where = tmp_path / "disk"
    where.mkdir()

    def mount(*options: str) -> Path:
        words = ["mount", "-t", "tmpfs", "-o", ",".join(options), "tmpfs", str(where)]
        if shutil.which("mount") is None or subprocess.run(words, capture_output=True).returncode:
            pytest.skip("no file system can be mounted here")
        return where

    yield mount
    subprocess.run(["umount", str(where)], capture_output=True, check=False)


def state(folder: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("places") / "a.wav"
    sf.write(where, wave_of(30, 1), RATE)
    return where


@pytest.mark.parametrize(
    "words",
    [
        ["measure", "{wav}", "--history", "{disk}/h.csv", "--force"],
        ["measure", "{wav}", "--out", "{disk}", "--force"],
        ["plan", "{wav}", "--json", "{disk}/p.json", "--force"],
        ["trial", "{wav}", "--level", "-30", "--json", "{disk}/t.json", "--force"],
        ["sounds", "--render", "breaking glass", "{disk}/g.wav"],
    ],
    ids=lambda words: " ".join(words[:3]),
)
def test_a_full_disk_leaves_the_old_files(
    recording: Path, small_disk: Mount, words: list[str]
) -> None:
    disk = small_disk("size=40k")
    for name in ("h.csv", "p.json", "t.json", "measure.json", "measure.txt"):
        (disk / name).write_text("before")
    with suppress(OSError), (disk / "filling").open("wb", buffering=0) as file:
        while True:
            file.write(b"x" * 512)
    before = state(disk)
    done = run(*(word.format(wav=recording, disk=disk) for word in words))
    assert done.exit_code == 1
    assert "cannot be written" in done.stderr
    assert done.stderr.count("\n") == 1
    assert state(disk) == before


def test_a_batch_on_a_full_disk_goes_on_when_there_is_room(
    tmp_path: Path, small_disk: Mount
) -> None:
    folder = tmp_path / "f"
    folder.mkdir()
    for i in range(8):
        sf.write(folder / f"r{i}.wav", wave_of(3, i), RATE)
    assert run("batch", folder, "--out", tmp_path / "plain", "--jobs", 1).exit_code == 0
    disk = small_disk("size=28k")
    stopped = run("batch", folder, "--out", disk, "--jobs", 1)
    assert stopped.exit_code == 1
    assert "make room" in stopped.stderr or "cannot be written" in stopped.stderr
    assert stopped.stderr.count("\n") == 1
    assert not list(disk.glob(".*.part"))
    small_disk("remount", "size=2m")
    done = run("batch", folder, "--out", disk, "--jobs", 1)
    assert done.exit_code == 0
    assert "8 measured (8 now)" not in done.stdout  # what was kept was not done again
    assert bytes_in(disk) == bytes_in(tmp_path / "plain")


@pytest.mark.parametrize(
    "words",
    [
        ["measure", "{wav}", "--json", "{disk}/m.json", "--force"],
        ["measure", "{wav}", "--out", "{disk}/new"],
        ["plan", "{wav}", "--out", "{disk}", "--force"],
        ["batch", "{folder}", "--out", "{disk}", "--jobs", "1"],
        ["calibrate", "--sensitivity-dbfs", "-26", "--write", "{disk}/s.toml"],
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_a_folder_that_may_not_be_written_is_told(
    recording: Path, small_disk: Mount, words: list[str]
) -> None:
    disk = small_disk("size=100k")
    (disk / "m.json").write_text("before")
    small_disk("remount", "ro")
    before = state(disk)
    named = {"wav": recording, "disk": disk, "folder": recording.parent}
    done = run(*(word.format(**named) for word in words))
    assert done.exit_code == 1
    assert str(disk) in done.stderr
    assert done.stderr.count("\n") == 1, done.stderr
    assert state(disk) == before
