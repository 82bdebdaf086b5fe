"""`audiolevel plan`."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.planning.plan import Plan


@click.command()
@options.listening
@options.marks
@options.chance
@options.results
def plan(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    marks: tuple[str, ...],
    confidence: float,
    seed: int,
    json_file: str | None,
    out: str | None,
) -> None:
    """Which gain and which trigger should be set, and what will they do per hour and day?

    Several recordings of one site, made at the same gain, are one plan; three to five visits of ten
    minutes on different days and hours tell more than one long one.
    """
    from audiolevel.metering.calibration import Scale
    from audiolevel.planning.plan import gains_to_simulate, make_plan, survey_of
    from audiolevel.report import plan_json as plan_object
    from audiolevel.report import plan_text
    from audiolevel.site import read_site

    site = read_site(site_file)
    scale = Scale(site.microphone.spl_at_full_scale_db)
    gains = gains_to_simulate(site, scale)
    marked = options.marked_in(recordings, marks)
    heard = options.measure_all(recordings, starts, channel, gains=gains)
    folder = Path(site_file).parent if site_file else Path()
    survey = survey_of(heard, site, marks=marked, folder=folder, confidence=confidence, seed=seed)
    made = make_plan(survey)
    name = site.site.name or ", ".join(Path(path).name for path in recordings)
    result, said = plan_object.planned(made), plan_text.told(made, name)
    if out is not None:
        _write(out, made, name, folder, result, said)
    options.deliver(result, said, json_file)


def _write(
    out: str, made: "Plan", name: str, folder: Path, result: dict[str, Any], said: str
) -> None:
    from audiolevel.planning.detection_range import range_curves
    from audiolevel.report import plan_figure as plan_picture
    from audiolevel.report.figures import save

    where = options.folder(out)
    options.write_result(where, "plan", result, said)
    save(plan_picture.plan(made, name), where / "plan.png")
    if made.recommended is not None and made.survey.wanted:
        curves = range_curves(made.survey, made.recommended, folder)
        save(plan_picture.ranges(made, curves, name), where / "ranges.png")
