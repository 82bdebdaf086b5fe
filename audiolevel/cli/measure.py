"""`audiolevel measure`."""

from typing import TYPE_CHECKING

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command

if TYPE_CHECKING:
    from audiolevel import Visit


@click.command(cls=Command)
@click.option(
    "--history",
    type=options.PATH,
    metavar="FILE.csv",
    help="Write the level history, a row every 10 ms.",
)
@click.option("--coarse", is_flag=True, help="One row a second in the history, for publication.")
@options.writes
@options.visits(options.log_columns)
@options.results(options.out, options.full)
def measure(
    visits: "list[Visit]",
    site_file: str | None,
    history: str | None,
    coarse: bool,
    deliver: options.Delivery,
) -> None:
    """What are the levels, onsets and clipping in these recordings?

    A level history (CSV) may stand in place of a recording: one made by --history, which is always
    in dB FS, or the log of a sound level meter with a row every second or less. So may the sound
    track of a video (extra: video). - is a WAV stream on standard input.
    """
    import audiolevel as al

    if history is not None and len(visits) != 1:
        raise click.UsageError("--history takes one recording at a time")
    if history is not None and deliver.redact:
        raise click.UsageError("--history shows who talked when: leave out --redact, or --history")
    if coarse and history is None:
        raise click.UsageError("--coarse goes with --history FILE.csv")
    result = al.measure_all(
        visits,
        site=site_file,
        history=history,
        coarse=coarse,
        keep_levels=False,
        progress=options.progress,
    )
    deliver(result)
    if history is not None and not coarse:
        options.remind(
            f"{history} shows that somebody talked, when and how fast, and tells known sentences "
            "apart; for publication --coarse"
        )
