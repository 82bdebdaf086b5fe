"""`audiolevel trial`."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from audiolevel.cli import options

if TYPE_CHECKING:
    from audiolevel.metering.calibration import Scale
    from audiolevel.planning.trial import Trial


@click.command()
@click.option(
    "--mode",
    type=click.Choice(["threshold", "rise", "fall", "change"]),
    default="threshold",
    show_default=True,
    help="What fires the trigger.",
)
@click.option("--level-db", type=float, help="Of a threshold: dB FS, or dB SPL if calibrated.")
@click.option("--change-db", type=float, help="Step of a rise, fall or change.")
@click.option("--window-s", type=float, help="Within which a change must come.")
@click.option("--hold-s", type=float, help="How long the condition must hold.")
@click.option("--rearm-s", type=float, help="Dead time after a firing.")
@click.option("--release-db", type=float, help="How far below a threshold it is released.")
@click.option(
    "--gain-db",
    "gains_db",
    type=float,
    multiple=True,
    help="dB relative to the recording; repeatable.",
)
@options.listening
@options.chance
@options.results
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
    site_file: str | None,
    channel: int | None,
    starts: tuple[datetime, ...],
    confidence: float,
    seed: int,
    json_file: str | None,
    out: str | None,
) -> None:
    """How often would this trigger fire on these recordings, at these gains?"""
    from audiolevel import __version__
    from audiolevel.metering.calibration import Scale
    from audiolevel.metering.measurement import Gains
    from audiolevel.metering.quality import clipping_notices, quality_notices
    from audiolevel.planning.trial import run_trials
    from audiolevel.report import trial as report
    from audiolevel.report.json_objects import warnings_of
    from audiolevel.report.text import warnings
    from audiolevel.site import read_site
    from audiolevel.triggers.trigger import Trigger

    at = level_db if mode == "threshold" else change_db
    if at is None:
        needed = "--level-db" if mode == "threshold" else "--change-db"
        raise click.UsageError(f"--mode {mode} needs {needed}")
    site = read_site(site_file)
    camera = site.trigger
    asked = Trigger(
        mode,
        at,
        window_s=camera.window_s if window_s is None else window_s,
        hold_s=camera.hold_s if hold_s is None else hold_s,
        rearm_s=camera.rearm_s if rearm_s is None else rearm_s,
        release_db=camera.release_db if release_db is None else release_db,
    )
    scale = Scale(site.microphone.spl_at_full_scale_db)
    noise = site.own_noise_db
    gains = Gains(gains_db or (0.0,), noise)
    heard = options.measure_all(recordings, starts, channel, gains=gains)
    trials = run_trials(
        heard,
        asked,
        scale,
        traffic=site.schedule.traffic_by_hour or None,
        confidence=confidence,
        seed=seed,
    )
    found = [caution for one in heard for caution in quality_notices(one, scale, noise)]
    found += [c for one in trials for c in clipping_notices(one.heard, one.sound.gain_db)]
    cautions = {caution.code: caution for caution in found}
    result = {
        "audiolevel": __version__,
        "trials": [report.tried(one, scale) for one in trials],
        "warnings": warnings_of(cautions.values()),
    }
    lines = [report.told(one, scale, named=len(heard) > 1) for one in trials]
    said = "\n".join([*lines, *warnings(cautions.values())])
    if out is not None:
        _write(out, trials, scale, result, said)
    options.deliver(result, said, json_file)


def _write(
    out: str, trials: "list[Trial]", scale: "Scale", result: dict[str, Any], said: str
) -> None:
    from audiolevel.report import trial as report
    from audiolevel.report.figures import save

    where = options.folder(out)
    options.write_result(where, "trial", result, said)
    save(report.trials(trials, scale), where / "trial.png")
