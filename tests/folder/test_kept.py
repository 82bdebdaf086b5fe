"""Measurements that are kept: the same answer, and never one of another sound."""

import os
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import audiolevel as al
from audiolevel.folder.kept import _DIGEST, _DIGEST_BYTES
from audiolevel.metering import measurement as metering
from tests.folder.layouts import sound

NAME = "20260303_093000.wav"


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every recording that was measured, and not taken from what is kept."""
    names: list[str] = []
    measure = metering.measure

    def counted(visit: al.Visit, **options: Any) -> Any:
        names.append(Path(visit.name).name)
        return measure(visit, **options)

    monkeypatch.setattr(metering, "measure", counted)
    return names


@pytest.fixture
def site(tmp_path: Path) -> Path:
    sound(tmp_path / "visits" / NAME, seed=1)
    return tmp_path


def _answer(folder: Path) -> str:
    return al.open_site(folder).plan().to_json()


def _kept(folder: Path) -> list[Path]:
    return sorted((folder / ".measured").iterdir())


def test_a_second_plan_measures_nothing_and_says_the_same(site: Path, heard: list[str]) -> None:
    first = _answer(site)
    assert heard == [NAME]
    assert _answer(site) == first
    assert heard == [NAME]
    # deleted, it is measured again
    for path in _kept(site):
        path.unlink()
    assert _answer(site) == first
    assert heard == [NAME, NAME]


def test_another_limit_or_wish_measures_nothing(site: Path, heard: list[str]) -> None:
    (site / "site.toml").write_text("[microphone]\nspl_at_full_scale_db = 110\n")
    al.open_site(site).plan()
    (site / "site.toml").write_text(
        "[microphone]\nspl_at_full_scale_db = 110\n[limits]\nfalse_triggers_per_day = 3\n"
        '[[wanted]]\nsound = "shout"\ndistance_m = 4\n[schedule]\nactive = ["20:00-06:00"]\n'
    )
    assert al.open_site(site).plan(limit_per_day=7).limit_per_day == 7
    assert heard == [NAME]


def test_an_edit_of_any_file_is_never_missed(site: Path, heard: list[str]) -> None:
    path = site / "visits" / NAME
    al.open_site(site).plan()
    before = path.stat()
    data = bytearray(path.read_bytes())
    # a single sample, the same length, and the same times of the file
    data[-2] ^= 0x40
    path.write_bytes(data)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    al.open_site(site).plan()
    assert heard == [NAME, NAME]
    (site / "site.toml").write_text("[gain]\nrecorded_at = 2\nsteps = [[1, -9], [2, 0]]\n")
    al.open_site(site).plan()
    assert len(heard) == 3
    # marks are no part of measuring, and are taken as they are now
    (site / "visits" / f"{path.stem}.marks.csv").write_text("start_s,end_s,sound\n4,5,horn\n")
    ((mark,),) = al.open_site(site).plan().base.survey.marks
    assert mark.sound == "horn"
    assert len(heard) == 3


@pytest.mark.parametrize("damage", ["cut", "flipped", "empty", "other", "folder"])
def test_what_is_kept_and_not_whole_is_measured_again(
    damage: str, site: Path, heard: list[str]
) -> None:
    first = _answer(site)
    (path,) = _kept(site)
    data = path.read_bytes()
    path.unlink()
    if damage == "folder":
        path.mkdir()
    else:
        flipped = data[:5000] + bytes([data[5000] ^ 1]) + data[5001:]
        other = pickle.dumps({"a": 1})
        other = _DIGEST(other, digest_size=_DIGEST_BYTES).digest() + other
        path.write_bytes(
            {"cut": data[:-9], "flipped": flipped, "empty": b"", "other": other}[damage]
        )
    assert _answer(site) == first
    assert heard == [NAME, NAME]


class _Evil:
    def __init__(self, touched: Path) -> None:
        self.touched = touched

    def __reduce__(self) -> tuple[Any, ...]:
        return os.mkdir, (str(self.touched),)


def test_a_file_of_somebody_else_makes_nothing_happen(
    site: Path, tmp_path: Path, heard: list[str]
) -> None:
    first = _answer(site)
    (path,) = _kept(site)
    value = pickle.dumps(_Evil(tmp_path / "touched"))
    path.write_bytes(_DIGEST(value, digest_size=_DIGEST_BYTES).digest() + value)
    assert _answer(site) == first
    assert not (tmp_path / "touched").exists()
    assert len(heard) == 2


def test_where_nothing_can_be_kept_the_plan_is_made(
    site: Path, heard: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    assert _answer(site) == _answer(site)
    assert heard == [NAME, NAME]


def test_a_second_review_hears_nothing_and_says_the_same(site: Path, heard: list[str]) -> None:
    def review(folder: Path) -> str:
        visits = al.open_site(folder).visits
        return al.review_privacy(visits, site=folder / "site.toml", date="2026-03-03").to_json()

    (site / "site.toml").write_text("[microphone]\nspl_at_full_scale_db = 110\n")
    al.open_site(site).plan()
    first = review(site)
    # levels alone do not tell who talks: once more for the review
    assert heard == [NAME, NAME]
    assert review(site) == first
    assert heard == [NAME, NAME]
    # each of what is kept by itself, damaged or gone, and what an edit makes of it
    for path in _kept(site):
        path.write_bytes(path.read_bytes()[:-1])
        assert review(site) == first
    path = site / "visits" / NAME
    data = bytearray(path.read_bytes())
    data[-2] ^= 0x40
    path.write_bytes(data)
    heard.clear()
    review(site)
    assert heard == [NAME]


def test_what_is_kept_holds_levels_and_no_sound(site: Path) -> None:
    opened = al.open_site(site)
    opened.plan()
    al.review_privacy(opened.visits)
    data = b"".join(path.read_bytes() for path in _kept(site))
    with al.open_site(site).visits[0].files[0].open("rb") as file:
        samples = np.frombuffer(file.read()[44:], dtype="<i2")
    # no run of 50 ms of the samples stands in it
    for begin in range(0, len(samples) - 400, 4000):
        assert samples[begin : begin + 400].tobytes() not in data
