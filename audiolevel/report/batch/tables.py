"""The tables that a batch leaves in its folder, as JSON lines and CSV.

`results.jsonl` and `results.csv` (in the order of the paths), `failures.csv`, `summary.csv` (by
site and hour), `findings.csv`, `changes.csv` (against an earlier batch). Records are read one at a
time.
"""

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from audiolevel.batch.changes import Move
from audiolevel.batch.faults import Fault
from audiolevel.batch.overview import HourRow
from audiolevel.ground.files import json_mark, text_file
from audiolevel.metering.statistics import MOVING, PERCENTS
from audiolevel.report.words.faults import fault_remedy, fault_words

Record = dict[str, Any]
Records = Callable[[], Iterator[Record]]

_ABOUT = (
    *("path", "site", "start", "gain_setting", "from_s", "to_s", "spl_at_full_scale_db"),
    *("duration_s", "sample_rate_hz", "channels", "reference"),
)
# header (with the unit) → where the value stands in a record
COLUMNS: dict[str, tuple[str, ...]] = {
    **{name: (name,) for name in (*_ABOUT, *MOVING, "sample_peak_dbfs")},
    **{f"l{n}_db": ("percentiles_db", f"L{n}") for n in PERCENTS},
    "clipped_share": ("clipping", "clipped_share"),
    "clipping": ("clipping", "verdict"),
    "onset_count": ("onset_count",),
    "warnings": ("warnings",),
}
# what a file of silence has all the same
_OF_THE_SITE = ("spl_at_full_scale_db",)
_FINDING_COLUMNS = ("path", "severity", "finding", "why", "what_to_do")
FINDINGS_MARK = ",".join(_FINDING_COLUMNS)
_FAILURE_COLUMNS = ("path", "reason")
_SUMMARY_COLUMNS = (
    *("site", "hour", "recordings", "minutes", "laeq_db", "lafmax_db", "reference"),
    "gain_setting",
)
_CHANGE_COLUMNS = ("path", "change", "before", "now", "difference")
CHANGES_MARK = ",".join(_CHANGE_COLUMNS)
# every line of results.jsonl has it, and so tells who made the file
RECORD_MARK = json_mark("batch")


def write_results(folder: Path, records: Records, failures: Sequence[tuple[str, str]]) -> None:
    """Write the results as JSON lines and as a table, and the failures.

    Parameters
    ----------
    folder : Path
    records : callable
        Gives the records afresh each time, one at a time.
    failures : sequence of (str, str)
        Path and reason.
    """
    with text_file(folder / "results.jsonl", RECORD_MARK) as lines:
        for record in records():
            lines.write(json.dumps(record, ensure_ascii=False, allow_nan=False) + "\n")
    rows = ([value_of(record, name) for name in COLUMNS] for record in records())
    _write_table(folder / "results.csv", list(COLUMNS), rows, 4)
    _write_table(folder / "failures.csv", _FAILURE_COLUMNS, failures)


def _write_table(
    path: Path, columns: Sequence[str], rows: Iterable[Sequence[Any]], known_by: int | None = None
) -> None:
    """A table as CSV, None an empty cell; it is known again by so many of its columns, or all."""
    with text_file(path, ",".join(columns[:known_by])) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(columns)
        table.writerows(rows)


def read_failed(path: Path) -> list[str]:
    """Paths of the failures that `write_results` wrote.

    Raises
    ------
    OSError
        The file cannot be read.
    ValueError
        It holds something else.
    """
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file)
        if tuple(rows.fieldnames or ()) != _FAILURE_COLUMNS:
            raise ValueError(f"{path}: holds no failures of a batch")
        return [row["path"] for row in rows]


def value_of(record: Record, name: str) -> Any:
    """What a column holds; digital silence has no level, and −90 dB would spoil a mean."""
    level = name.endswith(("_db", "_dbfs")) and name not in _OF_THE_SITE
    if level and "silent" in record["warnings"]:
        return ""
    return _cell(record, COLUMNS[name])


def _cell(record: Record, where: tuple[str, ...]) -> Any:
    """What a column holds of a record; empty where nothing is known."""
    value: Any = record
    for key in where:
        # one step into the record for each key
        value = value[key]
    # warnings are a list of codes, with spaces in some; None is an empty cell
    return ";".join(value) if isinstance(value, list) else "" if value is None else value


def write_summary(folder: Path, rows: Iterable[HourRow]) -> None:
    """Write the energy means by site and hour."""
    cells = []
    for row in rows:
        means = [f"{row.minutes:.2f}", f"{row.laeq_db:z.2f}", f"{row.lafmax_db:z.2f}"]
        where = (row.site, row.hour, row.recordings)
        cells.append([*where, *means, row.reference, row.gain_setting])
    _write_table(folder / "summary.csv", _SUMMARY_COLUMNS, cells, 3)


def write_findings(folder: Path, found: Sequence[Fault]) -> None:
    """Write what is wrong with which recording."""
    cells = [
        (one.path, one.severity, one.kind, fault_words(one), fault_remedy(one)) for one in found
    ]
    _write_table(folder / "findings.csv", _FINDING_COLUMNS, cells)


def write_changes(folder: Path, moves: Sequence[Move]) -> None:
    """Write what moved against an earlier batch, a row a change; only the header where nothing."""
    cells = []
    for one in moves:
        step = None if one.difference is None else f"{one.difference:z.2f}"
        cells.append((one.path, one.key, one.before, one.now, step))
    _write_table(folder / "changes.csv", _CHANGE_COLUMNS, cells)
