"""What would this one trigger do? As JSON, in lines of 80 columns, and as a picture."""

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
from audiolevel.report.json_objects import Object, expected_of, number, setting_of, significant
from audiolevel.report.text import count, entry, expected, gain, setting, span

# --- JSON ----------------------------------------------------------------------------------------


def tried(trial: Trial, scale: Scale) -> Object:
    """One trial, with each of its firings."""
    gain_db, trigger = trial.sound.gain_db, trial.trigger
    threshold = trigger.mode == "threshold"
    at = scale.shown(trigger.at_db, gain_db) if threshold else trigger.at_db
    return {
        "path": str(trial.heard.path),
        "gain_db": gain_db,
        **setting_of(trigger, at),
        "reference": scale.unit,
        "clipped_share": significant(trial.sound.clipped_share),
        "count": len(trial.fired),
        "duration_s": number(trial.heard.duration_s, 3),
        "expected": expected_of(trial.prediction, 0),
        "triggers": [
            {"time_s": number(time), "level_db": number(scale.shown(level, gain_db))}
            for time, level in trial.fired
        ],
    }


# --- text ----------------------------------------------------------------------------------------


def told(trial: Trial, scale: Scale, *, named: bool = False) -> str:
    """One trial of one trigger at one gain; `named` puts the recording's name before it."""
    gain_db, clipped_share = trial.sound.gain_db, trial.sound.clipped_share
    name = f"{trial.heard.path.name}: " if named else ""
    lines = [f"{name}{setting(trial.trigger, gain_db, scale)}, {gain(gain_db, None)}"]
    clipped = f"; {100 * clipped_share:.2g} % of the samples clip" if clipped_share else ""
    fired = f"{len(trial.fired)} times in {span(trial.heard.duration_s)}{clipped}"
    lines += entry("  fired", fired)
    if trial.fired:
        times = ", ".join(f"{time:.2f}" for time, _ in trial.fired[:12])
        lines += entry("  at (s)", times + (", …" if len(trial.fired) > 12 else ""))
    lines += entry("  expect", expected(trial.prediction, 0))
    return "\n".join(lines)


# --- picture -------------------------------------------------------------------------------------


def trials(tried: Sequence[Trial], scale: Scale) -> Picture:
    """Firings as they add up over the recording, one line a gain."""
    figure = new_figure(10, 3.8)
    axes = figure.subplots()
    shades = [BLUE, ORANGE, GREEN, RED, SKY, INK, GREY]
    for i, trial in enumerate(tried):
        times = [0.0, *(time for time, _ in trial.fired), trial.heard.duration_s]
        counts = [*range(len(trial.fired) + 1), len(trial.fired)]
        low, high = trial.prediction.rate_low_per_day[0], trial.prediction.rate_high_per_day[0]
        rate = f"{count(low)} to {count(high)} a day"
        label = f"{trial.heard.path.name}, {trial.sound.gain_db:+g} dB: {len(trial.fired)} ({rate})"
        axes.step(
            np.array(times) / 60,
            counts,
            where="post",
            color=shades[i % len(shades)],
            linestyle=["-", "--", ":"][i // len(shades) % 3],
            linewidth=1.8,
            label=label,
        )
    first = tried[0]
    what = setting(first.trigger, first.sound.gain_db, scale)
    axes.set_title(f"firings so far: {what}", fontsize=12, loc="left")
    axes.set_xlabel("minutes", fontsize=9.5)
    axes.set_ylabel("firings", fontsize=9.5)
    axes.legend(fontsize=8.5, frameon=False, loc="upper left")
    plain(axes)
    totals = "; ".join(
        f"{trial.heard.path.name} at {trial.sound.gain_db:+g} dB: {len(trial.fired)} in "
        f"{span(trial.heard.duration_s)}"
        for trial in tried
    )
    return Picture(figure, f"Firings adding up over time, {what}. {totals}.")
