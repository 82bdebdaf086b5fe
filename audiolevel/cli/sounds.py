"""`audiolevel sounds`."""

import click

from audiolevel.cli import options


@click.command()
@click.option(
    "--render",
    type=(str, str),
    metavar="NAME FILE.wav",
    help="Write one sound so that a person can hear it.",
)
@click.option(
    "--distance-m",
    type=click.FloatRange(0.01, 10_000),
    help="Render it as it arrives from here; by default at its source level's own distance.",
)
@click.option("--rate-hz", type=click.IntRange(8000, 192_000), default=48_000, show_default=True)
@click.option(
    "--spl-at-full-scale-db",
    type=click.FloatRange(40, 200),
    default=130.0,
    show_default=True,
    help="Of the rendered file.",
)
@options.seed
@options.json_file
def sounds(
    render: tuple[str, str] | None,
    distance_m: float | None,
    rate_hz: int,
    spl_at_full_scale_db: float,
    seed: int,
    json_file: str | None,
) -> None:
    """Which wanted sounds are built in, how loud are they, and who says so?

    A rendered sound is loud and sudden: turn the volume down before playing it, and do not play it
    where it could be taken for a real alarm.
    """
    from audiolevel.report import sounds_json, sounds_text
    from audiolevel.sounds.received import catalogue

    if render is None:
        listed = catalogue()
        options.deliver(sounds_json.as_json(listed), sounds_text.as_text(listed), json_file)
        return
    from audiolevel.metering.recordings import write_sound
    from audiolevel.sounds.received import find
    from audiolevel.sounds.synthesis import at_full_scale
    from audiolevel.sounds.synthesis import render as rendered

    name, path = render
    sound = find(name)
    pressure = rendered(sound, rate_hz, distance_m=distance_m, seed=seed)
    samples = at_full_scale(pressure, spl_at_full_scale_db)
    write_sound(path, samples.clip(-1, 1), rate_hz)
    away = sound.at_m if distance_m is None else distance_m
    options.deliver(
        sounds_json.rendering_as_json(sound, path, away, spl_at_full_scale_db, samples),
        sounds_text.rendering_as_text(sound, path, away, spl_at_full_scale_db, samples),
        json_file,
    )
