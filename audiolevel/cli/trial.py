"""`audiolevel trial`."""

from datetime import datetime

import click

from audiolevel.cli import options


@click.command()
@options.mode
@click.option("--level-db", type=float, help="Of a threshold: dB FS, or dB SPL if calibrated.")
@click.option("--change-db", type=float, help="Step of a rise, fall or change, above 0.")
@click.option("--window-s", type=float, help="Within which a change must come, from 0.01.")
@click.option("--hold-s", type=float, help="How long the condition must hold, from 0.")
@click.option("--rearm-s", type=float, help="Dead time after a firing, from 0.")
@click.option("--release-db", type=float, help="How far below a threshold it is released, from 0.")
@click.option(
    "--gain-db",
    "gains_db",
    type=float,
    multiple=True,
    help="dB relative to the recording; repeatable.",
)
@options.gain_setting
@options.listening
@options.reading
@options.marks
@options.weather
@options.chance
@options.full
@options.results
@options.page
@options.writes
def trial(
    recordings: tuple[str, ...],
    mode: str,
    level_db: float | None,
    change_db: float | None,
    window_s: float | None,
    hold_s: float | None,
    rearm_s: float | None,
    release_db: float | None,
    gains_db: tuple[float, ...],
    settings: tuple[str, ...],
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
    confidence: float,
    seed: int,
    full: bool,
    json_file: str | None,
    out: str | None,
    page: str,
) -> None:
    """How often would this trigger fire on these recordings, at these gains?

    Marked stretches are wanted sounds: what fires there is listed and not counted as false.
    """
    import audiolevel as al

    at_db = level_db if mode == "threshold" else change_db
    if at_db is None:
        needed = "--level-db" if mode == "threshold" else "--change-db"
        raise click.UsageError(f"--mode {mode} needs {needed}")
    # an option without effect would pass for one that had it
    if level_db is not None and change_db is not None:
        idle = "--change-db" if mode == "threshold" else "--level-db"
        raise click.UsageError(f"{idle} says nothing to --mode {mode}; leave it out")
    each = options.joined(recordings, sequence=sequence)
    options.once_each("--start", starts, each)
    options.once_each("--marks", marks, each)
    site = al.read_site(site_file)
    given = {
        "window_s": window_s,
        "hold_s": hold_s,
        "rearm_s": rearm_s,
        "release_db": release_db,
    }
    # None takes the site file's own value
    trigger = site.trigger.trigger(mode, at_db, **given)
    result = al.trial(
        recordings,
        trigger,
        # dB and the camera's settings alike; neither is the recorded gain
        gains_db=(*gains_db, *map(site.gain_db_of, settings)) or (0.0,),
        site=site,
        starts=starts,
        marks=marks,
        weather=options.for_each("--weather", weather, each),
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
    options.deliver(result, json_file, out, page, full=full)
