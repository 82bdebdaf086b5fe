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
    from concurrent.futures import Executor

    from audiolevel.batch.discovery import Item
    from audiolevel.batch.journal import Journal
    from audiolevel.batch.runner import Batch, Progress


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
        said, bad = _report(where, journal, done, before, tolerance_db)
        if plan_too:
            _plans(folder, where, done, journal, confidence, seed)
    click.echo(said)
    if bad:
        sys.exit(1)


def _run(
    folder: str, items: "list[Item]", journal: "Journal", jobs: int | None, scheduler: str | None
) -> "Batch":
    from audiolevel.batch.runner import run_batch
    from audiolevel.report.batch_json import record_of

    workers = jobs or _cores()
    try:
        with (
            _cluster(scheduler) if scheduler else nullcontext(_processes(workers)) as make,
            _progress(len(items)) as tell,
        ):
            return run_batch(
                folder,
                items,
                journal,
                make,
                record_of,
                in_flight=4 * max(workers, 4),
                progress=tell,
            )
    except KeyboardInterrupt:
        _end_workers()
        raise click.Abort from None


def _cores() -> int:
    import os

    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 2


def _processes(workers: int) -> "Callable[[], Executor]":
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    from audiolevel.batch.runner import quiet_worker

    # a fresh interpreter a worker: forking one that has threads would be asking for trouble
    context = multiprocessing.get_context("spawn")
    return lambda: ProcessPoolExecutor(workers, mp_context=context, initializer=quiet_worker)


@contextmanager
def _cluster(address: str) -> "Iterator[Callable[[], Executor]]":
    from audiolevel.errors import SettingError

    try:
        from distributed import Client
    except ImportError as error:
        raise SettingError(
            "--scheduler needs the extra: pip install 'audiolevel[cluster]'"
        ) from error
    try:
        client = Client(address, timeout="3s")  # type: ignore[no-untyped-call]
    except (OSError, TimeoutError, ValueError) as error:
        raise SettingError(f"{address}: no scheduler answers there; check the address") from error
    try:
        yield lambda: client.get_executor(retries=3)  # type: ignore[no-untyped-call]
    finally:
        client.close(timeout=5)  # type: ignore[no-untyped-call]


def _end_workers() -> None:
    import multiprocessing

    for process in multiprocessing.active_children():
        process.terminate()


@contextmanager
def _progress(files: int) -> "Iterator[Callable[[Progress], None] | None]":
    if not sys.stderr.isatty():
        yield None
        return
    begin, shown = time.monotonic(), 0
    with click.progressbar(length=files, label="measuring", file=sys.stderr) as bar:

        def tell(now: "Progress") -> None:
            nonlocal shown
            speed = now.heard_s / max(time.monotonic() - begin, 1e-3)
            bar.label = f"{now.files} files, {now.heard_s / 3600:.1f} h, {speed:.0f} × real time"
            bar.update(now.files - shown)
            shown = now.files

        yield tell


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
    from audiolevel.report import batch_figure as visits
    from audiolevel.report import batch_tables as tables
    from audiolevel.report import figures, text

    def records() -> Iterator[dict[str, Any]]:
        return (
            result["record"] for result in journal.results(list(done.keys)) if "record" in result
        )

    failures = [
        (result["path"], result["reason"])
        for result in journal.results(list(done.keys))
        if "reason" in result
    ]
    tables.write_results(where, records, failures)
    tables.write_summary(where, overview.by_site_and_hour(records()))
    odd = overview.outliers(records())
    found = tables.findings(
        overview.gain_steps(records(), _stated(done)),
        overview.drifts(records()),
        odd,
    )
    write_text(where / "findings.txt", "\n".join(found) + "\n")
    if len(done.items) > len(failures):
        figures.save(visits.many(records), where / "recordings.png")
    pictures = {
        "gain_settings.png": visits.gain_settings(records, _stated(done)),
        "visits.png": visits.visits(records, {one.path for one in odd}),
    }
    for name, picture in pictures.items():
        if picture is not None:
            figures.save(picture, where / name)
    lines = [
        f"{len(done.items)} recordings: {len(done.items) - done.failed} measured "
        f"({done.measured} now), {done.failed} failed"
    ]
    lines += text.bullets("!", [reason for _, reason in failures[:10]])
    lines += text.bullets("-", found)
    moved = [] if before is None else overview.moved(before, records(), tolerance_db)
    if before is not None:
        lines += text.bullets("-", tables.moves(moved, tolerance_db))
    return "\n".join(lines), bool(failures or moved)


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
    lines, said = [], []
    for site, made, left_out in pooled_plans(folder, good, confidence=confidence, seed=seed):
        plan = {"site": site, "left_out": left_out, **plan_json.as_json(made)}
        lines.append(json.dumps(plan, ensure_ascii=False, allow_nan=False))
        said.append(plan_text.as_text(made, site))
    write_text(where / "plans.jsonl", "".join(line + "\n" for line in lines))
    write_text(where / "plans.txt", "\n\n".join(said) + "\n")
