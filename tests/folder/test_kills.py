"""A site's folder whose program is killed, runs twice, or has no room: it tells the truth."""

import json
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

import audiolevel as al
from audiolevel.folder.state import read_origin
from tests.folder.layouts import sound

NAME = "20260303_093000.wav"


def _start(folder: Path) -> "subprocess.Popen[bytes]":
    words = [sys.executable, "-m", "audiolevel", "plan", str(folder), "--page", "none", "--quiet"]
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)


def _ended(running: "subprocess.Popen[bytes]") -> tuple[int, str]:
    """Exit status, and what it said."""
    _, said = running.communicate()
    return running.returncode, said.decode()


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a plan of its own, made in peace."""
    folder = tmp_path_factory.mktemp("reference")
    sound(folder / "visits" / NAME, 60, seed=3)
    (folder / "site.toml").write_text("[limits]\nfalse_triggers_per_day = 300\n")
    assert _ended(_start(folder)) == (0, "")
    return folder


def _copy(reference: Path, folder: Path) -> None:
    """The site without what was made of it."""
    folder.mkdir()
    shutil.copytree(reference / "visits", folder / "visits")
    shutil.copy(reference / "site.toml", folder)


def _tells_the_truth(folder: Path) -> None:
    site = al.open_site(folder)
    assert site.document()
    plan = folder / "plan" / "plan.json"
    if plan.exists():
        # whole, or not there
        assert json.loads(plan.read_text(encoding="utf-8"))["schema"]
    if read_origin(folder) is not None:
        assert plan.exists()
        assert site.changed() == []


# 67 folders, killed three times each: 201 kills
@pytest.mark.parametrize("folders", [1, pytest.param(67, marks=pytest.mark.slow)])
def test_killed_at_any_moment_the_folder_opens_and_tells_the_truth(
    folders: int, reference: Path, tmp_path: Path
) -> None:
    whole = (reference / "plan" / "plan.json").read_bytes()
    rng = random.Random(5)
    begun = time.monotonic()
    assert _ended(_start(reference)) == (0, "")
    took_s = time.monotonic() - begun
    for number in range(folders):
        folder = tmp_path / f"{number}"
        _copy(reference, folder)
        # three times on end, the second and third upon what the one before left
        for _ in range(3):
            running = _start(folder)
            time.sleep(rng.uniform(0, 1.1 * took_s))
            running.send_signal(signal.SIGKILL)
            _ended(running)
            _tells_the_truth(folder)
        assert _ended(_start(folder)) == (0, "")
        assert (folder / "plan" / "plan.json").read_bytes() == whole
        _tells_the_truth(folder)
        shutil.rmtree(folder)


def test_two_at_once_end_as_one(reference: Path, tmp_path: Path) -> None:
    folder = tmp_path / "both"
    _copy(reference, folder)
    ended = [_ended(one) for one in (_start(folder), _start(folder))]
    # one may find a report that the other is writing, and says so in one line
    assert 0 in [status for status, _ in ended]
    assert all(status == 0 or len(said.splitlines()) == 1 for status, said in ended)
    _tells_the_truth(folder)
    assert _ended(_start(folder)) == (0, "")
    whole = (reference / "plan" / "plan.json").read_bytes()
    assert (folder / "plan" / "plan.json").read_bytes() == whole
    # no draft is left
    assert not [one for one in (folder / ".measured").iterdir() if one.suffix == ".part"]


def test_where_the_plan_cannot_be_written_nothing_half_is_left(
    reference: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "full"
    shutil.copytree(reference, folder)
    before = (folder / "plan" / "plan.json").read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    # written beside and then replaced: the replacing is the last thing that can fail
    monkeypatch.setattr("audiolevel.ground.files.os.replace", full)
    site = al.open_site(folder)
    with pytest.raises(al.AudioLevelError, match="No space left"):
        site.save_plan(site.plan(limit_per_day=5), page=False)
    monkeypatch.undo()
    assert (folder / "plan" / "plan.json").read_bytes() == before
    _tells_the_truth(folder)
