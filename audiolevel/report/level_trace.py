"""Levels over time in a picture: the highest of each moment, with a band down to the lowest.

Entry points: `outline`, `draw`, `unit_of_time`.
"""

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.metering.measurement import Measurement
from audiolevel.report.figures import BLUE, GREY, SKY
from audiolevel.report.words.quantities import span

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# no microphone input is as quiet; what is below is digital silence, or the meter falling to it
NOTHING_DB = -110.0
# a picture of ten inches has hardly more dots beside each other
_MOST_MOMENTS = 1200


@dataclass(frozen=True, eq=False)
class Outline:
    """The lowest and the highest level of each moment, in dB FS; NaN in digital silence.

    Attributes
    ----------
    moment_s : float
        How long a moment is.
    at_s, low_db, high_db : arrays, shape (moments,)
    """

    moment_s: float
    at_s: Array
    low_db: Array
    high_db: Array

    @property
    def silent(self) -> bool:
        """Whether there is nothing but digital silence."""
        return bool(np.isnan(self.high_db).all())


def outline(measurement: Measurement) -> Outline:
    """The outline of a recording, of whole seconds."""
    high, low = measurement.second_lafmax_db, measurement.second_lafmin_db
    per = max(1, ceil(len(high) / _MOST_MOMENTS))
    starts = np.arange(0, len(high), per)
    ends = np.minimum(starts + per, len(high))
    high, low = np.maximum.reduceat(high, starts), np.minimum.reduceat(low, starts)
    high = np.where(_is_silent(high), np.nan, high)
    # a moment that goes down to silence ends where the picture does, and not 100 dB below it
    heard = low[~_is_silent(low)]
    floor_db = heard.min() if heard.size else NOTHING_DB
    low = np.fmin(np.maximum(low, floor_db), high)
    at_s = (starts + ends) / 2 * measurement.second_s
    return Outline(per * measurement.second_s, at_s, np.where(np.isnan(high), high, low), high)


def _is_silent(level_db: Array) -> BoolArray:
    return level_db <= NOTHING_DB


def draw(axes: "Axes", found: Outline, shift_db: float, begin_s: float, unit_s: float) -> None:
    """Draw an outline; silence is said, as a line at minus infinity would hide all else.

    Parameters
    ----------
    axes : Axes
    found : Outline
    shift_db : float
        From dB FS to the unit shown.
    begin_s : float
        Where the recording begins on the axis.
    unit_s : float
        Of the axis.
    """
    at = (found.at_s + begin_s) / unit_s
    if found.silent:
        middle = float(at.mean())
        said = {"ha": "center", "va": "center", "fontsize": 9, "color": GREY}
        axes.text(middle, 0.5, "digital silence", transform=axes.get_xaxis_transform(), **said)  # type: ignore[arg-type]  # keywords by name
        return
    high, low = found.high_db + shift_db, found.low_db + shift_db
    axes.fill_between(at, low, high, color=SKY, alpha=0.45, linewidth=0)
    axes.plot(at, high, color=BLUE, linewidth=0.9)


def in_words(found: Outline) -> str:
    """What is drawn."""
    each = "second" if found.moment_s == 1 else span(found.moment_s)
    return f"line: highest LAF of each {each}; band: down to the lowest"


def unit_of_time(whole_s: float) -> tuple[float, str]:
    """Seconds and name of the unit in which so long a time is told."""
    if whole_s <= 600:
        return 1.0, "seconds"
    return (60.0, "minutes") if whole_s <= 3 * 3600 else (3600.0, "hours")
