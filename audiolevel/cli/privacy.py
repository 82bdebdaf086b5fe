"""`audiolevel privacy`."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.privacy.review import Review
    from audiolevel.report.sheet import Sheet


@click.command()
@options.listening
@options.marks
@click.option(
    "--assume-full-scale-db",
    type=click.FloatRange(60, 200),
    help="Without a calibration: assume this SPL for a sine that fills the scale; marked as such.",
)
@click.option(
    "--date",
    "date",
    metavar="YYYY-MM-DD",
    help="Of the sheet.  [default: today]",
)
@click.option(
    "--redact", is_flag=True, help="Leave the recordings' names out of everything written."
)
@options.chance
@options.results
def privacy(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    marks: tuple[str, ...],
    assume_full_scale_db: float | None,
    date: str | None,
    redact: bool,
    confidence: float,
    seed: int,
    json_file: str | None,
    out: str | None,
) -> None:
    """How much speech would be captured, and from how far could it be understood?

    A review sheet for whoever decides whether audio may be switched on. It informs and is no legal
    advice: consent and notice rules differ by place. No speech is transcribed, nobody is
    identified, and nothing that is written holds sound.
    """
    from audiolevel.metering.recordings import open_recording
    from audiolevel.planning.plan import plan_of
    from audiolevel.planning.survey import gains_to_simulate, survey_of
    from audiolevel.privacy.audibility import Overhearing
    from audiolevel.privacy.review import redacted, review
    from audiolevel.report.privacy_json import reviewed
    from audiolevel.report.privacy_text import review_sheet
    from audiolevel.report.sheet import as_text
    from audiolevel.site import read_site

    site = read_site(site_file)
    assumed = site.microphone.spl_at_full_scale_db is None and assume_full_scale_db is not None
    if assumed:
        microphone = replace(site.microphone, spl_at_full_scale_db=assume_full_scale_db)
        site = replace(site, microphone=microphone)
    marked = options.marked_in(recordings, marks)
    begins = options.starts_of(recordings, starts)
    ears = [
        Overhearing(open_recording(path).rate_hz, begin)
        for path, begin in zip(_sounds(recordings), begins, strict=True)
    ]
    gains = gains_to_simulate(site)
    heard = options.measure_all(
        recordings, starts, channel, gains=gains, hear=[ear.add for ear in ears]
    )
    folder = Path(site_file).parent if site_file else Path()
    survey = survey_of(heard, site, marks=marked, folder=folder, confidence=confidence, seed=seed)
    found = review(plan_of(survey), [ear.heard() for ear in ears], assumed=assumed)
    if redact:
        found = redacted(found)
    name = site.site.name or ", ".join(one.path.name for one in found.plan.survey.measurements)
    made = review_sheet(found, name, date or f"{datetime.now().date()}")
    result, said = reviewed(found, made), as_text(made)
    if out is not None:
        _write(out, found, made, name, result, said)
    options.deliver(result, said, json_file)


def _sounds(recordings: tuple[str, ...]) -> tuple[str, ...]:
    from audiolevel.errors import RecordingError
    from audiolevel.metering.level_history import is_history

    for path in recordings:
        if is_history(path):
            raise RecordingError(
                f"{path}: is a level history and holds nothing to judge speech by; give the sound"
            )
    return recordings


def _write(
    out: str, found: "Review", made: "Sheet", name: str, result: dict[str, Any], said: str
) -> None:
    from audiolevel.files import write_text
    from audiolevel.report import figures, sheet
    from audiolevel.report.privacy_figure import overheard

    where = options.folder(out)
    options.write_result(where, "privacy", result, said)
    if not found.carried:
        write_text(where / "privacy.md", sheet.as_markdown(made))
        return
    picture = overheard(found, name)
    figures.save(picture, where / "privacy.png")
    text = sheet.as_markdown(made, "privacy.png", picture.alternative)
    write_text(where / "privacy.md", text)
