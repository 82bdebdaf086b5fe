"""`audiolevel trial`."""

from typing import TYPE_CHECKING

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command

if TYPE_CHECKING:
    from audiolevel import Visit


@click.command(cls=Command)
@options.mode
@options.setting
@options.plan_file
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
@options.chance
@options.writes
@options.visits(options.log_columns, options.marks, options.weather)
@options.results(options.out, options.page, options.full)
def trial(
    visits: "list[Visit]",
    site_file: str | None,
    mode: str,
    level_db: float | None,
    change_db: float | None,
    plan_file: str | None,
    gains_db: tuple[float, ...],
    settings: tuple[str, ...],
    confidence: float,
    seed: int,
    deliver: options.Delivery,
    **times: float | None,
) -> None:
    """How often would this trigger fire on these recordings, at these gains?

    Marked stretches are wanted sounds: what fires there is listed and not counted as false.
    """
    import audiolevel as al

    at_db = level_db if mode == "threshold" else change_db
    if at_db is None and plan_file is None:
        needed = "--level" if mode == "threshold" else "--change"
        raise click.UsageError(f"--mode {mode} needs {needed}, or --plan")
    # an option without effect would pass for one that had it
    if level_db is not None and change_db is not None:
        idle = "--change" if mode == "threshold" else "--level"
        raise click.UsageError(f"{idle} says nothing to --mode {mode}; leave it out")
    if at_db is not None and plan_file is not None:
        raise click.UsageError("--plan says the setting; leave out --level and --change")
    site = al.read_site(site_file)
    # None takes the site file's own value
    tried = None if at_db is None else site.trigger.trigger(mode, at_db, **times)
    result = al.trial(
        visits,
        tried or plan_file or "",
        # dB and the camera's settings alike; neither is the recorded gain, or the plan's
        gains_db=(*gains_db, *map(site.gain_db_of, settings)) or None,
        site=site,
        confidence=confidence,
        seed=seed,
        progress=options.progress,
    )
    deliver(result)
