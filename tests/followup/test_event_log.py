"""Logs in the forms that cameras write them."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from audiolevel.followup.event_log import LogFormat, read_log
from audiolevel.ground.errors import SettingError
from audiolevel.report.followup.document import read_as
from audiolevel.report.words.cautions import notice_text
from tests.followup.log_times import TWO, codes, seconds


@pytest.mark.parametrize(
    ("text", "options"),
    [
        ("time\n2024-06-04T10:00:05\n2024-06-04T11:30:00\n", {}),
        ("2024-06-04 10:00:05\n2024-06-04 11:30\n", {}),
        ("nr;when;what\n1;2024-06-04T10:00:05;a\n2;2024-06-04T11:30;a\n", {}),
        ("date\ttime\n2024-06-04\t10:00:05\n2024-06-04\t11:30\n", {}),
        ("2024-06-04,10:00:05\n2024-06-04,11:30\n", {}),
        ("\ufefftime\n2024-06-04T10:00:05Z\n2024-06-04T13:30:00+02:00\n", {"zone": UTC}),
        (
            "at\n04.06.2024 10:00:05\n04.06.2024 11:30:00\n",
            {"time_format": "%d.%m.%Y %H:%M:%S"},
        ),
        (
            "made,at\n2020-01-01T00:00,2024-06-04T10:00:05\n2020-01-01T00:00,2024-06-04T11:30\n",
            {"time_columns": ("at",)},
        ),
        (
            "4.6.2024,10:00:05\n4.6.2024,11:30:00\n",
            {"time_columns": ("1", "2"), "time_format": "%d.%m.%Y %H:%M:%S"},
        ),
        ("04.06.2024;10:00:05\n04.06.2024;11:30\n", {"date_order": "dmy"}),
        ("Date,Time\n06/04/2024,10:00:05 AM\n06/04/2024,11:30 AM\n", {"date_order": "mdy"}),
        ("nr,at\n1,1717495205\n2,1717500600\n", {"zone": UTC}),
        ("at;dB\n04.06.2024 10:00:05,0;-30,5\n04.06.2024 11:30:00,0;-30\n", {"date_order": "dmy"}),
        (
            "Export of the gate camera\nmade on;2024-06-05 08:00\n\nnr;time;what\n"
            "1;2024-06-04 10:00:05;a\n2;2024-06-04 11:30;a\n",
            {},
        ),
        ("clip,size\nrec_20240604_100005.mp4,7\nrec_20240604_113000.mp4,8\n", {}),
    ],
)
def test_forms_of_time(read: Any, text: str, options: Any) -> None:
    assert read(text, **options).fired_s.tolist() == TWO


def test_the_span_is_the_log_s_own_unless_told(read: Any) -> None:
    text = "time\n2024-06-04T10:00:05\n2024-06-04T11:30:00\n"
    assert read(text).covered == ((TWO[0], TWO[1]),)
    assert read(text).own_span
    log = read(text, begin=datetime(2024, 6, 4), end=datetime(2024, 6, 5))
    assert log.covered == ((seconds(2024, 6, 4), seconds(2024, 6, 5)),)
    assert not log.own_span


def test_gaps_are_not_covered_and_firings_in_them_are_left_out(read: Any) -> None:
    log = read(
        "time\n2024-06-04T10:00:05\n2024-06-04T11:30:00\n",
        begin=datetime(2024, 6, 4),
        end=datetime(2024, 6, 5),
        gaps=((datetime(2024, 6, 4, 11), datetime(2024, 6, 4, 12)),),
    )
    assert log.covered == (
        (seconds(2024, 6, 4), seconds(2024, 6, 4, 11)),
        (seconds(2024, 6, 4, 12), seconds(2024, 6, 5)),
    )
    assert log.fired_s.tolist() == TWO[:1]
    assert "outside" in codes(log)


def test_a_gap_that_ends_before_it_begins_is_refused(read: Any) -> None:
    text = "time\n2024-06-04T10:00:05\n2024-06-04T11:30:00\n"
    noon, eleven = datetime(2024, 6, 4, 12), datetime(2024, 6, 4, 11)
    # one hour off that is told the wrong way round must not become one more hour covered
    with pytest.raises(SettingError) as refused:
        read(text, gaps=((noon, eleven),))
    assert str(refused.value) == (
        "--gap 2024-06-04T12:00:00/2024-06-04T11:00:00: ends before it begins; give the earlier "
        "time first"
    )
    with pytest.raises(SettingError, match="ends before it begins"):
        read(text, gaps=((noon, noon),))
    # 12:00 in UTC+2 is 10:00 in UTC
    with pytest.raises(SettingError, match="ends before it begins"):
        read(text, gaps=((eleven, datetime.fromisoformat("2024-06-04T12:00+02:00")),))


def test_gaps_outside_the_time_covered_are_known(read: Any) -> None:
    text = "time\n2024-06-04T10:00:05\n2024-06-04T11:30:00\n"
    # up to the first row, and half an hour at the end
    before = (datetime(2024, 6, 3), datetime(2024, 6, 4, 10, 0, 5))
    within = (datetime(2024, 6, 4, 11), datetime(2024, 6, 5))
    log = read(text, gaps=(before, within))
    assert log.idle_gaps == ("2024-06-03T00:00:00/2024-06-04T10:00:05",)
    assert log.covered == ((TWO[0], seconds(2024, 6, 4, 11)),)


def test_unsorted_and_doubled_rows_are_put_right_and_told(read: Any) -> None:
    log = read(
        "time\n2024-06-04T11:30:00\n2024-06-04T10:00:05\n2024-06-04T11:30:00\n2024-06-04T10:00:05\n"
    )
    assert log.fired_s.tolist() == TWO
    assert codes(log) == ["unsorted", "duplicates"]
    falling = read("time\n2024-06-04T11:30:00\n2024-06-04T10:00:05\n")
    assert falling.fired_s.tolist() == TWO
    assert codes(falling) == []


def test_rows_within_the_re_arm_time_are_one_firing(read: Any) -> None:
    rows = "\n".join(f"2024-06-04T10:00:{second:02d}" for second in (0, 3, 8, 10, 18, 30))
    log = read(f"time\n{rows}\n", rearm_s=10.0)
    # by hand: 0; 3 and 8 belong to it; 10 is the next; 18 belongs to that; 30
    assert (log.fired_s - log.fired_s[0]).tolist() == [0, 10, 30]
    assert codes(log) == ["within re-arm"]


def test_some_unreadable_rows_are_told_and_many_refused(read: Any) -> None:
    rows = [f"2024-06-04T10:{minute:02d}:00" for minute in range(20)]
    log = read("time\n" + "\n".join([*rows, "--"]) + "\n")
    assert log.fired_s.size == 20
    assert codes(log) == ["unreadable"]
    with pytest.raises(SettingError, match=r"no readable time in 5 of 25 rows, the first '--'"):
        read("time\n" + "\n".join([*rows, *["--"] * 5]) + "\n")


KINDS = "time,event,length\n" + "".join(
    f"2024-06-04T{hour:02d}:00:00,{kind},25\n"
    for hour, kind in ((8, "sound"), (9, "motion"), (10, "Sound"), (11, "motion"))
)


def test_kinds_are_told_apart(read: Any) -> None:
    log = read(KINDS, kind_column="event", kinds=("sound",), length_column="length")
    assert log.fired_s.size == 2
    assert log.other_s.size == 2
    assert log.kinds_known
    assert log.recorded_s == 50
    # a row of another kind too shows that the camera was alive
    assert log.covered == ((seconds(2024, 6, 4, 8), seconds(2024, 6, 4, 11)),)


def test_the_column_of_kinds_is_found_and_kinds_not_asked_for_are_named(read: Any) -> None:
    assert read(KINDS, kinds=("sound",)).fired_s.size == 2
    log = read(KINDS)
    assert log.fired_s.size == 4
    assert not log.kinds_known
    kinds = next(caution for caution in log.notices if caution.code == "kinds")
    assert "--kind-column event" in notice_text(kinds)
    with pytest.raises(SettingError, match="say with --kind"):
        read(KINDS, kind_column="event")
    with pytest.raises(SettingError, match="no row of kind 'tamper'"):
        read(KINDS, kinds=("tamper",))
    with pytest.raises(SettingError, match="did you mean event"):
        read(KINDS, kind_column="evnt", kinds=("sound",))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("time\n", "--from and --to"),
        ("a,b\n1,2\n", "no column of times"),
        ("time\n2024-06-04T10:00:05\n", "covers no time"),
        ("time\n2024-06-04T10:00\n2024-06-04T11:00Z\n", "some times have a zone"),
    ],
)
def test_what_is_no_log_is_refused_by_name(read: Any, text: str, words: str) -> None:
    with pytest.raises(SettingError, match=words) as refused:
        read(text)
    assert "log.csv" in str(refused.value)


def test_a_log_without_firings_is_a_log(read: Any) -> None:
    log = read("time\n", begin=datetime(2024, 6, 4), end=datetime(2024, 6, 5))
    assert log.fired_s.size == 0
    assert np.diff(log.covered[0]) == 86400


def test_dates_that_may_be_two_days_are_refused_with_the_option_that_settles_it(read: Any) -> None:
    text = "time\n03/04/2026 10:00\n05/04/2026 11:00\n"
    with pytest.raises(SettingError) as refused:
        read(text)
    said = str(refused.value)
    assert "'03/04/2026 10:00' may be 3 Apr 2026 (--date-order dmy: day first) or 4 Mar" in said
    assert said.count("\n") == 0
    assert read(text, date_order="mdy").rows_s == (
        seconds(2026, 3, 4, 10),
        seconds(2026, 5, 4, 11),
    )
    # a row further down settles it
    assert read(text + "13/04/2026 12:00\n").rows_s == (
        seconds(2026, 4, 3, 10),
        seconds(2026, 4, 13, 12),
    )


def test_a_folder_of_clips_is_a_log(tmp_path: Path) -> None:
    for name in ("20240604/100005.mp4", "20240604/113000.mp4", "20240604/113000.jpg"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    log = read_log(tmp_path, LogFormat())
    assert log.fired_s.tolist() == TWO
    assert (log.form, log.notices) == ("name", ())


def test_a_log_says_what_it_was_read_as(read: Any) -> None:
    log = read("31.12.2026;20:00\n3.1.2027;06:12\n2.1.2027;06:12\n")
    assert (log.rows_s, log.form) == (
        (seconds(2026, 12, 31, 20), seconds(2027, 1, 3, 6, 12)),
        "dmy",
    )
    assert read_as(log) == (
        "log.csv: 31 Dec 2026 20:00 to 3 Jan 2027 06:12, 3 firings (dates day first); "
        "is that right?"
    )


def test_lengths_may_have_a_decimal_comma(read: Any) -> None:
    rows = "time;s\n2024-06-04 10:00;25,5\n2024-06-04 11:00;24,5\n"
    assert read(rows, length_column="s").recorded_s == 50
    for bad in ("-3", "nan", "inf", "x"):
        with pytest.raises(SettingError, match=f"length '{bad}' is no number of seconds"):
            read(rows + f"2024-06-04 12:00;{bad}\n", length_column="s")


def test_a_missing_file_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(SettingError, match=r"nowhere\.csv: cannot be read"):
        read_log(tmp_path / "nowhere.csv", LogFormat())


@pytest.mark.parametrize(
    "when", ["1970-01-01 00:00:12", "2000-01-01 00:00:12", "2099-01-01 10:00:00"]
)
def test_rows_of_a_clock_that_was_wrong_are_left_out_and_counted(read: Any, when: str) -> None:
    log = read(f"{when}\n2024-06-04 10:00:05\n2024-06-04 11:30\n2024-06-05 09:00\n{when}\n")
    assert codes(log)[:1] == ["wrong clock"]
    assert "2 rows of 5" in notice_text(log.notices[0])
    # three firings in 23 hours, and no year between them
    assert len(log.fired_s) == 3
    assert sum(b - a for a, b in log.covered) == pytest.approx(22 * 3600 + 59 * 60 + 55)


def test_two_rows_years_apart_are_of_the_later_clock(read: Any) -> None:
    log = read(
        "2000-01-01 00:00:12\n2024-06-04 10:00:05\n2024-06-05 10:00:05\n2000-01-01 00:01:00\n"
    )
    assert [round(one) for one in np.diff(log.fired_s)] == [86_400]


def test_a_log_of_three_years_is_of_one_clock(read: Any) -> None:
    rows = "".join(f"{year}-{month:02}-04 10:00\n" for year in (2022, 2023) for month in (1, 6))
    log = read(rows)
    assert "wrong clock" not in codes(log)
    assert len(log.fired_s) == 4
