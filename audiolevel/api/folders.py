"""Measure a folder of recordings, in parallel and resumable, and look at them together."""

import csv
import io
import json
import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from audiolevel.api.frames import frame
from audiolevel.api.results import Progress as Tell
from audiolevel.api.results import made_folder, marked
from audiolevel.batch import overview
from audiolevel.batch.changes import Move, moves
from audiolevel.batch.discovery import ALL_THERE, Item, Selection, find_items
from audiolevel.batch.executors import cluster, processes, refuse_unguarded, worth_starting
from audiolevel.batch.faults import Fault, Heard, faults
from audiolevel.batch.journal import Journal
from audiolevel.batch.pooling import by_site, pooled_plan
from audiolevel.batch.runner import Batch, Progress, key_of, run_batch
from audiolevel.folder.state import plan_file
from audiolevel.followup.plan_file import read_record
from audiolevel.ground.errors import AudioLevelError, SettingError
from audiolevel.ground.files import text_mark, write_text, writing
from audiolevel.ground.names import printable
from audiolevel.ground.texts import read_bytes
from audiolevel.metering.visit import AnyPath
from audiolevel.planning.plan import SitePlan
from audiolevel.report import text
from audiolevel.report.batch import document as batch_text
from audiolevel.report.batch import tables as batch_tables
from audiolevel.report.batch.document import Told
from audiolevel.report.batch.record import record_of
from audiolevel.report.plan import json as plan_json
from audiolevel.report.plan.document import plan_document
from audiolevel.site.site_file import read_site

if TYPE_CHECKING:
    import pandas as pd

    from audiolevel.report.figures import Picture

Record = dict[str, Any]
_MOST_REASONS = 10
_MARK = text_mark("batch")
# sixty thousand recordings, and what is made of them in memory
_MOST_RESULTS = 128 << 20
# what is there before a run must be of one; pictures are looked at when they are drawn
_TABLES = {
    "results.jsonl": batch_tables.RECORD_MARK,
    "results.csv": "path,site,start,gain_setting,",
    "failures.csv": "path,reason",
    "summary.csv": "site,hour,recordings,",
    "findings.txt": _MARK,
    "findings.csv": batch_tables.FINDINGS_MARK,
    "batch.html": _MARK,
}
# what a run may leave out, by its options or for want of what to draw or plan
_NOT_ALWAYS = {
    "batch.html": _MARK,
    "changes.csv": batch_tables.CHANGES_MARK,
    "plans.jsonl": batch_tables.RECORD_MARK,
    "plans.txt": _MARK,
    **dict.fromkeys(batch_text.PICTURES, _MARK),
    **{str(Path(name).with_suffix(".alt.txt")): _MARK for name in batch_text.PICTURES},
}


class BatchStopped(KeyboardInterrupt):
    """Ctrl-C in a batch; its text says how far it came and how it goes on."""


@dataclass(frozen=True)
class FolderResults:
    """What a batch found; the tables and pictures are in its folder.

    Attributes
    ----------
    folder : Path
        Of the results.
    measured : Batch
        The recordings, and which of them failed.
    findings : tuple of str
        What stands out, a line each.
    faults : tuple of Fault
        What is wrong with which recording.
    reasons : tuple of str
        Why recordings failed.
    moves : tuple of Move or None
        What moved against earlier results; None where none were given.
    tolerance_db : float
        Of `moves`.
    new_failures : tuple of str
        Paths that failed and were not known to.
    unplanned : tuple of str
        Sites that have no plan though plans were asked for, and why.
    removed : tuple of str
        Names of files that an earlier run left in the folder and this one does not write.
    """

    folder: Path
    measured: Batch
    findings: tuple[str, ...]
    faults: tuple[Fault, ...]
    reasons: tuple[str, ...]
    moves: tuple[Move, ...] | None
    tolerance_db: float
    new_failures: tuple[str, ...] = ()
    unplanned: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Whether nothing failed and nothing moved."""
        return self.exit_code == 0

    @property
    def exit_code(self) -> int:
        """4 where a recording failed that was not known to, or a plan, else 3 where moved, else 0.

        Known is what the manifest expects, and what failed in the earlier results.
        """
        return 4 if self.new_failures or self.unplanned else 3 if self.moves else 0

    def __repr__(self) -> str:
        return f"<FolderResults in {self.folder}: {batch_text.totals(self.measured)}>"

    def to_frame(self) -> "pd.DataFrame":
        """A row a recording, as `results.csv` has it, as a pandas DataFrame."""
        rows = csv.reader(io.StringIO((self.folder / "results.csv").read_text(encoding="utf-8")))
        names = next(rows)
        return frame([dict(zip(names, row, strict=True)) for row in rows])

    def to_text(self) -> str:
        """The batch in lines of 80 columns."""
        lines = [batch_text.totals(self.measured)]
        lines += _first(self.reasons, "failures.csv")
        lines += _first(self.unplanned, "plans.txt")
        lines += text.bullets("-", self.findings)
        if self.moves is not None:
            lines += text.bullets("-", batch_text.moves(self.moves, self.tolerance_db))
        if self.removed:
            lines += text.bullets("-", [f"removed, of an earlier run: {', '.join(self.removed)}"])
        return "\n".join(lines)


def _first(reasons: Sequence[str], all_in: str) -> list[str]:
    """The first of many reasons as bullets, and where the others stand."""
    return text.bullets("!", text.many(reasons, _MOST_REASONS, all_in))


@dataclass(frozen=True)
class BatchReport:
    """What is made of the measurements of a folder.

    Attributes
    ----------
    plans : bool
        One pooled plan for each site as well.
    confidence, seed
        Of the plans, as in `plan`.
    compare : path, optional
        Earlier results to hold these against; not those that are written now.
    tolerance_db : float
        Of the comparison.
    page : bool
        Write the page, one HTML file, too.
    redact : bool
        Numbers in place of names of recordings and sites, and no start, so neither drift nor hours.
        The journal, a hidden file, keeps the names.
    """

    plans: bool = False
    confidence: float = 0.95
    seed: int = 0
    compare: AnyPath | None = None
    tolerance_db: float = 0.1
    page: bool = True
    redact: bool = False

    def __post_init__(self) -> None:
        if self.redact and (self.plans or self.compare is not None):
            raise SettingError("redact: goes without plans and compare, which go by names")


def measure_folder(
    folder: AnyPath,
    results: AnyPath,
    *,
    chosen: Selection = ALL_THERE,
    report: BatchReport | None = None,
    jobs: int | str | None = None,
    progress: Tell | None = None,
) -> FolderResults:
    """Measure every recording of a folder; what is done already is not done again.

    Parameters
    ----------
    folder, results : path
        Of the recordings, and for the tables and pictures.
    chosen : Selection, optional
        Which recordings, and what is said of them; by default all that are there.
    report : BatchReport, optional
        What is made of them beside tables, pictures and a page.
    jobs : int or str, optional
        Processes, by default as many as pay for themselves, at most one a core; or the address of a
        Dask cluster to run on.
    progress : callable, optional
        Called with the number of recordings done and of all; raising in it ends the batch, and
        keeps what is done.

    Raises
    ------
    SettingError, AudioLevelError
        A file or value cannot be used, the folder holds no recordings, or another run is at work on
        the results.
    BatchStopped
        Ctrl-C; what is done is kept.
    """
    asked = report or BatchReport()
    refuse_unguarded()
    items = find_items(folder, chosen)
    if not items:
        raise SettingError(f"{folder}: holds no recordings to measure; check the path and patterns")
    where = made_folder(results)
    # read before anything is measured: a wrong path must not cost hours
    before = None if asked.compare is None else _earlier(Path(asked.compare))
    inputs = [one for one in (chosen.manifest, chosen.site) if one is not None]
    inputs += [] if asked.compare is None else [_records_of(Path(asked.compare))]
    with writing(inputs) as run:
        for name, mark in _TABLES.items():
            run.check(where / name, mark)
        with Journal(where) as journal:
            done = _run(folder, items, journal, jobs, progress, where)
            told = _told(journal, done, redact=asked.redact)
            of = "" if asked.redact else f" in {printable(Path(folder).resolve().name)}"
            found = _reported(where, told, done, before, asked, f"Recordings{of}")
            if asked.plans:
                unplanned = _plans(folder, where, done, journal, asked)
                found = replace(found, unplanned=tuple(unplanned))
            # what is not of this run would be read as if it were
            removed = [name for name, mark in _NOT_ALWAYS.items() if run.clear(where / name, mark)]
    return replace(found, removed=tuple(removed))


def _run(
    folder: AnyPath,
    items: Sequence[Item],
    journal: Journal,
    jobs: int | str | None,
    tell: Tell | None,
    where: Path,
) -> Batch:
    jobs = jobs or worth_starting(item.within(folder) for item in items)

    def progress(now: Progress) -> None:
        if tell is not None:
            tell(now.files, len(items))

    try:
        with cluster(jobs) if isinstance(jobs, str) else processes(jobs) as workers:
            return run_batch(folder, items, journal, workers, record_of, progress=progress)
    except KeyboardInterrupt as stop:
        kept = sum(key_of(Path(folder), item) in journal for item in items)
        raise BatchStopped(batch_text.stopped(kept, len(items), str(where))) from stop


def _records_of(path: Path) -> Path:
    # the folder of a batch, or the file itself
    return path / "results.jsonl" if os.path.isdir(path) else path


@dataclass(frozen=True)
class _Earlier:
    """An earlier batch: its records by path, and the paths that failed."""

    records: dict[str, Record]
    failed: list[str]


def _earlier(path: Path) -> _Earlier:
    where = _records_of(path)
    try:
        # by "\n" alone: a name may hold other characters that end a line for Python
        lines = read_bytes(where, _MOST_RESULTS).decode("utf-8").split("\n")
        records = [json.loads(line) for line in lines if line]
        # whatever else is missing shows when it is compared, hours later
        for record in records:
            record["percentiles_db"], record["clipping"]["verdict"], record["warnings"]
        of_path = {record["path"]: record for record in records}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SettingError(f"{where}: holds no results of a batch; check the path") from error
    return _Earlier(of_path, _failed_beside(where))


def _failed_beside(results: Path) -> list[str]:
    """Paths that failed in the batch that made these results; a copy elsewhere has none beside."""
    if results.name != "results.jsonl":
        return []
    beside = results.with_name("failures.csv")
    try:
        return batch_tables.read_failed(beside)
    except FileNotFoundError:
        return []
    except (OSError, ValueError) as error:
        raise SettingError(
            f"{beside}: holds no failures of a batch; remove it, or check the path"
        ) from error


def _reported(
    where: Path,
    told: Told,
    done: Batch,
    before: _Earlier | None,
    asked: BatchReport,
    title: str,
) -> FolderResults:
    """Write everything, and say what stands out."""
    # imported here: matplotlib takes long to load and only pictures need it
    from audiolevel.report import figures

    records, failures, heard = told.records, told.failures, told.heard
    tolerance_db = asked.tolerance_db
    batch_tables.write_results(where, records, failures)
    batch_tables.write_summary(where, overview.by_site_and_hour(records()))
    found = faults(heard())
    batch_tables.write_findings(where, found)
    wrong = {one.path for one in found if one.severity != "note"}
    steps = overview.gain_steps(records(), told.stated)
    drifting = overview.drifts(records(), wrong)
    silent = overview.silent_by_site(records())
    findings = batch_text.findings(steps, drifting, found, silent)
    _write_lines(where / "findings.txt", [*findings, "", _MARK])
    pictures = _drawn(told, wrong, len(done.items))
    for name, picture in pictures.items():
        figures.save(picture, where / name, "batch")
    known = {item.path for item in done.items if item.fails}
    known |= set() if before is None else set(before.failed)
    moved = None
    if before is not None:
        failed = [path for path, _ in failures]
        moved = moves(before.records, records(), tolerance_db, failed, before.failed)
        batch_tables.write_changes(where, moved)
    if asked.page:
        words = [] if moved is None else batch_text.moves(moved, tolerance_db)
        made = batch_text.batch_page(
            title,
            told,
            totals=batch_text.totals(done),
            findings=batch_text.findings(steps, drifting, (), silent),
            found=found,
            moved=words,
            pictures=pictures,
        )
        write_text(where / "batch.html", made, _MARK)
    return FolderResults(
        folder=where,
        measured=done,
        findings=tuple(findings),
        faults=tuple(found),
        reasons=tuple(reason for _, reason in failures),
        moves=None if moved is None else tuple(moved),
        tolerance_db=tolerance_db,
        new_failures=tuple(path for path, _ in failures if path not in known),
    )


def _told(journal: Journal, done: Batch, *, redact: bool) -> Told:
    paths = {one.path: f"recording {i}" for i, one in enumerate(done.items, 1)}
    sites = {one: f"site {i}" for i, one in enumerate(sorted({i.site for i in done.items}), 1)}

    def heard() -> Iterator[Heard]:
        for result in journal.results(list(done.keys)):
            if "record" in result:
                record = result["record"]
                if redact:
                    named = {"path": paths[record["path"]], "site": sites[record["site"]]}
                    record = {**record, **named, "start": None, "warning_texts": {}}
                yield Heard(record, result.get("sound", {}))

    failures, stated = _failures(journal, done), _stated(done)
    if redact:
        # a reason names the file, and may name what is in it
        failures = [(paths[path], "cannot be measured") for path, _ in failures]
        stated = {sites[site]: steps for site, steps in stated.items()}
    return Told(heard, failures, stated)


def _failures(journal: Journal, done: Batch) -> list[tuple[str, str]]:
    """Path and reason of each recording that failed, in the order of the paths."""
    failures = []
    for item, key in zip(done.items, done.keys, strict=True):
        if key in done.passing:
            failures.append((item.path, done.passing[key]))
        elif "reason" in (kept := journal.result(key)):
            failures.append((item.path, kept["reason"]))
    return failures


def _drawn(told: Told, outlying: set[str], many: int) -> dict[str, "Picture"]:
    """The pictures of a batch by the names of their files."""
    # imported here: matplotlib takes long to load and only pictures need it
    from audiolevel.report.batch import figure as batch_figure

    # nothing measured, nothing to draw
    recordings = batch_figure.recordings(told.records) if many > len(told.failures) else None
    pictures = {
        "recordings.png": recordings,
        "gain_settings.png": batch_figure.gain_settings(told.records, told.stated),
        "visits.png": batch_figure.visits(told.records, outlying),
    }
    return {name: picture for name, picture in pictures.items() if picture is not None}


def _stated(done: Batch) -> dict[str, dict[float, float]]:
    """What the site files say of each gain setting, by site; named settings have no order."""
    files = {item.site: item.site_file for item in done.items}
    return {
        site: {at: db for at, db in read_site(file).gain.steps if isinstance(at, float)}
        for site, file in files.items()
        if file
    }


def _plans(
    folder: AnyPath, where: Path, done: Batch, journal: Journal, asked: BatchReport
) -> list[str]:
    """One plan a site from all its recordings at the gain most of them have; why some have none."""
    good = [
        item
        for item, key in zip(done.items, done.keys, strict=True)
        if key not in done.passing and "record" in journal.result(key)
    ]
    lines, texts, unplanned = [], [], []
    for site, own in by_site(good).items():
        try:
            planned, left_out = pooled_plan(
                folder, own, confidence=asked.confidence, seed=asked.seed
            )
            plan, whose = _as_set(planned, own[0].site_file)
        except AudioLevelError as error:
            # the other sites have theirs
            unplanned.append(f"{site}: no plan: {error}")
            continue
        # recordings at another gain cannot be pooled; they are named
        plan_object = plan_json.as_json(plan)
        about = {"site": site, "setting_of": whose, "left_out": left_out}
        line = marked({**about, **plan_object}, "batch")
        lines.append(json.dumps(line, ensure_ascii=False, allow_nan=False))
        made = plan_document(plan, site)
        of = f"the setting of {whose}" if whose else "planned here, as its folder has no plan"
        texts.append(text.whole(replace(made, under=f"{made.under}; {of}")))
    _write_lines(where / "plans.jsonl", lines, batch_tables.RECORD_MARK)
    _write_lines(where / "plans.txt", ["\n\n".join([*texts, *unplanned]), "", _MARK])
    return unplanned


def _as_set(plan: SitePlan, site_file: str | None) -> tuple[SitePlan, str | None]:
    """A plan with the setting that the site's own folder was planned with, and where that is."""
    made = None if site_file is None else plan_file(Path(site_file).parent)
    if made is None or not made.is_file():
        return plan, None
    return plan.speaking_of(read_record(made)), str(made)


def _write_lines(path: Path, lines: Sequence[str], mark: str = _MARK) -> None:
    write_text(path, "".join(line + "\n" for line in lines), mark)
