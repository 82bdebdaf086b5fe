"""Every row of a study is in its CSV, and the page says where."""

import csv
from pathlib import Path

from tests.evidence import COLUMNS, split

DOCS = Path(__file__).parents[1] / "docs"
STUDIES = ("calibration", "real_loop", "street_halves")
TEXT = """# A study

## By place

| | a | b, % |
|---|---|---|
| street | 1 | **2** |
| **all** | 3 | 4 |

## Without totals

| at | seen |
|---|---|
| 5 | 6 |

End.
"""


def test_totals_stay_on_the_page_and_every_value_goes_to_the_csv() -> None:
    page, rows = split(TEXT, "study.csv")
    assert "| **all** | 3 | 4 |" in page
    assert "street" not in page
    assert "| 5 |" not in page
    assert "1 rows in the CSV.\n\nEnd.\n\nEvery row: [study.csv](study.csv).\n" in page
    assert list(csv.reader(rows.splitlines())) == [
        list(COLUMNS),
        ["By place", "1", "street", "a", "1"],
        ["By place", "1", "street", "b, %", "2"],
        ["By place", "2", "all", "a", "3"],
        ["By place", "2", "all", "b, %", "4"],
        ["Without totals", "1", "5", "seen", "6"],
    ]


def test_totals_of_the_pages_are_those_of_their_rows() -> None:
    for name in STUDIES:
        page = (DOCS / f"{name}.md").read_text(encoding="utf-8")
        with (DOCS / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) > 15, name
        assert f"({name}.csv)" in page
        for line in page.splitlines():
            if line.startswith("| **"):
                row, *values = (cell.strip(" *") for cell in line.strip("|").split("|"))
                kept = [one["value"] for one in rows if one["row"] == row]
                text = "\n".join(kept)
                assert "\n".join(values) in text, (name, line)
