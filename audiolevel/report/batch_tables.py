"""What does a batch leave in its folder?

`results.jsonl` and `results.csv` (in the order of the paths), `failures.csv`, `summary.csv` (by
site and hour), `findings.txt` and a picture of all recordings. Records are read one at a time.
"""

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from audiolevel.batch.overview import Drift, GainStep, HourRow, Moved, Outlier
from audiolevel.files import AtomicFile

Record = dict[str, Any]
Records = Callable[[], Iterator[Record]]

# header (with the unit) → where the value stands in a record
COLUMNS: dict[str, tuple[str, ...]] = {
    "path": ("path",),
    "site": ("site",),
    "start": ("start",),
    "gain_setting": ("gain_setting",),
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


def write_results(folder: Path, records: Records, failures: Sequence[tuple[str, str]]) -> None:
    """The results as JSON lines and as a table, and the failures."""
    with AtomicFile(folder / "results.jsonl") as lines:
        for record in records():
            lines.write(json.dumps(record, ensure_ascii=False, allow_nan=False) + "\n")
    with AtomicFile(folder / "results.csv") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(COLUMNS)
        for record in records():
            table.writerow([_cell(record, where) for where in COLUMNS.values()])
    with AtomicFile(folder / "failures.csv") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["path", "reason"])
        table.writerows(failures)


def _cell(record: Record, where: tuple[str, ...]) -> Any:
    value: Any = record
    for key in where:
        value = value[key]
    return " ".join(value) if isinstance(value, list) else "" if value is None else value


def write_summary(folder: Path, rows: Iterable[HourRow]) -> None:
    """Energy means by site and hour."""
    with AtomicFile(folder / "summary.csv") as file:
        table = csv.writer(file, lineterminator="\n")
        head = ["site", "hour", "recordings", "minutes", "laeq_db", "lafmax_db", "reference"]
        table.writerow(head)
        for row in rows:
            hour = "" if row.hour is None else row.hour
            means = [f"{row.minutes:.2f}", f"{row.laeq_db:.2f}", f"{row.lafmax_db:.2f}"]
            table.writerow([row.site, hour, row.recordings, *means, row.reference])


def findings(
    steps: Sequence[GainStep], drifts: Sequence[Drift], outliers: Sequence[Outlier]
) -> list[str]:
    """Gain steps, drift and outliers in words."""
    lines = [_step(step) for step in steps]
    lines += [_drift(drift) for drift in drifts]
    lines += [f"{one.path}: {one.why}" for one in outliers]
    return lines or ["nothing stands out"]


def _step(step: GainStep) -> str:
    error = step.standard_error_db
    sure = "one recording at a setting: not sure" if error is None else f"± {2 * error:.1f} dB"
    stated = "" if step.stated_db is None else f"; the site file says {step.stated_db:+.1f} dB"
    return (
        f"{step.site}: from gain {step.from_setting:g} to {step.to_setting:g} L50 moved by "
        f"{step.measured_db:+.1f} dB ({sure}){stated}"
    )


def _drift(drift: Drift) -> str:
    setting = "" if drift.gain_setting is None else f" at gain {drift.gain_setting:g}"
    return (
        f"{drift.site}{setting}: L90 drifts by {drift.db_per_30_days:+.1f} dB in 30 days "
        f"(± {2 * drift.standard_error_db:.1f}), {drift.visits} visits"
    )


def moves(found: Sequence[Moved], tolerance_db: float) -> list[str]:
    """What is not as it was."""
    if not found:
        return [f"nothing moved by more than {tolerance_db:g} dB"]
    lines = [f"{one.path}: {one.key} was {one.before}, is {one.now}" for one in found]
    return [f"moved by more than {tolerance_db:g} dB: {len(lines)} values", *lines]
