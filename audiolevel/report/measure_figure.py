"""The picture of a measurement: levels over time, and how often each is exceeded."""

from typing import TYPE_CHECKING

import numpy as np

from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.statistics import Levels
from audiolevel.report.figures import BLUE, ORANGE, Picture, new_figure, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def levels(measurement: Measurement, scale: Scale) -> Picture:
    """LAFmax of each second over time, and how often each level is exceeded."""
    figure = new_figure(10, 3.8)
    left, right = figure.subplots(1, 2, width_ratios=[3, 1], sharey=True)
    figure.suptitle(
        f"{measurement.path.name}: levels in {scale.unit}", x=0.01, ha="left", fontsize=12
    )
    _over_time(left, measurement, scale)
    # closer at both ends, where levels bend
    percents = np.array([1, 2, 5, 10, 20, 30, 50, 70, 80, 90, 95, 99])
    exceeded = [scale.shown(measurement.summary.exceeded_db(float(p))) for p in percents]
    right.plot(percents, exceeded, color=BLUE, linewidth=2)
    right.set_xlabel("% of the time exceeded (LAF)", fontsize=9.5)
    plain(right)
    return Picture(
        figure, f"{measurement.path.name}: {_levels_in_words(measurement.levels, scale)}"
    )


def _over_time(axes: "Axes", measurement: Measurement, scale: Scale) -> None:
    # the middle of each second
    seconds = (np.arange(len(measurement.second_lafmax_db)) + 0.5) * measurement.second_s
    long = seconds[-1] > 600
    time = seconds / 60 if long else seconds
    level = measurement.second_lafmax_db + scale.shown(0.0)
    axes.plot(time, level, color=BLUE, linewidth=0.9, label="LAFmax of each second")
    axes.axhline(scale.shown(measurement.levels.laeq_db), color=ORANGE, linewidth=1.2, label="LAeq")
    axes.set_xlabel("minutes" if long else "seconds", fontsize=9.5)
    axes.set_ylabel(scale.unit, fontsize=9.5)
    axes.legend(fontsize=8.5, frameon=False, loc="upper right")
    plain(axes)


def _levels_in_words(levels: Levels, scale: Scale) -> str:
    l10, l90 = levels.percentiles_db["L10"], levels.percentiles_db["L90"]
    return (
        f"LAeq {scale.shown(levels.laeq_db):.1f}, LAFmax {scale.shown(levels.lafmax_db):.1f}, "
        f"L10 {scale.shown(l10):.1f}, L90 {scale.shown(l90):.1f} {scale.unit}"
    )
