"""`audiolevel calibrate`."""

from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.metering.calibration import Calibration


@click.command()
@click.argument("recording", required=False)
@click.option(
    "--tone-db",
    type=click.Choice(["94", "114"]),
    help="RECORDING holds a sound calibrator's 1 kHz tone at this level (IEC 60942).",
)
@click.option("--meter-laeq-db", type=float, help="A meter's LAeq over the minutes of RECORDING.")
@click.option(
    "--sensitivity-dbfs", type=float, help="The microphone's data sheet: dB FS at 94 dB SPL."
)
@click.option(
    "--reading",
    "readings",
    type=(float, float),
    multiple=True,
    metavar="SHOWN DBFS",
    help="A number the camera showed and the level measured meanwhile; twice or more.",
)
@options.channel
@click.option("--write", "write", metavar="FILE.toml", help="Make or complete a site file.")
@options.json_file
def calibrate(
    recording: str | None,
    tone_db: str | None,
    meter_laeq_db: float | None,
    sensitivity_dbfs: float | None,
    readings: tuple[tuple[float, float], ...],
    channel: int | None,
    write: str | None,
    json_file: str | None,
) -> None:
    """How do the recording's decibels, sound pressure and the camera's own scale relate?

    Give one of --tone-db, --meter-laeq-db (both with RECORDING) or --sensitivity-dbfs, or --reading
    pairs, or both kinds. Wear hearing protection near loud test sounds.
    """
    from audiolevel.metering.calibration import fit_display
    from audiolevel.report import calibrate_json, calibrate_text
    from audiolevel.site import add_sections

    ways = [tone_db is not None, meter_laeq_db is not None, sensitivity_dbfs is not None]
    if sum(ways) > 1 or not (any(ways) or readings):
        raise click.UsageError(
            "give one of --tone-db, --meter-laeq-db, --sensitivity-dbfs, or some --reading"
        )
    if (tone_db is not None or meter_laeq_db is not None) and recording is None:
        raise click.UsageError("--tone-db and --meter-laeq-db need a RECORDING")
    result, notices = _calibration(recording, tone_db, meter_laeq_db, sensitivity_dbfs, channel)
    display = fit_display(readings) if readings else None
    sections = calibrate_text.site_file_sections(result, readings)
    if write is not None:
        add_sections(write, sections)
    options.deliver(
        calibrate_json.as_json(result, display, notices),
        calibrate_text.as_text(result, display, notices, sections),
        json_file,
    )


def _calibration(
    recording: str | None,
    tone_db: str | None,
    meter_laeq_db: float | None,
    sensitivity_dbfs: float | None,
    channel: int | None,
) -> "tuple[Calibration | None, list[Any]]":
    from audiolevel.metering import calibration
    from audiolevel.metering.measurement import measure
    from audiolevel.metering.quality import quality_notices
    from audiolevel.metering.recordings import open_recording

    if sensitivity_dbfs is not None:
        return calibration.from_sensitivity(sensitivity_dbfs), []
    if recording is None:
        return None, []
    if tone_db is not None:
        opened = open_recording(recording)
        return calibration.from_tone(opened, float(tone_db), channel or 1), []
    measurement = measure(recording, channel=channel)
    kept = [
        c
        for c in quality_notices(measurement, calibration.Scale())
        if c.code in ("clipped", "truncated")
    ]
    assert meter_laeq_db is not None  # checked with the options
    return calibration.from_meter(meter_laeq_db, measurement.levels.laeq_db), kept
