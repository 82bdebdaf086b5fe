"""The picture of a privacy review: the intelligibility index against distance by vocal effort."""

from math import isinf

import numpy as np
from matplotlib.axes import Axes

from audiolevel.privacy.audibility import DISTANCES_M, FARTHEST_M, UNDERSTOOD_INDEX, AudibilityCurve
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.review import Review
from audiolevel.report.figures import (
    BLUE,
    GREEN,
    GREY,
    INK,
    ORANGE,
    RED,
    Picture,
    new_figure,
    plain,
)

# told apart by line and by the name at the end of each, not by colour alone
_LINES = dict(zip(EFFORTS, ((BLUE, "-"), (GREEN, "--"), (ORANGE, "-."), (RED, ":")), strict=True))
# ranges of the index that the sheet has words for
_NAMED = (
    (0.05, 0.20, "few words"),
    (0.20, 0.30, "some"),
    (0.30, 0.45, "most"),
    (0.45, 1, "nearly all"),
)


def intelligibility_by_distance(review: Review, name: str) -> Picture:
    """Index against distance by vocal effort, in quiet moments and usual ones, radius marked."""
    figure = new_figure(10, 4.4)
    # one scale of the index, so that both panels can be compared
    left, right = figure.subplots(1, 2, sharey=True)
    figure.suptitle(f"{name}: how much of people's talk is understood", x=0.01, ha="left")
    efforts = review.at_gain(review.gain_db)
    _curves(left, efforts, quiet=True)
    _curves(right, efforts, quiet=False)
    left.set_ylabel("speech intelligibility index", fontsize=9.5)
    left.set_title("in quiet moments (noise of L90)", fontsize=10, loc="left")
    right.set_title("at usual moments (noise of L50)", fontsize=10, loc="left")
    return Picture(figure, _in_words(efforts, name))


def _curves(axes: Axes, efforts: list[AudibilityCurve], *, quiet: bool) -> None:
    distance = np.array(DISTANCES_M, dtype=np.float64)
    for one in efforts:
        colour, line = _LINES[one.effort]
        index = one.quiet if quiet else one.typical
        radius = _best(one) if quiet else one.radius_typical_m
        label = f"{one.effort}: {_metres(radius)}"
        axes.plot(distance, index, line, color=colour, linewidth=2, label=label)
        # a radius of none or beyond the farthest distance has no place on the axis
        if distance[0] <= radius <= distance[-1]:
            axes.plot([radius], [UNDERSTOOD_INDEX], "o", color=colour, markersize=7, zorder=5)
    for low, high, words in _NAMED:
        axes.axhline(low, color=GREY, linewidth=0.7, zorder=1)
        # the last range is open upwards: its word stays near its lower end
        middle = (low + min(high, 0.62)) / 2
        words_on = {"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85}
        place = (distance[-1] * 0.97, middle)
        axes.text(*place, words, fontsize=8, ha="right", va="center", bbox=words_on, zorder=6)
    axes.axhline(UNDERSTOOD_INDEX, color=INK, linewidth=1.2)
    axes.set_xscale("log")
    ticks = [d for d in DISTANCES_M if d in (1, 2, 5, 10, 20, 50, 100)]
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(distance[0], distance[-1])
    axes.set_ylim(0, 1)
    axes.set_xlabel("metres from the microphone, in the open", fontsize=9.5)
    plain(axes)
    axes.legend(fontsize=8.5, frameon=False, loc="upper right", title="voice: radius")


def _best(one: AudibilityCurve) -> float:
    assert one.radius_m.best is not None  # a radius always has one, be it infinite
    return one.radius_m.best


def _metres(value: float) -> str:
    return f"over {FARTHEST_M:g} m" if isinf(value) else f"{value:.1f} m"


def _in_words(efforts: list[AudibilityCurve], name: str) -> str:
    said = "; ".join(
        f"{one.effort} voice {_metres(_best(one))} in quiet moments and "
        f"{_metres(one.radius_typical_m)} usually"
        for one in efforts
    )
    return (
        f"{name}: the speech intelligibility index falls with distance. It reaches "
        f"{UNDERSTOOD_INDEX:.2f}, one word in five, at: {said}."
    )
