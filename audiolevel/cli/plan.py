"""`audiolevel plan`."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.planning import Plan


@click.command()
@options.recordings
@options.site
@options.channel
@options.start
@options.confidence
@options.seed
@options.json_file
@options.out
def plan(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    confidence: float,
    seed: int,
    json_file: str | None,
    out: str | None,
) -> None:
    """Which gain and which trigger should be set, and what will they do per hour and day?

    Several recordings of one site, made at the same gain, are one plan; three to five visits of ten
    minutes on different days and hours tell more than one long one.
    """
    from pathlib import Path

    from audiolevel.calibration import Scale
    from audiolevel.planning import gains_to_hear, make_plan
    from audiolevel.report import objects, text
    from audiolevel.site import read_site

    site = read_site(site_file)
    scale = Scale(site.microphone.spl_at_full_scale_db)
    gains = gains_to_hear(site, scale)
    heard = options.listen_to_all(recordings, starts, channel, gains=gains)
    made = make_plan(heard, site, confidence=confidence, seed=seed)
    name = site.site.name or ", ".join(Path(path).name for path in recordings)
    result, said = objects.planned(made), text.planned(made, name)
    if out is not None:
        _write(out, made, name, result, said)
    options.deliver(result, said, json_file)


def _write(out: str, made: "Plan", name: str, result: dict[str, Any], said: str) -> None:
    from audiolevel.report import figures

    where = options.folder(out)
    options.write_result(where, "plan", result, said)
    figures.save(figures.plan(made, name), where / "plan.png")
