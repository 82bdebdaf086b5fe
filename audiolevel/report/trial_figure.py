"""The picture of a trial: firings as they add up over the recordings."""

from collections.abc import Sequence

import numpy as np

from audiolevel.metering.calibration import Scale
from audiolevel.planning.trial import Trial
from audiolevel.report.figures import (
    BLUE,
    GREEN,
    GREY,
    INK,
    ORANGE,
    RED,
    SKY,
    Picture,
    new_figure,
    plain,
)
from audiolevel.report.text import count, setting
from audiolevel.report.wording import span


def firings_over_time(trials: Sequence[Trial], scale: Scale) -> Picture:
    """Firings as they add up over the recording, one line a gain."""
    figure = new_figure(10, 3.8)
    axes = figure.subplots()
    shades = [BLUE, ORANGE, GREEN, RED, SKY, INK, GREY]
    for i, trial in enumerate(trials):
        # from the start to the end, so that a silent stretch shows as a flat line
        times = [0.0, *(time for time, _ in trial.firings), trial.measurement.duration_s]
        counts = [*range(len(trial.firings) + 1), len(trial.firings)]
        expected = trial.expected.rate
        rate = f"{count(expected.low)} to {count(expected.high)} a day"
        what = f"{trial.measurement.path.name}, {trial.gain.gain_db:+g} dB"
        label = f"{what}: {len(trial.firings)} ({rate})"
        axes.step(
            np.array(times) / 60,
            counts,
            where="post",
            color=shades[i % len(shades)],
            # after seven lines the colours come round again in another style
            linestyle=["-", "--", ":"][i // len(shades) % 3],
            linewidth=1.8,
            label=label,
        )
    first = trials[0]
    what = setting(first.trigger, first.gain.gain_db, scale)
    axes.set_title(f"firings so far: {what}", fontsize=12, loc="left")
    axes.set_xlabel("minutes", fontsize=9.5)
    axes.set_ylabel("firings", fontsize=9.5)
    axes.legend(fontsize=8.5, frameon=False, loc="upper left")
    plain(axes)
    totals = "; ".join(
        f"{trial.measurement.path.name} at {trial.gain.gain_db:+g} dB: {len(trial.firings)} in "
        f"{span(trial.measurement.duration_s)}"
        for trial in trials
    )
    return Picture(figure, f"Firings adding up over time, {what}. {totals}.")
