"""`audiolevel batch`."""

import sys
from typing import Any

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command


@click.command(cls=Command)
@click.argument("folder", type=options.PATH)
@click.option(
    "--out",
    required=True,
    type=options.PATH,
    metavar="RESULTS",
    help="Folder for the results; resumes.",
)
@click.option("--include", multiple=True, metavar="GLOB", help="Only these paths; repeatable.")
@click.option("--exclude", multiple=True, metavar="GLOB", help="Not these paths; repeatable.")
@click.option(
    "--manifest",
    type=options.PATH,
    metavar="FILE.csv",
    help="path, and what is known of it: docs/batch.md.",
)
@options.site
@options.channel
@click.option(
    "--jobs",
    type=click.IntRange(1, 256),
    help="Processes.  [default: what pays, at most one a core]",
)
@click.option("--scheduler", metavar="ADDRESS", help="Run on a Dask cluster (extra: cluster).")
@click.option("--plans", "plan_too", is_flag=True, help="One pooled plan for each site as well.")
@click.option(
    "--compare",
    type=options.PATH,
    metavar="RESULTS",
    help="List what moved against earlier results.",
)
@click.option(
    "--tolerance-db",
    type=options.Range(0, 100),
    default=0.1,
    show_default=True,
    help="For --compare.",
)
@options.redact
@options.page
@options.chance
@options.writes
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
    redact: bool,
    page: str,
    confidence: float,
    seed: int,
) -> int:
    """Measure a folder of recordings, in parallel and resumable.

    A `site.toml` in a folder holds for what is below it. Ctrl-C stops and keeps what is done; the
    same command goes on from there. Exit status 0: good; 1: cannot run; 3: something moved; 4: a
    recording or a plan failed that was not known to.
    """
    import audiolevel as al
    from audiolevel.api.folders import BatchStopped

    try:
        result = al.measure_folder(
            folder,
            out,
            chosen=al.Selection(include, exclude, manifest, site_file, channel),
            report=al.BatchReport(
                plans=plan_too,
                confidence=confidence,
                seed=seed,
                compare=compare,
                tolerance_db=tolerance_db,
                page=page == "html",
                redact=redact,
            ),
            jobs=scheduler or jobs,
            progress=_Bar(),
        )
    except BatchStopped as stop:
        # what is done is kept, so Ctrl-C is no error to trace
        raise al.AudioLevelError(str(stop)) from None
    if not options.quiet():
        click.echo(result.to_text())
    # a script that runs this must notice that something failed, or moved
    return result.exit_code


# of the work
_FIRST_ESTIMATE = 0.05


class _Bar:
    """A bar over the files on a terminal; in a log file it would be noise."""

    def __init__(self) -> None:
        self._bar: Any = None

    def __call__(self, done: float, files: float) -> None:
        if not sys.stderr.isatty() or options.quiet():
            return
        options.told_soon("")
        if self._bar is None:
            bar = click.progressbar(
                length=int(files), label="measuring", file=sys.stderr, show_eta=False
            )
            self._bar = bar.__enter__()
        # before that the start of the processes would pass for the speed of all
        self._bar.show_eta = done >= _FIRST_ESTIMATE * files
        # the bar wants the step, not the total
        self._bar.update(int(done) - self._bar.pos)
        if done >= files:
            self._bar.__exit__(None, None, None)
            options.told_soon(f"drawing and writing the pages of {files:.0f} files, some seconds")
