"""`audiolevel sounds`."""

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command


@click.command(cls=Command)
@click.option(
    "--render",
    type=(str, str),
    metavar="NAME FILE.wav",
    help="Write one sound so that a person can hear it; 'gain test' is the tone for calibrate "
    "--steady.",
)
@click.option(
    "--distance-m",
    type=options.Range(0.01, 10_000),
    help="Render it as it arrives from here; by default at its source level's own distance.",
)
@click.option("--rate-hz", type=click.IntRange(8000, 192_000), default=48_000, show_default=True)
@click.option(
    "--spl-at-full-scale-db",
    type=options.Range(40, 200),
    default=130.0,
    show_default=True,
    help="Of the rendered file.",
)
@options.seed
@options.writes
@options.results(options.full)
def sounds(
    render: tuple[str, str] | None,
    distance_m: float | None,
    rate_hz: int,
    spl_at_full_scale_db: float,
    seed: int,
    deliver: options.Delivery,
) -> None:
    """Which wanted sounds are built in, how loud are they, and who says so?

    A rendered sound is loud and sudden: turn the volume down before playing it, and do not play it
    where it could be taken for a real alarm.
    """
    import audiolevel as al
    from audiolevel.api.sounding import render_gain_test

    # without a sound to write, list them all
    if render is None:
        deliver(al.catalogue())
        return
    name, path = render
    if " ".join(name.split()).casefold() == "gain test":
        deliver(render_gain_test(path, rate_hz=rate_hz))
        return
    result = al.render_sound(
        name,
        path,
        distance_m=distance_m,
        rate_hz=rate_hz,
        spl_at_full_scale_db=spl_at_full_scale_db,
        seed=seed,
    )
    deliver(result)
