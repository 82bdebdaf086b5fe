"""`audiolevel privacy`."""

from datetime import datetime

import click

from audiolevel.cli import options


@click.command()
@options.listening
@options.extent
@options.marks
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
    "--redact", is_flag=True, help="Leave names of sound files out of everything written."
)
@click.option(
    "--walk-test",
    metavar="FILE.csv",
    help="Words read aloud at known distances (distance_m,voice,words_read,words_understood).",
)
@options.chance
@options.full
@options.results
@options.page
@options.writes
def privacy(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    begins: tuple[float, ...],
    ends: tuple[float, ...],
    sequence: bool,
    marks: tuple[str, ...],
    assume_full_scale_db: float | None,
    date: str | None,
    redact: bool,
    walk_test: str | None,
    confidence: float,
    seed: int,
    full: bool,
    json_file: str | None,
    out: str | None,
    page: str,
) -> None:
    """How much speech would be captured, and from how far could it be understood?

    A review sheet for whoever decides whether audio may be switched on. It informs and is no legal
    advice: consent and notice rules differ by place. No speech is transcribed, nobody is
    identified, and nothing that is written holds sound.
    """
    import audiolevel as al

    each = options.joined(recordings, sequence=sequence)
    options.once_each("--start", starts, each)
    options.once_each("--marks", marks, each)
    result = al.review_privacy(
        recordings,
        site=site_file,
        starts=starts,
        marks=marks,
        channel=channel,
        from_s=options.for_each("--from", begins, each),
        to_s=options.for_each("--to", ends, each),
        sequence=sequence,
        assume_full_scale_db=assume_full_scale_db,
        date=date,
        redact=redact,
        walk_test=walk_test,
        confidence=confidence,
        seed=seed,
        progress=options.progress,
    )
    options.deliver(result, json_file, out, page, full=full)
