"""`audiolevel privacy`."""

from typing import TYPE_CHECKING

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command

if TYPE_CHECKING:
    from audiolevel import Site, Visit


@click.command(cls=Command)
@click.option(
    "--assume-full-scale-db",
    type=options.Range(60, 200),
    help="Without a calibration: assume this SPL for a sine that fills the scale; marked as such.",
)
@click.option(
    "--date",
    "date",
    metavar="YYYY-MM-DD",
    help="Of the sheet.  [default: today]",
)
@click.option(
    "--walk-test",
    type=options.PATH,
    metavar="FILE.csv",
    help="Words read aloud at known distances (distance_m,voice,words_read,words_understood).",
)
@options.plan_file
@options.chance
@options.writes
@options.visits(options.marks)
@options.results(options.out, options.page, options.full)
def privacy(
    visits: "list[Visit]",
    site_file: str | None,
    assume_full_scale_db: float | None,
    date: str | None,
    walk_test: str | None,
    plan_file: str | None,
    confidence: float,
    seed: int,
    deliver: options.Delivery,
) -> None:
    """How much speech would be captured, and from how far could it be understood?

    A review sheet for whoever decides whether audio may be switched on. It informs and is no legal
    advice: consent and notice rules differ by place. No speech is transcribed, nobody is
    identified, and nothing that is written holds sound.
    """
    import audiolevel as al

    site: str | Site | None = site_file
    if assume_full_scale_db is not None:
        site = al.read_site(site_file).assuming(assume_full_scale_db)
    result = al.review_privacy(
        visits,
        site=site,
        plan=plan_file,
        date=date,
        walk_test=walk_test,
        confidence=confidence,
        seed=seed,
        progress=options.progress,
    )
    left = deliver.out is not None and result.leaves_assessment(deliver.out)
    deliver(result)
    if left:
        options.remind(
            f"{deliver.out}/assessment.md is filled in and was left: its figures are those of an "
            "earlier review"
        )
