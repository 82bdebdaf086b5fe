"""The tables of a batch: the same values in JSON lines and CSV, empty cells for null."""

import csv
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audiolevel.batch.changes import Move
from audiolevel.batch.overview import HourRow
from audiolevel.report.batch.tables import (
    COLUMNS,
    read_failed,
    write_changes,
    write_results,
    write_summary,
)


def _record() -> dict[str, Any]:
    record: dict[str, Any] = {name: 1.5 for name, (*_, last) in COLUMNS.items() if last == name}
    record |= {"path": "a, b.wav", "start": None, "warnings": ["short", "channel dead"]}
    record["percentiles_db"] = {f"L{n}": -float(n) for n in (1, 5, 10, 50, 90, 95, 99)}
    record["clipping"] = {"clipped_share": 0.25, "verdict": "heavy"}
    return record


def _records() -> Iterator[dict[str, Any]]:
    return iter([_record()])


def test_json_lines_and_table_hold_the_same(tmp_path: Path) -> None:
    write_results(tmp_path, _records, [("bad.wav", "bad.wav: is not a sound file, see")])
    line = json.loads((tmp_path / "results.jsonl").read_text(encoding="utf-8"))
    assert line == _record()
    with (tmp_path / "results.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert row["path"] == "a, b.wav"
    assert row["l90_db"] == "-90.0"
    assert row["start"] == ""
    assert row["warnings"] == "short;channel dead"
    assert (row["clipping"], row["clipped_share"]) == ("heavy", "0.25")
    failures = (tmp_path / "failures.csv").read_text(encoding="utf-8")
    assert failures == 'path,reason\nbad.wav,"bad.wav: is not a sound file, see"\n'
    assert read_failed(tmp_path / "failures.csv") == ["bad.wav"]
    with pytest.raises(ValueError, match="holds no failures of a batch"):
        read_failed(tmp_path / "results.csv")


def test_an_hour_that_is_not_known_is_an_empty_cell(tmp_path: Path) -> None:
    rows = [HourRow("wall", hour, 2, 3.0, -40.123, -30.0, "dB FS") for hour in (None, 0)]
    write_summary(tmp_path, rows)
    assert (tmp_path / "summary.csv").read_text(encoding="utf-8").splitlines() == [
        "site,hour,recordings,minutes,laeq_db,lafmax_db,reference,gain_setting",
        "wall,,2,3.00,-40.12,-30.00,dB FS,",
        "wall,0,2,3.00,-40.12,-30.00,dB FS,",
    ]


def test_a_change_is_a_row(tmp_path: Path) -> None:
    write_changes(
        tmp_path, [Move("a", "laeq_db", -40.0, -38.5), Move("b", "warnings", "", "short")]
    )
    assert (tmp_path / "changes.csv").read_text(encoding="utf-8").splitlines() == [
        "path,change,before,now,difference",
        "a,laeq_db,-40.0,-38.5,1.50",
        "b,warnings,,short,",
    ]
