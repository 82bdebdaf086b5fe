"""Stretches of the recording that are wanted sounds."""

from pathlib import Path

import numpy as np
import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.metering.annotations import Mark, hidden, inside, read_marks
from audiolevel.metering.decibels import centibels
from audiolevel.metering.parts import Part


def test_marks_are_read_and_more_columns_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "m.csv"
    path.write_text("start_s,end_s,sound,note\n1.5,2,horn,x\n3,4, glass ,\n")
    assert read_marks(path) == (Mark(1.5, 2.0, "horn"), Mark(3.0, 4.0, "glass"))


def test_labels_are_read_and_a_row_without_one_is_a_wanted_sound(tmp_path: Path) -> None:
    path = tmp_path / "m.csv"
    path.write_text("start_s,end_s,sound,label\n1,2,horn,wanted\n3,4,,False\n5,6,,unsure\n7,8,a,\n")
    read = read_marks(path)
    assert [mark.label for mark in read] == ["wanted", "false", "unsure", "wanted"]
    assert [mark.sound for mark in read if mark.wanted] == ["horn", "a"]


@pytest.mark.parametrize(
    ("text", "match"),
    [
        (
            "start_s,sound\n1,horn\n",
            "no columns of start, end and sound",
        ),
        (
            "start_s,end_s,sound\n2,1,horn\n",
            "'2,1,horn': start and end must be seconds",
        ),
        ("start_s,end_s,sound\nsoon,1,horn\n", "'soon,1,horn': start"),
        (
            "start_s,end_s,sound,label\n1,2,horn,maybe\n",
            "'1,2,horn,maybe': label must be one of wanted, false, unsure",
        ),
    ],
)
def test_what_are_no_marks_is_refused(tmp_path: Path, text: str, match: str) -> None:
    path = tmp_path / "m.csv"
    path.write_text(text)
    with pytest.raises(SettingError, match=match):
        read_marks(path)
    with pytest.raises(SettingError, match="cannot be read"):
        read_marks(tmp_path / "none.csv")


@pytest.mark.parametrize(
    "text",
    [
        "start_s;end_s;sound\n1,5;2;horn\n",
        "start_s\tend_s\tsound\n1.5\t2\thorn\n",
        "1.5,2,horn\n",
        "1.500000\t2.000000\thorn\n",
        "Begin,End,Event\n0:01.5,0:02,horn\n",
        "Marks of the visit\nNr;Anfang;Ende;Ereignis\n7;1,5;2;horn\n",
        "heard,until when,what\n1.5,2,horn\n",
    ],
)
def test_marks_are_read_as_other_programs_write_them(tmp_path: Path, text: str) -> None:
    """Tab-parted labels without a header are what audio editors commonly export."""
    path = tmp_path / "m.csv"
    path.write_text(text)
    assert read_marks(path) == (Mark(1.5, 2.0, "horn"),)


def test_rows_of_a_mark_reach_from_just_before_to_where_the_level_has_fallen() -> None:
    mark = Mark(2.0, 3.0, "horn")
    assert mark.rows(1000) == slice(190, 350)
    assert mark.length_s == pytest.approx(1.6)
    assert mark.rows(300) == slice(190, 300)
    assert mark.rows(100) == slice(100, 100)
    rows = np.array([189, 190, 349, 350])
    assert inside(rows, [mark], 1000).tolist() == [False, True, True, False]


def test_a_hidden_mark_leaves_the_level_before_it() -> None:
    level = centibels(np.full(1000, -50.0))
    level[200:300] = -1000
    quiet = hidden(level, [Mark(2.0, 3.0, "horn")])
    assert set(quiet.tolist()) == {-5000}
    assert level[250] == -1000
    assert hidden(level, []) is level


def test_a_mark_takes_every_row_of_a_coarse_log_that_it_touches() -> None:
    # 2.6 to 3.1 s with 0.1 s before and 0.5 s after: 2.5 to 3.6 s
    mark = Mark(2.6, 3.1, "horn")
    assert mark.rows(10, 1.0) == slice(2, 4)
    assert mark.rows(100, 0.125) == slice(20, 29)
    assert inside(np.arange(5), [mark], 10, 1.0).tolist() == [False, False, True, True, False]


def test_a_mark_in_a_part_counts_from_its_beginning() -> None:
    mark = Mark(60.0, 62.0, "horn")
    assert mark.within(Part(50.0, 70.0)) == Mark(10.0, 12.0, "horn")
    assert mark.within(Part(61.0)) == Mark(-1.0, 1.0, "horn")
    assert mark.within(Part(61.0)).rows(1000) == slice(0, 150)
    assert mark.within(Part(62.0)) is None
    assert mark.within(Part(None, 60.0)) is None
