"""The picture of a measurement: levels over time, and how often each is exceeded."""

from typing import TYPE_CHECKING

import numpy as np

from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.statistics import Levels
from audiolevel.report.figures import BLUE, RED, Picture, new_figure, plain
from audiolevel.report.level_trace import NOTHING_DB, draw, in_words, outline, unit_of_time
from audiolevel.report.words.quantities import short

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def levels(measurement: Measurement, scale: Scale) -> Picture:
    """Highest and lowest LAF of each second over time, and how often each level is exceeded."""
    figure = new_figure(10, 3.8)
    left, right = figure.subplots(1, 2, width_ratios=[3, 1], sharey=True)
    name = short(measurement.path.name, 70)
    figure.suptitle(f"{name}: levels in {scale.unit}", x=0.01, ha="left", fontsize=12)
    _over_time(left, measurement, scale)
    # closer at both ends, where levels bend
    percents = np.array([1, 2, 5, 10, 20, 30, 50, 70, 80, 90, 95, 99])
    exceeded = np.array([measurement.summary.exceeded_db(float(p)) for p in percents])
    # silence would stretch the axis to 100 dB below all else
    heard = np.where(exceeded > NOTHING_DB, exceeded + scale.shown(0.0), np.nan)
    right.plot(percents, heard, color=BLUE, linewidth=2)
    right.set_xlim(0, 100)
    right.set_xlabel("% of the time exceeded (LAF)", fontsize=9.5)
    plain(right)
    return Picture(
        figure, f"{measurement.path.name}: {_levels_in_words(measurement.levels, scale)}"
    )


def _over_time(axes: "Axes", measurement: Measurement, scale: Scale) -> None:
    found = outline(measurement)
    whole_s = len(measurement.second_lafmax_db) * measurement.second_s
    unit_s, name = unit_of_time(whole_s)
    draw(axes, found, scale.shown(0.0), 0.0, unit_s)
    axes.set_xlim(0, whole_s / unit_s)
    axes.set_xlabel(name, fontsize=9.5)
    axes.set_ylabel(scale.unit, fontsize=9.5)
    said = in_words(found)
    if not found.silent:
        mean = scale.shown(measurement.levels.laeq_db)
        axes.axhline(mean, color=RED, linewidth=1.2, linestyle="--")
        said += f"; dashed: LAeq {mean:z.1f}"
    else:
        axes.set_yticks([])
    # above the axes, where no level can run through it
    axes.set_title(said, fontsize=9, loc="left")
    plain(axes)


def _levels_in_words(levels: Levels, scale: Scale) -> str:
    l10, l90 = levels.percentiles_db["L10"], levels.percentiles_db["L90"]
    return (
        f"LAeq {scale.shown(levels.laeq_db):z.1f}, LAFmax {scale.shown(levels.lafmax_db):z.1f}, "
        f"L10 {scale.shown(l10):z.1f}, L90 {scale.shown(l90):z.1f} {scale.unit}"
    )
