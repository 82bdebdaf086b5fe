"""What is taken from a folder as recorders leave it: layouts tried, and what each must give."""

import os
import shutil
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

import audiolevel as al
from audiolevel.folder import visits as found
from audiolevel.ground.errors import SettingError
from audiolevel.metering.measurement import measure
from tests.folder.layouts import sound

Layout = Callable[[Path], object]


def _times(visits: Path) -> None:
    sound(visits / "street_20260303_093000.wav", seed=1)
    sound(visits / "street_20260305_170000.wav", seed=2)


def _days(visits: Path) -> None:
    sound(visits / "2026-03-03" / "09-30-00.wav", seed=1)
    sound(visits / "2026-03-05" / "17-00-00.wav", seed=2)


def _split(visits: Path) -> None:
    for i in range(3):
        sound(visits / f"rec_20260303_0930{20 * i:02d}.wav", seed=i)


def _split_with_a_gap(visits: Path) -> None:
    sound(visits / "rec_20260303_093000.wav", seed=1)
    sound(visits / "rec_20260303_093100.wav", seed=2)


def _split_over_midnight(visits: Path) -> None:
    sound(visits / "2026-03-03" / "20260303_235950.wav", 10, seed=1)
    sound(visits / "2026-03-04" / "20260304_000000.wav", 10, seed=2)


def _counters(visits: Path) -> None:
    sound(visits / "R0001.wav", seed=1)
    sound(visits / "R0002.wav", seed=2)


def _summer_time_s_end(visits: Path) -> None:
    # the hour from two to three comes twice: by its names the second is before the first's end
    sound(visits / "a_20261025_023000.wav", seed=1)
    sound(visits / "b_20261025_023010.wav", seed=2)


def _two_on_a_day(visits: Path) -> None:
    sound(visits / "20260303_093000.wav", seed=1)
    sound(visits / "20260303_170000.wav", seed=2)


def _stray(visits: Path) -> None:
    sound(visits / "20260303_093000.wav", seed=1)
    (visits / "notes.txt").write_text("the gate was open\n")
    (visits / "gate.jpg").write_bytes(b"\xff\xd8\xff")
    (visits / ".hidden.wav").write_bytes(b"")


def _broken(visits: Path) -> None:
    sound(visits / "20260303_093000.wav", seed=1)
    (visits / "20260304_093000.wav").write_bytes(b"RIFF\x00\x00\x00\x00WAVE")


def _twice(visits: Path) -> None:
    first = sound(visits / "20260303_093000.wav", seed=1)
    shutil.copy(first, visits / "copy.wav")


def _history(visits: Path) -> None:
    sound(visits / "20260303_093000.wav", seed=1)
    rows = (f"{0.125 * (k + 1):.3f},{-50 + k % 20}" for k in range(400))
    (visits / "log.csv").write_text("time_s,laf_db\n" + "\n".join(rows) + "\n")


@pytest.mark.parametrize(
    ("layout", "files", "left_out"),
    [
        (_times, [1, 1], []),
        (_days, [1, 1], []),
        (_split, [3], []),
        (_split_with_a_gap, [1, 1], []),
        (_split_over_midnight, [1, 1], []),
        (_counters, [1, 1], []),
        (_summer_time_s_end, [1, 1], []),
        (_two_on_a_day, [1, 1], []),
        (_stray, [1], ["gate.jpg: is neither a sound", "notes.txt: is no level history"]),
        (_broken, [1], ["20260304_093000.wav: is not a sound file"]),
        (_twice, [1], ["copy.wav: holds the same as 20260303_093000.wav"]),
        (_history, [1, 1], []),
    ],
)
def test_a_recorder_s_folder(
    layout: Layout, files: list[int], left_out: list[str], tmp_path: Path
) -> None:
    layout(tmp_path / "visits")
    site = al.open_site(tmp_path)
    assert [len(visit.files) for visit in site.visits] == files
    told = [f"{name}: {why}" for name, why in site.left_out]
    assert len(told) == len(left_out)
    for said, begins in zip(told, left_out, strict=True):
        assert said.startswith(begins)
    # a visit of three files of 20 s is 60 s long
    lengths = [measure(visit).duration_s for visit in site.visits]
    assert min(lengths) >= 10
    if layout is _split:
        assert lengths == [60.0]


@pytest.mark.always
def test_visits_are_in_the_order_of_their_starts(tmp_path: Path) -> None:
    _days(tmp_path / "visits")
    starts = [measure(visit).start for visit in al.open_site(tmp_path).visits]
    assert starts == [datetime(2026, 3, 3, 9, 30), datetime(2026, 3, 5, 17, 0)]


def test_a_recording_s_name_says_when_it_began(tmp_path: Path) -> None:
    sound(tmp_path / "visits" / "20260303_093000.wav")
    (visit,) = al.open_site(tmp_path).visits
    assert measure(visit).start == datetime(2026, 3, 3, 9, 30)


def test_a_recording_that_grows_is_left_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = sound(tmp_path / "visits" / "20260303_093000.wav")

    def written_to(_: float) -> None:
        with path.open("ab") as file:
            file.write(b"more")

    monkeypatch.setattr(time, "sleep", written_to)
    site = al.open_site(tmp_path)
    assert site.left_out == (("20260303_093000.wav", "is still being written"),)
    # an hour old: nobody looks twice
    os.utime(path, (time.time() - 3600,) * 2)
    assert len(al.open_site(tmp_path).visits) == 1


def test_the_site_file_says_what_a_recording_does_not(tmp_path: Path) -> None:
    for number in (1, 2):
        sound(tmp_path / "visits" / f"R{number}.wav", seed=number)
    (tmp_path / "visits" / "R1.marks.csv").write_text("start_s,end_s,sound\n8,9,horn\n")
    (tmp_path / "site.toml").write_text(
        '[[visit]]\nrecording = "R1.wav"\nstart = 2026-03-03T09:30:00\nweather = "wet"\n'
        "from = 4\nto = 12\nchannel = 1\n"
    )
    first, second = al.open_site(tmp_path).visits
    assert (first.start, first.wet, first.channel) == (datetime(2026, 3, 3, 9, 30), True, 1)
    measured = measure(first)
    assert measured.duration_s == 8.0
    # 8 s of the whole are 4 s of the part
    assert [(one.start_s, one.sound) for one in measured.marks] == [(4.0, "horn")]
    assert (second.start, second.wet) == (None, None)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[visit]]\nrecording = "R9.wav"\n', "no recording of that name"),
        ('[[visit]]\nrecording = "R1.wav"\nweather = "rainy"\n', "must be dry or wet"),
        ('[[visit]]\nrecording = "R1.wav"\nstart = "noon"\n', "must be a date and time"),
        ('[[visit]]\nrecording = "R1.wav"\nchannel = 0\n', "a whole number from 1"),
        ('[[visit]]\nrecording = "R1.wav"\nfrom = 9\nto = 4\n', "R1.wav"),
        ("[[visit]]\nweather = 'wet'\n", "needs recording"),
        ('[[visit]]\nrecording = "R1.wav"\nform = 4\n', "did you mean from?"),
    ],
)
def test_what_a_visit_cannot_be_is_one_line(text: str, said: str, tmp_path: Path) -> None:
    sound(tmp_path / "visits" / "R1.wav")
    (tmp_path / "site.toml").write_text(text)
    with pytest.raises(SettingError, match=said) as told:
        _ = al.open_site(tmp_path).visits
    assert "\n" not in str(told.value)


def test_a_folder_without_a_site_is_told_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(SettingError, match="audiolevel new"):
        al.open_site(tmp_path)
    assert found.VISITS == "visits"
