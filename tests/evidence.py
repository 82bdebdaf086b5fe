"""Pages of evidence: the rows of a study go to a CSV, the page keeps the totals.

Entry point: `put`.
"""

import csv
import io
import re
from pathlib import Path

COLUMNS = ("table", "line", "row", "column", "value")
_TABLE = re.compile(r"^\|.*\n\|[-|: ]+\|\n(?:\|.*\n)+", re.MULTILINE)


def put(folder: Path, name: str, text: str) -> None:
    """Write a study's page and, beside it, every row of its tables."""
    page, rows = split(text, f"{name}.csv")
    (folder / f"{name}.md").write_text(page, encoding="utf-8")
    (folder / f"{name}.csv").write_text(rows, encoding="utf-8")


def split(text: str, name: str) -> tuple[str, str]:
    """A page with the bold rows of its tables alone, and all rows as CSV, a value a line."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for table in _TABLE.finditer(text):
        heading = re.findall(r"^#+ (.*)$", text[: table.start()], re.MULTILINE)[-1]
        head, _, *rows = [_cells(line) for line in table[0].splitlines()]
        for line, row in enumerate(rows, start=1):
            for column, value in zip(head[1:], row[1:], strict=True):
                plain = value.replace("**", "")
                writer.writerow([heading, line, row[0].replace("**", ""), column, plain])
    page = _TABLE.sub(_totals, text)
    return f"{page.rstrip()}\n\nEvery row: [{name}]({name}).\n", out.getvalue()


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def _totals(table: re.Match[str]) -> str:
    head, rule, *rows = table[0].splitlines()
    bold = [row for row in rows if row.startswith("| **")]
    if bold:
        return "".join(f"{line}\n" for line in [head, rule, *bold])
    return f"{len(rows)} rows in the CSV.\n"
