"""Where a log's times stand and where its table begins."""

from pathlib import Path

import pytest

from audiolevel.followup.log_columns import column, joined, table_with_times
from audiolevel.followup.log_format import LogFormat
from audiolevel.ground.errors import SettingError

ROWS = "1;a;2026-03-02 20:00\n2;b;2026-03-03 20:00\n3;c;2026-03-04 20:00\n"


@pytest.mark.parametrize(
    ("before", "header", "columns"),
    [
        ("", ["", "", ""], [2]),
        ("nr;what;when\n", ["nr", "what", "when"], [2]),
        ("Export of a camera\nmade on;2026-03-05 08:00\n\nnr;what;when\n", None, [2]),
    ],
)
def test_the_table_begins_with_its_first_time(
    tmp_path: Path, before: str, header: list[str] | None, columns: list[int]
) -> None:
    (tmp_path / "log.csv").write_text(before + ROWS)
    found = table_with_times(tmp_path / "log.csv", LogFormat())
    assert found[0] == (header or ["nr", "what", "when"])
    assert [row[0] for row in found[1]] == ["1", "2", "3"]
    assert found[2] == columns
    assert joined(found[1][0], [1, 2, 9]) == "a 2026-03-02 20:00"


def test_a_column_by_name_or_number(tmp_path: Path) -> None:
    header = ["nr", "What", "when"]
    assert [column(one, header, tmp_path, "--x") for one in ("1", "what", "when")] == [0, 1, 2]
    with pytest.raises(SettingError, match="no column 'wen' for --x; did you mean when"):
        column("wen", header, tmp_path, "--x")
    with pytest.raises(SettingError, match="it has nr, What, when"):
        column("9", header, tmp_path, "--x")


@pytest.mark.parametrize(
    ("rows", "columns"),
    [
        ("12/31/2026,08:15:05,PM,x\n" * 3, [0, 1, 2]),
        ("a,12/31/2026 08:15,p.m.\n" * 3, [1, 2]),
        ("12/31/2026,08:15:05,on,PM\n" * 3, [0, 1]),
    ],
)
def test_a_column_of_am_and_pm_belongs_to_the_times(
    tmp_path: Path, rows: str, columns: list[int]
) -> None:
    (tmp_path / "log.csv").write_text(rows)
    assert table_with_times(tmp_path / "log.csv", LogFormat())[2] == columns


def test_times_named_by_their_columns(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text(
        "made,date,time\n" + "2020-01-01 10:00,31.12.2026,20:00\n" * 3
    )
    found = table_with_times(tmp_path / "log.csv", LogFormat(time_columns=("date", "time")))
    assert found[2] == [1, 2]
    assert table_with_times(tmp_path / "log.csv", LogFormat())[2] == [0]
