"""`audiolevel plan`."""

from datetime import datetime

import click

from audiolevel.cli import options


@click.command()
@options.listening
@options.reading
@options.marks
@options.weather
@options.gain_setting
@options.mode
@click.option("--level", "level_db", type=float, help="Ask for this threshold: dB SPL or dB FS.")
@click.option("--shown", type=float, help="The same on the camera's own scale.")
@click.option(
    "--change", "change_db", type=float, help="Ask for this step of a rise, fall, change."
)
@options.full
@options.chance
@options.results
@options.page
@click.option(
    "--record", "with_record", is_flag=True, help="Write the commissioning record to print, too."
)
@options.writes
def plan(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    level_column: str | None,
    time_column: str | None,
    begins: tuple[float, ...],
    ends: tuple[float, ...],
    sequence: bool,
    marks: tuple[str, ...],
    weather: tuple[str, ...],
    settings: tuple[str, ...],
    mode: str,
    level_db: float | None,
    shown: float | None,
    change_db: float | None,
    full: bool,
    confidence: float,
    seed: int,
    json_file: str | None,
    out: str | None,
    page: str,
    with_record: bool,
) -> None:
    """Which gain and which trigger should be set, and what will they do per hour and day?

    Several recordings of one site, made at the same gain, are one plan; three to five visits of ten
    minutes on different days and hours tell more than one long one. With --level, --shown or
    --change the plan also says what a setting of your own would do, at --gain and in --mode.
    """
    import audiolevel as al

    each = options.joined(recordings, sequence=sequence)
    options.once_each("--start", starts, each)
    options.once_each("--marks", marks, each)
    if with_record and out is None:
        raise click.UsageError("--record goes with --out, the folder to write it into")
    asked = None
    if any(value is not None for value in (level_db, shown, change_db)):
        # one asked setting has one gain; None is the recorded one
        gain = settings[0] if settings else None
        asked = al.Asked(gain, mode, level_db=level_db, shown=shown, change_db=change_db)
    # an option without effect would pass for one that had it
    elif settings or mode != "threshold":
        raise click.UsageError("--gain and --mode go with --level, --shown or --change")
    result = al.plan(
        recordings,
        site=site_file,
        starts=starts,
        marks=marks,
        weather=options.for_each("--weather", weather, each),
        asked=asked,
        channel=channel,
        level_column=level_column,
        time_column=time_column,
        from_s=options.for_each("--from", begins, each),
        to_s=options.for_each("--to", ends, each),
        sequence=sequence,
        confidence=confidence,
        seed=seed,
        progress=options.progress,
    )
    if with_record and out is not None:
        result.save_record(out)
    options.deliver(result, json_file, out, page, full=full)
