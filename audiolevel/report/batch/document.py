"""What a batch has to say: totals, what stands out, what moved against an earlier one.

Entry points: `Told`, `batch_page`, `totals`, `findings`, `moves`, `stopped`.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby, islice
from typing import Any

from audiolevel.batch.changes import Move
from audiolevel.batch.faults import Fault, Heard
from audiolevel.batch.overview import Drift, GainStep, HourRow, by_site_and_hour
from audiolevel.batch.runner import Batch
from audiolevel.report.batch.rows import findings_table, recordings_table
from audiolevel.report.batch.tables import value_of
from audiolevel.report.document import (
    Fact,
    Paragraph,
    Section,
    Shown,
    Table,
    document,
    points,
)
from audiolevel.report.figures import Picture
from audiolevel.report.html import Html
from audiolevel.report.page import page, pictured
from audiolevel.report.words.faults import fault_words
from audiolevel.report.words.quantities import counted
from audiolevel.site.sections import setting_name

Record = dict[str, Any]
# a table of more would be slow to sort and to scroll; the CSV has all of them
MOST_ROWS = 2000

# headings and captions of the pictures of a batch, by the names of their files
PICTURES = {
    "recordings.png": (
        "Levels of every recording",
        "Each line is a recording: from L90 to L10, LAeq as a stroke, LAFmax as a dot.",
    ),
    "gain_settings.png": (
        "Gain settings",
        "What each gain setting does to L50, beside what the site file says of it.",
    ),
    "visits.png": (
        "Visits",
        "L90 from visit to visit: a drift shows a microphone that ages, or a site that changes.",
    ),
}


def totals(batch: Batch) -> str:
    """How many recordings were measured, now and before, how many failed, and folders not read."""
    closed = sum(bool(item.closed) for item in batch.items)
    recordings, failed = len(batch.items) - closed, batch.failed - closed
    folders = f"; {counted(closed, 'folder')} not read" if closed else ""
    return (
        f"{counted(recordings, 'recording')}: {recordings - failed} measured "
        f"({batch.measured} now), {failed} failed{folders}"
    )


def findings(
    steps: Sequence[GainStep],
    drifts: Sequence[Drift],
    found: Sequence[Fault],
    silent: Sequence[tuple[str, int]] = (),
) -> list[str]:
    """Faults, gain steps and drift in words, and how many silent ones each site has."""
    lines = [f"{one.path}: {one.kind}: {fault_words(one)}" for one in found]
    lines += [
        f"{site}: {counted(count, 'recording')} of digital silence left out of means, gain steps "
        "and drift"
        for site, count in silent
    ]
    lines += [_step(step) for step in steps]
    lines += [_drift(drift) for drift in drifts]
    return lines or ["nothing stands out"]


def _step(step: GainStep) -> str:
    error = step.standard_error_db
    sure = "one recording at a setting: not sure" if error is None else f"± {2 * error:.1f} dB"
    stated = "" if step.stated_db is None else f"; the site file says {step.stated_db:+z.1f} dB"
    return (
        f"{step.site}: from gain {step.from_setting:g} to {step.to_setting:g} L50 moved by "
        f"{step.measured_db:+z.1f} dB ({sure}){stated}"
    )


def _drift(drift: Drift) -> str:
    setting = ""
    if drift.gain_setting is not None:
        setting = f" at gain {setting_name(drift.gain_setting)}"
    return (
        f"{drift.site}{setting}: L90 drifts by {drift.db_per_30_days:+z.1f} dB in 30 days "
        f"(± {drift.within_db:.1f}, 95 %), {counted(drift.visits, 'visit')}"
    )


_LEVEL_NAMES = {
    "laeq_db": "LAeq",
    "lceq_db": "LCeq",
    "lzeq_db": "LZeq",
    "lafmax_db": "LAFmax",
    "lasmax_db": "LASmax",
    "lafmin_db": "LAFmin",
    "lae_db": "LAE",
    "lcpeak_db": "LCpeak",
}


def _changes(path: str, moved: Sequence[Move]) -> str:
    """All that happened to one recording, in one line."""
    said = []
    for one in moved:
        if one.key == "recording":
            said.append(f"was {one.before}, is {one.now}")
        elif one.difference is not None and one.key != "duration_s":
            said.append(f"{_LEVEL_NAMES.get(one.key, one.key)} {one.difference:+z.1f} dB")
        else:
            said.append(f"{one.key} was {_value(one.before)}, is {_value(one.now)}")
    return f"{path}: {'; '.join(said)}"


def _value(value: float | str | None) -> str:
    if value is None or value == "":
        return "none"
    return f"{value:g}" if isinstance(value, int | float) else value


def moves(moved: Sequence[Move], tolerance_db: float) -> list[str]:
    """What is not as it was, a line a recording."""
    if not moved:
        return [f"nothing moved by more than {tolerance_db:g} dB"]
    lines = [
        _changes(path, list(group)) for path, group in groupby(moved, key=lambda one: one.path)
    ]
    several = counted(len(lines), "recording")
    return [f"differences of more than {tolerance_db:g} dB: {several}", *lines]


def stopped(done: int, of: int, folder: str) -> str:
    """How far a batch that was broken off has come, and how it goes on."""
    return (
        f"stopped: {done} of {counted(of, 'recording')} done and kept in {folder}; the same "
        "command goes on from there"
    )


# --- the page ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Told:
    """What a batch tells of its recordings, under their own names or under numbers.

    Attributes
    ----------
    heard : callable
        Gives the recordings afresh each time: a year of them does not fit in memory.
    failures : list of (str, str)
        Path and reason, in the order of the paths.
    stated : dict
        What the site files say of each gain setting, by site.
    """

    heard: Callable[[], Iterator[Heard]]
    failures: list[tuple[str, str]]
    stated: dict[str, dict[float, float]]

    def records(self) -> Iterator[Record]:
        """What was measured, afresh each time."""
        return (one.record for one in self.heard())


def batch_page(
    title: str,
    told: Told,
    *,
    totals: str,
    findings: Sequence[str],
    found: Sequence[Fault],
    moved: Sequence[str],
    pictures: Mapping[str, Picture],
) -> str:
    """A batch as one HTML file.

    Parameters
    ----------
    title : str
    told : Told
    totals : str
        How many were measured, in words.
    findings, moved : sequence of str
        What stands out of sites, and what moved against an earlier batch.
    found : sequence of Fault
    pictures : mapping of str to Picture
        By the names of their files.
    """
    drawn = [
        Section(heading, (Shown(name, caption),))
        for name, (heading, caption) in PICTURES.items()
        # the rows have a small picture each
        if name in pictures and name != "recordings.png"
    ]
    shown, rows, left_out = _recordings(told.heard)
    not_measured = Table(("recording", "why"), tuple(told.failures[:MOST_ROWS]))
    more = len(told.failures) - MOST_ROWS
    others = (Paragraph(f"{more} more: failures.csv"),) if more > 0 else ()
    wrong = (Shown("findings"),) if found else ()
    all_rows = (Shown("recordings"), *((Paragraph(left_out),) if left_out else ()))
    parts = [
        Section(
            "What stands out",
            (Fact("measured", totals), *wrong, *points(findings)),
            "findings",
            True,
        ),
        Section("Not measured", (not_measured, *others) if told.failures else (), "failures"),
        Section("What moved", points(moved), "moved"),
        Section("Recordings", all_rows, "recordings"),
        *drawn,
        Section("Sites", (_sites(by_site_and_hour(told.records())),), "sites"),
    ]
    tables = {"findings": findings_table(found[:MOST_ROWS], rows), "recordings": shown}
    made = document(title, "", parts)
    scripts = ("common", "sortable", "filter")
    return page(made, "batch", {**pictured(pictures), **tables}, scripts=scripts)


def _sites(rows: Iterable[HourRow]) -> Table:
    shown = tuple(
        (
            row.site or "(no site)",
            "not known" if row.hour is None else f"{row.hour:02d}",
            "" if row.gain_setting is None else setting_name(row.gain_setting),
            f"{row.recordings}",
            f"{row.minutes:.1f}",
            f"{row.laeq_db:z.1f}",
            f"{row.lafmax_db:z.1f}",
            row.reference,
        )
        for row in islice(rows, MOST_ROWS)
    )
    head = ("site", "hour", "gain", "recordings", "minutes", "LAeq, dB", "LAFmax, dB", "unit")
    return Table(head, shown, sortable=True)


# what the page shows of a record: heading → column of the CSV
_SHOWN = {
    "recording": "path",
    "site": "site",
    "began": "start",
    "gain": "gain_setting",
    "length, s": "duration_s",
    "LAeq, dB": "laeq_db",
    "LAFmax, dB": "lafmax_db",
    "L90, dB": "l90_db",
    "unit": "reference",
    "clipped share": "clipped_share",
    "cautions": "warnings",
}


def _recordings(heard: Callable[[], Iterator[Heard]]) -> tuple[Html, dict[str, int], str]:
    """The table, the number of each recording's row, and what was left out of it."""
    several = list(islice(heard(), MOST_ROWS))
    marks = [one.sound.get("mark", "") for one in several]
    rows = {one.record["path"]: i for i, one in enumerate(several)}
    shown = recordings_table(tuple(_SHOWN), (_row(one.record) for one in several), marks)
    # counted afresh: a year of records is never held
    more = sum(1 for _ in heard()) - len(several)
    said = f"The first {len(several)} by their paths; {more} more stand in results.csv."
    return shown, rows, said if more > 0 else ""


def _row(record: Record) -> tuple[str, ...]:
    return tuple(_shown(name, value_of(record, name)) for name in _SHOWN.values())


def _shown(name: str, value: Any) -> str:
    if name == "gain_setting" and value != "":
        return setting_name(value)
    if not isinstance(value, float):
        return str(value)
    # a share is told by its figures
    return f"{value:.2g}" if name == "clipped_share" else f"{value:z.1f}"
