"""`audiolevel measure`."""

from contextlib import nullcontext
from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.metering.calibration import Scale
    from audiolevel.metering.measurement import Measurement


@click.command()
@options.listening
@click.option("--history", metavar="FILE.csv", help="Write the level history, a row every 10 ms.")
@click.option("--coarse", is_flag=True, help="One row a second in the history, for publication.")
@options.results
def measure(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    history: str | None,
    coarse: bool,
    json_file: str | None,
    out: str | None,
) -> None:
    """What are the levels, onsets and clipping in these recordings?

    A level history (CSV) may stand in place of a recording. The history is always in dB FS.
    """
    from audiolevel.metering.calibration import Scale
    from audiolevel.metering.level_history import HistoryWriter
    from audiolevel.metering.quality import quality_notices
    from audiolevel.report import measure as report
    from audiolevel.site import read_site

    if history is not None and len(recordings) != 1:
        raise click.UsageError("--history takes one recording at a time")
    if coarse and history is None:
        raise click.UsageError("--coarse goes with --history FILE.csv")
    site = read_site(site_file)
    scale = Scale(site.microphone.spl_at_full_scale_db)
    writing = nullcontext() if history is None else HistoryWriter(history, coarse=coarse)
    with writing as writer:
        heard = options.measure_all(recordings, starts, channel, history=writer)
    noise = site.own_noise_db
    judged = [(one, quality_notices(one, scale, noise)) for one in heard]
    said = "\n\n".join(report.told(one, cautions, scale) for one, cautions in judged)
    result = report.measured(judged, scale)
    if out is not None:
        _write(out, heard, scale, result, said)
    options.deliver(result, said, json_file)


def _write(
    out: str, heard: "list[Measurement]", scale: "Scale", result: dict[str, Any], said: str
) -> None:
    from audiolevel.report import measure as report
    from audiolevel.report.figures import save

    where = options.folder(out)
    options.write_result(where, "measure", result, said)
    for one in heard:
        save(report.levels(one, scale), where / f"levels_{one.path.stem}.png")
