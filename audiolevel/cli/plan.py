"""`audiolevel plan`."""

from datetime import datetime

import click

from audiolevel.cli import options


@click.command()
@options.listening
@options.marks
@options.weather
@options.chance
@options.results
def plan(
    recordings: tuple[str, ...],
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    marks: tuple[str, ...],
    weather: tuple[str, ...],
    confidence: float,
    seed: int,
    json_file: str | None,
    out: str | None,
) -> None:
    """Which gain and which trigger should be set, and what will they do per hour and day?

    Several recordings of one site, made at the same gain, are one plan; three to five visits of ten
    minutes on different days and hours tell more than one long one.
    """
    import audiolevel as al

    options.once_each("--start", starts, recordings)
    options.once_each("--marks", marks, recordings)
    result = al.plan(
        recordings,
        site=site_file,
        starts=starts,
        marks=marks,
        weather=options.for_each("--weather", weather, recordings),
        channel=channel,
        confidence=confidence,
        seed=seed,
        progress=options.progress,
    )
    options.hand_over(result, json_file, out)
