"""`audiolevel calibrate`."""

from functools import partial
from math import isfinite
from typing import Any

import click

from audiolevel.cli import options
from audiolevel.cli.help import Command


class _ShownAt(click.ParamType):  # type: ignore[type-arg]
    """A moment of a recording and the number shown then."""

    name = "M:SS=NUMBER"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        try:
            moment, shown = str(value).split("=")
            parts = [float(part) for part in moment.split(":")]
            # from the right: seconds, minutes, hours
            seconds = sum(part * 60**i for i, part in enumerate(reversed(parts)))
            # nan and inf are read as numbers
            if not (isfinite(seconds) and isfinite(float(shown))):
                raise ValueError
            return seconds, float(shown)
        except ValueError:
            self.fail(f"{value!r} is not like 1:05=63 (minute:second = number)", param, ctx)


@click.command(cls=Command)
@click.argument("recording", type=options.PATH, required=False)
@click.option(
    "--tone-db",
    type=click.Choice(["94", "114"]),
    help="RECORDING holds a sound calibrator's 1 kHz tone at this level (IEC 60942).",
)
@click.option(
    "--meter-laeq-db",
    type=float,
    help="A meter's LAeq over the minutes of RECORDING, 10 to 150 dB.",
)
@click.option(
    "--sensitivity-dbfs",
    type=float,
    help="The microphone's data sheet: dB FS at 94 dB SPL, -106 to 0.",
)
@click.option(
    "--reading",
    "readings",
    type=(float, float),
    multiple=True,
    metavar="SHOWN DBFS",
    help="A number the camera showed and the level measured meanwhile; twice or more.",
)
@click.option(
    "--record",
    "record",
    type=options.PATH,
    metavar="FILE",
    help="A recording of the minutes in which the camera's numbers were noted.",
)
@click.option(
    "--at",
    "shown_at",
    type=_ShownAt(),
    multiple=True,
    help="What the camera showed at a moment of --record; twice or more.",
)
@click.option(
    "--second-tone",
    type=options.PATH,
    metavar="FILE",
    help="With --tone-db: the calibrator's other level at the same gain, 20 dB apart if linear.",
)
@click.option(
    "--noise",
    "noise",
    type=(str, str),
    multiple=True,
    metavar="FILE GAIN",
    help="A very quiet room at this gain (dB, or a setting of --site); twice or more.",
)
@click.option(
    "--steady",
    type=options.PATH,
    metavar="FILE",
    help="A steady 1 kHz tone and nine claps: does the camera turn its own gain?",
)
@options.site
@options.channel
@options.part
@click.option(
    "--write", "write", type=options.PATH, metavar="FILE.toml", help="Make or complete a site file."
)
@options.writes
@options.results()
def calibrate(
    recording: str | None,
    tone_db: str | None,
    meter_laeq_db: float | None,
    sensitivity_dbfs: float | None,
    readings: tuple[tuple[float, float], ...],
    record: str | None,
    shown_at: tuple[tuple[float, float], ...],
    second_tone: str | None,
    noise: tuple[tuple[str, str], ...],
    steady: str | None,
    site_file: str | None,
    channel: int | None,
    begins: tuple[float, ...],
    ends: tuple[float, ...],
    write: str | None,
    deliver: options.Delivery,
) -> None:
    """How do the recording's decibels, sound pressure and the camera's own scale relate?

    Give one of --tone-db, --meter-laeq-db (both with RECORDING) or --sensitivity-dbfs; or what the
    camera showed, as --reading pairs or by --record and --at; quiet recordings at two gains
    (--noise) for the camera's own noise; a tone with claps (--steady) for gain control; or
    several of these. Wear hearing protection near loud test sounds.
    """
    import audiolevel as al

    # moments without a recording, or a recording without moments
    if (record is None) != (not shown_at):
        raise click.UsageError("--record and --at go together: --record FILE --at 1:05=63 --at …")
    ways = [tone_db is not None, meter_laeq_db is not None, sensitivity_dbfs is not None]
    # two ways to full scale may contradict each other; none at all says nothing
    if sum(ways) > 1 or not (any(ways) or readings or shown_at or noise or steady):
        raise click.UsageError(
            "give one of --tone-db, --meter-laeq-db, --sensitivity-dbfs, or some --reading, or "
            "--record with --at, or --noise, or --steady"
        )
    if second_tone is not None and tone_db is None:
        raise click.UsageError("--second-tone goes with --tone-db")
    if (tone_db is not None or meter_laeq_db is not None) and recording is None:
        raise click.UsageError("--tone-db and --meter-laeq-db need a RECORDING")
    if record is not None and recording is not None:
        raise click.UsageError("--record is a recording by itself; calibrate in two steps")
    options.once_each("--from", begins, ["the recording"])
    options.once_each("--to", ends, ["the recording"])
    from_s, to_s = (moments[0] if moments else None for moments in (begins, ends))
    of_channel = partial(al.Visit, channel=channel)
    by: al.Tone | al.BesideMeter | al.DataSheet | None = None
    if recording is not None and tone_db is not None:
        second = None if second_tone is None else of_channel(second_tone)
        by = al.Tone(of_channel(recording, from_s=from_s, to_s=to_s), float(tone_db), second)
    elif recording is not None and meter_laeq_db is not None:
        by = al.BesideMeter(of_channel(recording, from_s=from_s, to_s=to_s), meter_laeq_db)
    elif sensitivity_dbfs is not None:
        by = al.DataSheet(sensitivity_dbfs)
    result = al.calibrate(
        by,
        readings=readings,
        filmed=None if record is None else al.Filmed(of_channel(record), shown_at),
        noise=[(of_channel(path), _gain(said)) for path, said in noise],
        steady=None if steady is None else of_channel(steady),
        site=site_file,
    )
    if write is not None:
        result.write_site(write)
    deliver(result)


def _gain(said: str) -> float | str:
    """A gain in dB, or the name of a setting."""
    try:
        return float(said)
    except ValueError:
        return said
