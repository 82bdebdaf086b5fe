"""What moved between two batches over the same folder.

One change is one line: a recording whose levels all moved by the same amount moved once, not in
sixteen values.

Entry points: `moves`, `Move`.
"""

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from audiolevel.metering.statistics import MOVING

Record = dict[str, Any]

ALL_LEVELS = "all levels"
# records hold hundredths: two that are rounded apart differ by one more
_ROUNDING_DB = 0.011


@dataclass(frozen=True)
class Move:
    """A value that is not what it was.

    Attributes
    ----------
    path : str
        Of the recording.
    key : str
        Of the value in its record; "all levels" where all moved alike, with the LAeq as value;
        "recording" where the recording itself came, went, failed or was mended.
    before, now : float, str or None
        None where it was, or is, not known.
    """

    path: str
    key: str
    before: float | str | None
    now: float | str | None

    @property
    def difference(self) -> float | None:
        """By how much a number moved; None for words."""
        if isinstance(self.before, int | float) and isinstance(self.now, int | float):
            return self.now - self.before
        return None


def moves(
    old: Mapping[str, Record],
    new: Iterable[Record],
    tolerance_db: float,
    failed: Iterable[str] = (),
    failed_before: Iterable[str] = (),
) -> list[Move]:
    """Levels and verdicts that differ by more than a tolerance, recordings that came or went.

    What failed before and is measured was mended; what failed before and fails now has not moved.

    Parameters
    ----------
    old : mapping of str to Record
        Of an earlier batch, by path.
    new : iterable of Record
    tolerance_db : float
        Differences up to this one are none.
    failed, failed_before : iterable of str
        Paths that cannot be measured now, and that could not be in the earlier batch: recordings,
        and folders that could not be looked into.

    Returns
    -------
    list of Move
        By path.
    """
    changes, seen = [], set()
    broken, were_broken = set(failed), set(failed_before)
    for record in new:
        path = record["path"]
        seen.add(path)
        if path in old:
            changes += _of_recording(path, old[path], record, tolerance_db)
        else:
            before = "failed" if _is_of(path, were_broken) else "not there"
            changes.append(Move(path, "recording", before, "measured"))
    for path in set(old) - seen:
        now = "failed" if _is_of(path, broken) else "gone"
        changes.append(Move(path, "recording", "measured", now))
    # of a folder that has opened, what lies in it is told
    opened = {str(parent) for path in seen | broken for parent in PurePosixPath(path).parents}
    for path in were_broken - seen - opened - set(old):
        if not _is_of(path, broken):
            changes.append(Move(path, "recording", "failed", "gone"))
    for path in broken - set(old):
        # a folder with recordings that were measured is told by them
        if not _is_of(path, were_broken) and not any(one.startswith(f"{path}/") for one in old):
            changes.append(Move(path, "recording", "not there", "failed"))
    return sorted(changes, key=lambda one: one.path)


def _is_of(path: str, failed: Set[str]) -> bool:
    """Whether a path, or a folder that it lies in, is among those that failed."""
    return path in failed or any(str(parent) in failed for parent in PurePosixPath(path).parents)


def _of_recording(path: str, old: Record, new: Record, tolerance_db: float) -> list[Move]:
    before, now = _values(old), _values(new)
    moved = [
        Move(path, key, before.get(key), now.get(key))
        for key in before | now
        if _differs(before.get(key), now.get(key), tolerance_db)
    ]
    levels = [
        key
        for key in before | now
        if key not in _OTHERS and not (before.get(key) is None and now.get(key) is None)
    ]
    # against the level itself, not what moved: a level that stayed is no part of "all"
    steps = [Move(path, key, before.get(key), now.get(key)).difference for key in levels]
    known = [step for step in steps if step is not None]
    alike = (
        len(known) == len(levels) > 0
        and _differs(0.0, known[0], tolerance_db)
        and max(known) - min(known) <= max(tolerance_db, 2 * _ROUNDING_DB)
    )
    if not alike:
        return moved
    rest = [one for one in moved if one.key in _OTHERS]
    return [Move(path, ALL_LEVELS, before["laeq_db"], now["laeq_db"]), *rest]


_OTHERS = ("reference", "duration_s", "clipping", "warnings")


def _values(record: Record) -> dict[str, Any]:
    values: dict[str, Any] = {key: record.get(key) for key in MOVING}
    values |= record["percentiles_db"]
    values["reference"] = record.get("reference")
    values["duration_s"] = record.get("duration_s")
    values["clipping"] = record["clipping"]["verdict"]
    values["warnings"] = ";".join(sorted(record["warnings"]))
    return values


def _differs(a: Any, b: Any, tolerance: float) -> bool:
    if isinstance(a, int | float) and isinstance(b, int | float):
        # a difference of just the tolerance is none, whatever its rounding
        return abs(a - b) > tolerance + 1e-9
    return bool(a != b)
