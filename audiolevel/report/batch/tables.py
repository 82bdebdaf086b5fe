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
from audiolevel.files import AtomicFile, json_mark
from audiolevel.report.words.faults import fault_remedy, fault_words

Record = dict[str, Any]
Records = Callable[[], Iterator[Record]]

# header (with the unit) → where the value stands in a record
COLUMNS: dict[str, tuple[str, ...]] = {
    "path": ("path",),
    "site": ("site",),
    "start": ("start",),
    "gain_setting": ("gain_setting",),
    "from_s": ("from_s",),
    "to_s": ("to_s",),
    "spl_at_full_scale_db": ("spl_at_full_scale_db",),
    "duration_s": ("duration_s",),
    "sample_rate_hz": ("sample_rate_hz",),
    "channels": ("channels",),
    "reference": ("reference",),
    "laeq_db": ("laeq_db",),
    "lceq_db": ("lceq_db",),
    "lzeq_db": ("lzeq_db",),
    "lafmax_db": ("lafmax_db",),
    "lasmax_db": ("lasmax_db",),
    "lafmin_db": ("lafmin_db",),
    "lae_db": ("lae_db",),
    "lcpeak_db": ("lcpeak_db",),
    "sample_peak_dbfs": ("sample_peak_dbfs",),
    "l1_db": ("percentiles_db", "L1"),
    "l5_db": ("percentiles_db", "L5"),
    "l10_db": ("percentiles_db", "L10"),
    "l50_db": ("percentiles_db", "L50"),
    "l90_db": ("percentiles_db", "L90"),
    "l95_db": ("percentiles_db", "L95"),
    "l99_db": ("percentiles_db", "L99"),
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
    with AtomicFile(folder / "results.jsonl", RECORD_MARK) as lines:
        for record in records():
            lines.write(json.dumps(record, ensure_ascii=False, allow_nan=False) + "\n")
    with AtomicFile(folder / "results.csv", ",".join(list(COLUMNS)[:4])) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(COLUMNS)
        for record in records():
            table.writerow([value_of(record, name) for name in COLUMNS])
    with AtomicFile(folder / "failures.csv", ",".join(_FAILURE_COLUMNS)) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(_FAILURE_COLUMNS)
        table.writerows(failures)


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
    with AtomicFile(folder / "summary.csv", ",".join(_SUMMARY_COLUMNS[:3])) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(_SUMMARY_COLUMNS)
        for row in rows:
            # no start time, so no hour is known
            hour = "" if row.hour is None else row.hour
            means = [f"{row.minutes:.2f}", f"{row.laeq_db:z.2f}", f"{row.lafmax_db:z.2f}"]
            setting = "" if row.gain_setting is None else row.gain_setting
            table.writerow([row.site, hour, row.recordings, *means, row.reference, setting])


def write_findings(folder: Path, found: Sequence[Fault]) -> None:
    """Write what is wrong with which recording."""
    with AtomicFile(folder / "findings.csv", FINDINGS_MARK) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(_FINDING_COLUMNS)
        for one in found:
            words = (fault_words(one), fault_remedy(one))
            table.writerow([one.path, one.severity, one.kind, *words])


def write_changes(folder: Path, moves: Sequence[Move]) -> None:
    """Write what moved against an earlier batch, a row a change; only the header where nothing."""
    with AtomicFile(folder / "changes.csv", CHANGES_MARK) as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(_CHANGE_COLUMNS)
        for one in moves:
            step = "" if one.difference is None else f"{one.difference:z.2f}"
            table.writerow([one.path, one.key, _blank(one.before), _blank(one.now), step])


def _blank(value: float | str | None) -> float | str:
    return "" if value is None else value
