"""The picture of a trial: when it fired at each gain, above the level over time."""

from collections.abc import Sequence
from itertools import groupby, pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from audiolevel.metering.calibration import Scale
from audiolevel.planning.trial import Trial
from audiolevel.report.figures import GREY, INK, Picture, beside, new_figure, plain
from audiolevel.report.level_trace import Outline, draw, in_words, outline, unit_of_time
from audiolevel.report.trial.document import not_counted
from audiolevel.report.words.quantities import short, span
from audiolevel.report.words.settings import rate, trigger_words

# inches: of a rail of firings, of the level below, and of a page that is narrow
_RAIL, _LEVEL, _NARROW = 0.3, 2.6, 6.0
# of the width; a name needs that much room
_NAMED_FROM = 0.12


def firings_over_time(trials: Sequence[Trial], scale: Scale) -> Picture:
    """Firings of each gain on a rail of their own, with the level of the recordings below."""
    rows = [list(group) for _, group in groupby(trials, key=lambda one: one.gain.gain_db)]
    what = trigger_words(trials[0].trigger, trials[0].gain.gain_db, scale)
    # of each recording, for both: a day has millions of rows
    found = [outline(one.measurement) for one in rows[0]]
    wide, narrow = (_drawn(width, rows, found, scale, what) for width in (10, 4.4))
    totals = "; ".join(
        f"{trial.measurement.path.name} at {trial.gain.gain_db:+g} dB: {len(trial.firings)} in "
        f"{span(trial.measurement.duration_s)}{not_counted(trial)}"
        for trial in trials
    )
    return Picture(wide, f"When it fired, {what}, above the level over time. {totals}.", narrow)


def _drawn(
    width: float, rows: list[list[Trial]], found: list[Outline], scale: Scale, what: str
) -> Figure:
    """The figure so many inches wide; a narrow one leaves to the page's table what is a day's."""
    figure = new_figure(width, _LEVEL + 1.2 + _RAIL * len(rows))
    rails, level = figure.subplots(
        2, 1, sharex=True, height_ratios=[_RAIL * (len(rows) + 0.4), _LEVEL]
    )
    # recordings stand one after another
    lengths_s = [one.measurement.duration_s for one in rows[0]]
    begins_s = np.concatenate([[0.0], np.cumsum(lengths_s)])
    unit_s, unit = unit_of_time(float(begins_s[-1]))
    broad = width > _NARROW
    rails.set_title(f"{what}: when it fired" if broad else what, fontsize=12, loc="left")
    _rails(rails, rows, begins_s, unit_s, told=broad)
    _levels(level, rows[0], found, scale, begins_s, unit_s)
    _marks(level, rows, scale)
    after = ", one recording after another" if len(lengths_s) > 1 else ""
    said = f" ({in_words(found[int(np.argmax(lengths_s))])})" if broad else ""
    level.set_xlabel(f"{unit}{after}{said}", fontsize=9)
    level.set_xlim(0, begins_s[-1] / unit_s)
    return figure


def _rails(
    axes: Axes, rows: list[list[Trial]], begins_s: np.ndarray, unit_s: float, *, told: bool
) -> None:
    """A rail for each gain, with its firings and what they mean a day."""
    for place, row in enumerate(rows):
        pairs = zip(row, begins_s, strict=False)
        at = [(begin + time) / unit_s for one, begin in pairs for time, _ in one.firings]
        axes.axhline(place, color="#e6e6e6", linewidth=0.8, zorder=0)
        marked = [one for trial in row for one in trial.marked]
        colours = [GREY if one else INK for one in marked]
        axes.vlines(at, place - 0.32, place + 0.32, colors=colours, linewidth=1.3)
        grey = f" ({sum(marked)} marked, grey)" if any(marked) else ""
        day = f"{grey}, {rate(row[0].expected)}" if told else ""
        # beside the rail, so that no firing runs through it
        beside(axes, place, f"{len(at)} seen{day}")
    names = [f"{row[0].gain.gain_db:+g} dB" for row in rows]
    axes.set_yticks(range(len(rows)), names)
    # the first gain on top
    axes.set_ylim(len(rows) - 0.4, -0.6)
    plain(axes)
    axes.grid(visible=False)
    axes.tick_params(axis="both", length=0)
    axes.tick_params(axis="x", labelbottom=False)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)


def _levels(
    axes: Axes,
    row: list[Trial],
    found: list[Outline],
    scale: Scale,
    begins_s: np.ndarray,
    unit_s: float,
) -> None:
    """The level of each recording, as it was recorded."""
    for one, begin_s in zip(found, begins_s, strict=False):
        draw(axes, one, scale.shown(0.0), float(begin_s), unit_s)
    for number, (begin_s, end_s) in enumerate(pairwise(begins_s)):
        if len(row) > 1:
            wide = (end_s - begin_s) / begins_s[-1] >= _NAMED_FROM
            name = short(row[number].measurement.path.name, 22) if wide else str(number + 1)
            axes.axvline(begin_s / unit_s, color=GREY, linewidth=0.8)
            where = {"transform": axes.get_xaxis_transform(), "va": "bottom", "fontsize": 8}
            axes.text(begin_s / unit_s, 1.0, f" {name}", **where)  # type: ignore[arg-type]  # keywords by name
    if all(one.silent for one in found):
        axes.set_yticks([])
    axes.set_ylabel(f"{scale.unit} as recorded", fontsize=9.5)
    plain(axes)


def _marks(axes: Axes, rows: list[list[Trial]], scale: Scale) -> None:
    """Where a threshold lies on the axis of levels, at each gain."""
    if rows[0][0].trigger.mode != "threshold":
        return
    # the same sound pressure at every gain, another level of the recording without calibration
    at: dict[float, list[str]] = {}
    for row in rows:
        gain_db = row[0].gain.gain_db
        as_recorded = scale.shown(row[0].trigger.at_db - gain_db)
        at.setdefault(round(as_recorded, 2), []).append(f"{gain_db:+g} dB")
    edge = axes.get_yaxis_transform()
    for level, gains in at.items():
        axes.plot([1.0], [level], "<", color=INK, markersize=7, transform=edge, clip_on=False)
        said = f"  {level:g}" if len(at) == 1 else f"  {level:g} ({', '.join(gains)})"
        beside(axes, level, said)
    low, high = axes.get_ylim()
    axes.set_ylim(min(low, min(at) - 1), max(high, max(at) + 1))
