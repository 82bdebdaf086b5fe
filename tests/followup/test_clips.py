"""Clips of a camera that keeps no log."""

from pathlib import Path

import pytest

from audiolevel.followup.clips import clips_in
from audiolevel.ground.errors import SettingError
from tests.batch.made_folder import keep_out


def test_clips_are_those_of_a_folder_and_what_is_in_it(tmp_path: Path) -> None:
    for name in ("b/2.mp4", "a/1.MP4", "a/1.jpg", "log.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    assert clips_in(tmp_path) == [["a/1.MP4"], ["b/2.mp4"]]
    (tmp_path / "b/2.mp4").unlink()
    (tmp_path / "a/1.MP4").unlink()
    assert clips_in(tmp_path) == [["a/1.jpg"]]
    (tmp_path / "a/1.jpg").unlink()
    with pytest.raises(SettingError, match="holds no clips"):
        clips_in(tmp_path)


def test_a_folder_that_cannot_be_looked_into_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its clips left out, the camera would seem to have fired less."""
    for name in ("a/1.mp4", "shut/2.mp4"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).touch()
    keep_out(monkeypatch, "shut")
    with pytest.raises(SettingError, match=r"shut: cannot be read \(Permission denied\), so its"):
        clips_in(tmp_path)
