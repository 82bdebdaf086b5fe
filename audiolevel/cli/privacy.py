"""`audiolevel privacy`."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

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
    from audiolevel.privacy.audibility import SpeechAnalyser
    from audiolevel.privacy.review import make_review, redacted
    from audiolevel.report.privacy_json import as_json
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
    analysers = [
        SpeechAnalyser(open_recording(path).rate_hz, begin)
        for path, begin in zip(_sounds(recordings), begins, strict=True)
    ]
    gains = gains_to_simulate(site)
    measurements = options.measure_all(
        recordings, starts, channel, gains=gains, hear=[analyser.add for analyser in analysers]
    )
    folder = Path(site_file).parent if site_file else Path()
    survey = survey_of(
        measurements, site, marks=marked, folder=folder, confidence=confidence, seed=seed
    )
    analyses = [analyser.result() for analyser in analysers]
    review = make_review(plan_of(survey), analyses, calibration_assumed=assumed)
    if redact:
        review = redacted(review)
    name = site.site.name or ", ".join(one.path.name for one in review.plan.survey.measurements)
    sheet = review_sheet(review, name, date or f"{datetime.now().date()}")
    result, text = as_json(review, sheet), as_text(sheet)
    if out is not None:
        where = options.folder(out)
        options.write_result(where, "privacy", result, text)
        _write_page(where, review, sheet, name)
    options.deliver(result, text, json_file)


def _sounds(recordings: tuple[str, ...]) -> tuple[str, ...]:
    from audiolevel.errors import RecordingError
    from audiolevel.metering.level_history import is_history

    for path in recordings:
        if is_history(path):
            raise RecordingError(
                f"{path}: is a level history and holds nothing to judge speech by; give the sound"
            )
    return recordings


def _write_page(where: Path, review: "Review", sheet: "Sheet", name: str) -> None:
    """The sheet as Markdown, with the picture where a distance can be given."""
    from audiolevel.files import write_text
    from audiolevel.report import figures
    from audiolevel.report.privacy_figure import intelligibility_by_distance
    from audiolevel.report.sheet import as_markdown

    if not review.curves:
        write_text(where / "privacy.md", as_markdown(sheet))
        return
    picture = intelligibility_by_distance(review, name)
    figures.save(picture, where / "privacy.png")
    text = as_markdown(sheet, "privacy.png", picture.alternative)
    write_text(where / "privacy.md", text)
