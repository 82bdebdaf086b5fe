"""The picture of a privacy review: the intelligibility index against distance by vocal effort."""

import numpy as np
from matplotlib.axes import Axes

from audiolevel.privacy.audibility import DISTANCES_M, FARTHEST_M, FOLLOWED_INDEX, AudibilityCurve
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
    beside,
    new_figure,
    plain,
)
from audiolevel.report.words.quantities import metres, short, up_to

# told apart by line and by the name at the end of each, not by colour alone
LINES = dict(zip(EFFORTS, ((BLUE, "-"), (GREEN, "--"), (ORANGE, "-."), (RED, ":")), strict=True))
# ranges of the index that the sheet has words for
_NAMED = (
    (0.05, 0.20, "few words"),
    (0.20, 0.30, "some"),
    (0.30, 0.45, "most"),
    (0.45, 1, "nearly all"),
)


def radii_and_index(review: Review, name: str) -> Picture:
    """How far off each voice is caught while the camera is on, and the index in quiet moments."""
    wide, narrow = new_figure(10, 4.6), new_figure(4.4, 8.8)
    wide.suptitle(f"{short(name, 60)}: from how far people's talk is caught", x=0.01, ha="left")
    efforts = review.at_gain(review.gain_db)
    for bars, curves in (wide.subplots(1, 2), narrow.subplots(2, 1)):
        _bars(bars, efforts)
        _curves(curves, efforts)
    return Picture(wide, _in_words(efforts, name), narrow)


def _bars(axes: Axes, efforts: list[AudibilityCurve]) -> None:
    """For each voice two bars: a word, and sentences; thin to the farther end."""
    # nothing is drawn beyond what is claimed
    end_m = FARTHEST_M
    for i, one in enumerate(efforts):
        colour, _ = LINES[one.effort]
        pairs = (
            (one.active.words_m, one.farthest.words_m, 0.18, "a word"),
            (one.active.sentences_m, one.farthest.sentences_m, -0.18, "sentences"),
        )
        for best, far, up, what in pairs:
            y = i + up
            best, far = (min(max(m, 0.1), end_m) for m in (best, far))
            axes.plot(
                [0.1, best], [y, y], color=colour, alpha=0.55, linewidth=13, solid_capstyle="butt"
            )
            axes.plot([best, far], [y, y], color=colour, linewidth=2)
            # beyond what is claimed it is no number
            words = f" {what}, {up_to(np.inf if far >= end_m else far)}"
            # beside the bar where there is room, else within it
            inside = far > 20
            axes.text(0.12 if inside else far, y, words, fontsize=8, va="center", color=INK)
    axes.set_yticks(range(len(efforts)), [one.effort for one in efforts])
    axes.set_xscale("log")
    ticks = [0.1, 1, 10, 100]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(0.1, end_m)
    axes.set_ylim(-0.6, len(efforts) - 0.4)
    axes.set_xlabel("metres from the microphone\n(thin line: one day in twenty)", fontsize=9)
    axes.set_title("while the camera is on", fontsize=10, loc="left")
    plain(axes)


def _curves(axes: Axes, efforts: list[AudibilityCurve]) -> None:
    distance = np.array(DISTANCES_M, dtype=np.float64)
    for one in efforts:
        colour, line = LINES[one.effort]
        axes.plot(distance, one.cleaned, line, color=colour, linewidth=2, label=one.effort)
    for low, high, words in _NAMED:
        axes.axhline(low, color=GREY, linewidth=0.7, zorder=1)
        # the last range is open upwards: its word stays near its lower end
        middle = (low + min(high, 0.62)) / 2
        beside(axes, middle, words, fontsize=8)
    axes.axhline(FOLLOWED_INDEX, color=INK, linewidth=1.2)
    axes.set_xscale("log")
    ticks = [d for d in DISTANCES_M if d in (1, 2, 5, 10, 20, 50, 100)]
    axes.set_xticks(ticks, [str(tick) for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(distance[0], distance[-1])
    axes.set_ylim(0, 1)
    axes.set_xlabel("metres from the microphone, in the open", fontsize=9)
    axes.set_ylabel("speech intelligibility index", fontsize=9)
    axes.set_title("index in quiet moments, cleaned by software", fontsize=10, loc="left", pad=20)
    plain(axes)
    # above the axes: where it is quiet all lines run along the top
    axes.legend(
        fontsize=8.5, frameon=False, loc="lower left", bbox_to_anchor=(-0.02, 0.99), ncols=4
    )


def _in_words(efforts: list[AudibilityCurve], name: str) -> str:
    said = "; ".join(
        f"{one.effort} voice: a word {up_to(one.farthest.words_m)} (best estimate "
        f"{metres(one.active.words_m)}), sentences {up_to(one.farthest.sentences_m)} "
        f"({metres(one.active.sentences_m)})"
        for one in efforts
    )
    return (
        f"{name}: while the camera is on, of a {said}. Beside it the speech intelligibility index "
        f"falls with distance in the quiet moments heard; sentences can be followed down to "
        f"{FOLLOWED_INDEX:.2f}."
    )
