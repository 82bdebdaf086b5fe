"""The pictures of a follow-up: expected and seen by date and hour, and what is known now.

Entry points: `pictures_of`, `by_date_and_hour`, `before_and_after`.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from audiolevel.followup.bayes import RatePosterior, update
from audiolevel.followup.comparison import LogComparison, PeriodComparison
from audiolevel.followup.verdict import Followup
from audiolevel.ground.arrays import Array
from audiolevel.report.figures import (
    BLUE,
    GREY,
    INK,
    ORANGE,
    RED,
    Picture,
    legend_below,
    legend_beside,
    new_figure,
    plain,
)
from audiolevel.report.words.quantities import counted

# dates beyond these would be too narrow to read; the table has all of them
_MOST_DATES = 62
# fewer have room below a picture for a phone
_NARROW_NAMES = 4
# of the level, to both sides of what is set
AROUND_DB = 12.0


def pictures_of(result: Followup) -> dict[str, Picture]:
    """The pictures of a follow-up, by what their files are called."""
    return {"followup": by_date_and_hour(result), "levels_known": before_and_after(result)}


def by_date_and_hour(result: Followup) -> Picture:
    """Expected with its interval, and observed, for each date and each hour of the last log."""
    wide, narrow = new_figure(10, 5.6), new_figure(4.4, 6.4)
    _both(wide, result.last, most_names=16)
    _both(narrow, result.last, most_names=_NARROW_NAMES)
    return Picture(wide, _in_words(result), narrow)


def _both(figure: Figure, last: LogComparison, most_names: int) -> None:
    above, below = figure.subplots(2, 1)
    _periods(above, last.by_day[-_MOST_DATES:], "firings on each date", most_names)
    _periods(below, last.by_hour, "firings in each hour of the day, all dates", most_names)
    handles, names = above.get_legend_handles_labels()
    columns = 3 if most_names > _NARROW_NAMES else 1
    how = {"ncols": columns, "fontsize": 9, "frameon": False}
    figure.legend(handles, names, loc="outside lower center", **how)


def _periods(axes: Axes, periods: Sequence[PeriodComparison], title: str, most_names: int) -> None:
    place = np.arange(len(periods))
    low = np.array([one.expected.low for one in periods])
    high = np.array([one.expected.high for one in periods])
    known = [np.nan if one.expected.best is None else one.expected.best for one in periods]
    seen = np.array([one.observed for one in periods])
    axes.vlines(place, low, high, color=BLUE, alpha=0.35, linewidth=7, label="expected, interval")
    axes.plot(place, known, "_", color=BLUE, markersize=11, label="expected, best estimate")
    axes.plot(place, seen, "o", color=INK, markersize=5, label="observed")
    for at, one in zip(place, periods, strict=True):
        if one.stands_out:
            # ringed, so that it is not told by colour alone
            axes.plot([at], [one.observed], "o", mfc="none", mec=RED, markersize=12, mew=2)
    # so many names as have room
    every = max(1, -(-len(periods) // most_names))
    axes.set_xticks(place[::every], [one.name for one in periods[::every]])
    axes.set_ylim(bottom=0)
    axes.set_title(title, fontsize=10, loc="left")
    plain(axes)


def _in_words(result: Followup) -> str:
    last = result.last
    out = [one.name for one in last.by_day if one.stands_out]
    # a number alone would pass for how many do
    out += [f"{one.name}:00" for one in last.by_hour if one.stands_out]
    stand = "stands out" if len(out) == 1 else "stand out"
    stands = f"{', '.join(out)} {stand}" if out else "none stands out"
    return (
        f"Firings expected and observed on {counted(len(last.by_day), 'date')} and in "
        f"{counted(len(last.by_hour), 'hour')} of the day: {last.count} in all; {stands}."
    )


def before_and_after(result: Followup) -> Picture:
    """Firings a day against the setting, as they were known before the logs and as they are now."""
    expectation = result.expectation
    known = np.asarray(expectation.curve.settings_db)
    near = known[np.abs(known - result.last.at_db) <= AROUND_DB]
    levels = near if near.size > 1 else known
    confidence = expectation.confidence
    before = _belief(update(expectation.prior, expectation.earlier), levels, confidence)
    after = _belief(result.posterior, levels, confidence)
    wide, narrow = new_figure(10, 4.0), new_figure(4.4, 4.8)
    for figure, key in ((wide, legend_beside), (narrow, legend_below)):
        axes = figure.subplots()
        _levels(axes, result, levels, before, after)
        key(axes)
    return Picture(wide, _levels_in_words(result), narrow)


def _levels(axes: Axes, result: Followup, levels: Array, before: Array, after: Array) -> None:
    expectation, decision = result.expectation, result.decision
    for (low, best, high), colour, line, name in (
        (before, ORANGE, "--", "before the logs"),
        (after, BLUE, "-", "with them"),
    ):
        axes.fill_between(levels, low, high, color=colour, alpha=0.2, linewidth=0)
        axes.plot(levels, best, line, color=colour, linewidth=2, label=name)
    limit = expectation.limit_per_day
    axes.axhline(limit, color=INK, linewidth=1, linestyle=(0, (1, 2)), label=f"limit {limit:g}")
    axes.plot([result.last.at_db], [_seen(result)], "o", color=INK, label="observed", zorder=5)
    axes.axvline(decision.set_db, color=GREY, linewidth=1.5, label=f"set now: {decision.set_db:g}")
    axes.set_yscale("log")
    # a tenth of a firing a day and less is none
    axes.set_ylim(bottom=max(0.05, float(np.min(after[0]))))
    # plain numbers: powers would be a formula, and names are none here
    axes.yaxis.set_major_formatter(lambda rate, _: f"{rate:,g}")
    axes.set_xlabel(f"setting, {expectation.unit}", fontsize=9.5)
    axes.set_ylabel("firings a day", fontsize=9.5)
    plain(axes)


def _seen(result: Followup) -> float:
    # half a firing where there was none, as a logarithmic scale has no nought
    return max(result.last.observed_per_day, 0.5 / max(result.last.exposure, 1e-9))


def _belief(belief: RatePosterior, levels: Array, confidence: float) -> Array:
    """Lower end, best estimate and upper end of the rate at each level, shape (3, levels)."""
    ends = [(1 - confidence) / 2, 0.5, (1 + confidence) / 2]
    rates = [belief.quantiles(belief.log_rate_at(float(at)), ends) for at in levels]
    return np.asarray(np.exp(np.array(rates)).T)


def _levels_in_words(result: Followup) -> str:
    level, unit = result.decision.level, result.expectation.unit
    return (
        "Firings a day against the setting, before the logs and with them. The limit of "
        f"{result.expectation.limit_per_day:g} a day lies at {level.best:z.1f} {unit} now "
        f"({level.low:z.1f} to {level.high:z.1f})."
    )
