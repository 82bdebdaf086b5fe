"""`audiolevel batch`."""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.batch.discovery import Item
    from audiolevel.batch.journal import Journal
    from audiolevel.batch.runner import Batch, Progress
    from audiolevel.report.batch_tables import Records

_MOST_REASONS = 10  # of failures on the screen; all of them stand in failures.csv


@click.command()
@click.argument("folder")
@click.option("--out", required=True, metavar="RESULTS", help="Folder for the results; resumes.")
@click.option("--include", multiple=True, metavar="GLOB", help="Only these paths; repeatable.")
@click.option("--exclude", multiple=True, metavar="GLOB", help="Not these paths; repeatable.")
@click.option("--manifest", metavar="FILE.csv", help="path,start,gain_setting,site,channel")
@options.site
@options.channel
@click.option("--jobs", type=click.IntRange(1, 256), help="Processes.  [default: one a core]")
@click.option("--scheduler", metavar="ADDRESS", help="Run on a Dask cluster (extra: cluster).")
@click.option("--plan", "plan_too", is_flag=True, help="One pooled plan for each site as well.")
@click.option("--compare", metavar="RESULTS", help="List what moved against earlier results.")
@click.option(
    "--tolerance-db",
    type=click.FloatRange(0, 100),
    default=0.1,
    show_default=True,
    help="For --compare.",
)
@options.chance
def batch(
    folder: str,
    out: str,
    include: tuple[str, ...],
    exclude: tuple[str, ...],
    manifest: str | None,
    site_file: str | None,
    channel: int | None,
    jobs: int | None,
    scheduler: str | None,
    plan_too: bool,
    compare: str | None,
    tolerance_db: float,
    confidence: float,
    seed: int,
) -> None:
    """Measure a folder of recordings, in parallel and resumable.

    A `site.toml` in a folder holds for what is below it. Ctrl-C stops and keeps what is done; the
    same command goes on from there.
    """
    from audiolevel.batch.discovery import find_items
    from audiolevel.batch.journal import Journal

    items = find_items(
        folder,
        include=include,
        exclude=exclude,
        manifest=manifest,
        site_file=site_file,
        channel=channel,
    )
    where = options.folder(out)
    before = None if compare is None else _earlier(compare)
    with Journal(where) as journal:
        done = _run(folder, items, journal, jobs, scheduler)
        text, bad = _report(where, journal, done, before, tolerance_db)
        if plan_too:
            _plans(folder, where, done, journal, confidence, seed)
    click.echo(text)
    if bad:
        sys.exit(1)


def _run(
    folder: str, items: "list[Item]", journal: "Journal", jobs: int | None, scheduler: str | None
) -> "Batch":
    from audiolevel.batch.executors import cluster, cores, end_processes, processes
    from audiolevel.batch.runner import run_batch
    from audiolevel.report.batch_json import record_of

    workers = jobs or cores()
    try:
        with (
            cluster(scheduler) if scheduler else nullcontext(processes(workers)) as make_executor,
            _progress(len(items)) as progress,
        ):
            return run_batch(
                folder,
                items,
                journal,
                make_executor,
                record_of,
                in_flight=4 * max(workers, 4),
                progress=progress,
            )
    except KeyboardInterrupt:
        end_processes()
        raise click.Abort from None


@contextmanager
def _progress(files: int) -> "Iterator[Callable[[Progress], None] | None]":
    if not sys.stderr.isatty():
        yield None
        return
    begin, shown = time.monotonic(), 0
    with click.progressbar(length=files, label="measuring", file=sys.stderr) as bar:

        def show(now: "Progress") -> None:
            nonlocal shown
            speed = now.measured_s / max(time.monotonic() - begin, 1e-3)
            bar.label = f"{now.files} files, {now.measured_s / 3600:.1f} h, {speed:.0f} × real time"
            bar.update(now.files - shown)
            shown = now.files

        yield show


def _earlier(path: str) -> dict[str, dict[str, Any]]:
    """Records of an earlier batch, by path."""
    import json

    from audiolevel.errors import SettingError

    where = Path(path)
    where = where / "results.jsonl" if where.is_dir() else where
    try:
        lines = where.read_text(encoding="utf-8").splitlines()
        return {record["path"]: record for record in map(json.loads, lines)}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SettingError(f"{where}: holds no results of a batch; check the path") from error


def _report(
    where: Path,
    journal: "Journal",
    done: "Batch",
    before: dict[str, dict[str, Any]] | None,
    tolerance_db: float,
) -> tuple[str, bool]:
    """Write everything; what to say, and whether anything is wrong."""
    from audiolevel.batch import overview
    from audiolevel.files import write_text
    from audiolevel.report import batch_tables, batch_text, text

    def records() -> Iterator[dict[str, Any]]:
        return (
            result["record"] for result in journal.results(list(done.keys)) if "record" in result
        )

    failures = [
        (result["path"], result["reason"])
        for result in journal.results(list(done.keys))
        if "reason" in result
    ]
    batch_tables.write_results(where, records, failures)
    batch_tables.write_summary(where, overview.by_site_and_hour(records()))
    outliers = overview.outliers(records())
    findings = batch_text.findings(
        overview.gain_steps(records(), _stated(done)), overview.drifts(records()), outliers
    )
    write_text(where / "findings.txt", "\n".join(findings) + "\n")
    _pictures(where, records, done, {one.path for one in outliers}, len(failures))
    lines = [batch_text.totals(done)]
    lines += text.bullets("!", [reason for _, reason in failures[:_MOST_REASONS]])
    lines += text.bullets("-", findings)
    moves = [] if before is None else overview.moves(before, records(), tolerance_db)
    if before is not None:
        lines += text.bullets("-", batch_text.moves(moves, tolerance_db))
    return "\n".join(lines), bool(failures or moves)


def _pictures(
    where: Path, records: "Records", done: "Batch", outlying: set[str], failures: int
) -> None:
    from audiolevel.report import batch_figure, figures

    if len(done.items) > failures:
        figures.save(batch_figure.recordings(records), where / "recordings.png")
    pictures = {
        "gain_settings.png": batch_figure.gain_settings(records, _stated(done)),
        "visits.png": batch_figure.visits(records, outlying),
    }
    for name, picture in pictures.items():
        if picture is not None:
            figures.save(picture, where / name)


def _stated(done: "Batch") -> dict[str, dict[float, float]]:
    """What the site files say of each gain setting, by site."""
    from audiolevel.site import read_site

    files = {item.site: item.site_file for item in done.items}
    return {
        site: {at: db for at, db in read_site(file).gain.steps if isinstance(at, float)}
        for site, file in files.items()
        if file
    }


def _plans(
    folder: str, where: Path, done: "Batch", journal: "Journal", confidence: float, seed: int
) -> None:
    """One plan a site from all its recordings at the gain most of them have."""
    import json

    from audiolevel.batch.pooling import pooled_plans
    from audiolevel.files import write_text
    from audiolevel.report import plan_json, plan_text

    good = [
        item
        for item, key in zip(done.items, done.keys, strict=True)
        if "record" in journal.result(key)
    ]
    lines, texts = [], []
    for site, plan, left_out in pooled_plans(folder, good, confidence=confidence, seed=seed):
        line = {"site": site, "left_out": left_out, **plan_json.as_json(plan)}
        lines.append(json.dumps(line, ensure_ascii=False, allow_nan=False))
        texts.append(plan_text.as_text(plan, site))
    write_text(where / "plans.jsonl", "".join(line + "\n" for line in lines))
    write_text(where / "plans.txt", "\n\n".join(texts) + "\n")
