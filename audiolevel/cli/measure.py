"""`audiolevel measure`."""

from datetime import datetime

import click

from audiolevel.cli import options


@click.command()
@options.listening
@options.reading
@click.option("--history", metavar="FILE.csv", help="Write the level history, a row every 10 ms.")
@click.option("--coarse", is_flag=True, help="One row a second in the history, for publication.")
@options.full
@options.results
@options.writes
def measure(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    level_column: str | None,
    time_column: str | None,
    begins: tuple[float, ...],
    ends: tuple[float, ...],
    sequence: bool,
    history: str | None,
    coarse: bool,
    full: bool,
    json_file: str | None,
    out: str | None,
) -> None:
    """What are the levels, onsets and clipping in these recordings?

    A level history (CSV) may stand in place of a recording: one made by --history, which is always
    in dB FS, or the log of a sound level meter with a row every second or less. So may the sound
    track of a video (extra: video). - is a WAV stream on standard input.
    """
    import audiolevel as al

    each = options.joined(recordings, sequence=sequence)
    if history is not None and len(each) != 1:
        raise click.UsageError("--history takes one recording at a time")
    if coarse and history is None:
        raise click.UsageError("--coarse goes with --history FILE.csv")
    options.once_each("--start", starts, each)
    result = al.measure_all(
        recordings,
        site=site_file,
        channel=channel,
        level_column=level_column,
        time_column=time_column,
        from_s=options.for_each("--from", begins, each),
        to_s=options.for_each("--to", ends, each),
        sequence=sequence,
        starts=starts,
        history=history,
        coarse=coarse,
        progress=options.progress,
    )
    options.deliver(result, json_file, out, full=full)
    if history is not None and not coarse:
        options.remind(
            f"{history} holds no words, but shows that somebody talked, when and how fast; for "
            "publication --coarse"
        )
