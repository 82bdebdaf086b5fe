"""The map of radii: rings around the microphone within which people's talk may be caught."""

import numpy as np
from matplotlib.axes import Axes

from audiolevel.privacy.audibility import FARTHEST_M, AudibilityCurve
from audiolevel.privacy.review import Review
from audiolevel.report.figures import INK, Picture, new_figure
from audiolevel.report.privacy.figure import LINES
from audiolevel.report.words.quantities import metres, short, up_to

# words that cross a ring stand on white
_CLEAR = {"facecolor": "white", "edgecolor": "none", "pad": 1.0}
# metres; what is nearer is caught anyway
_NEAREST_M = 0.5
_SCALE_M = (1, 3, 10, 30, 100, 300)
# names of rings and places stand in these directions, so that they do not meet
_NAME_AT, _PLACE_AT = 70.0, 205.0


def rings(review: Review, name: str) -> Picture:
    """For each voice a ring within which a word, and one within which sentences may be caught.

    The farther end of what is not known is drawn, on a logarithmic scale of distance; directions
    mean nothing.
    """
    efforts = review.at_gain(review.gain_db)
    wide, narrow = new_figure(10, 5.4), new_figure(4.4, 8.8)
    wide.suptitle(f"{short(name)}: who may be caught, and within which ring", x=0.01, ha="left")
    for words, sentences in (wide.subplots(1, 2), narrow.subplots(2, 1)):
        _map(words, review, {one.effort: one.farthest.words_m for one in efforts}, "a word")
        within_m = {one.effort: one.farthest.sentences_m for one in efforts}
        _map(sentences, review, within_m, "sentences")
    return Picture(wide, _in_words(efforts, name), narrow)


def _out(distance_m: float) -> float:
    """How far from the middle of the map a distance is drawn."""
    return float(np.log10(min(max(distance_m, _NEAREST_M), FARTHEST_M) / _NEAREST_M))


def _map(axes: Axes, review: Review, radii: dict[str, float], what: str) -> None:
    turn = np.linspace(0, 2 * np.pi, 200)
    for mark in _SCALE_M:
        r = _out(mark)
        axes.plot(r * np.cos(turn), r * np.sin(turn), color="#e0e0e0", linewidth=0.8, zorder=0)
        axes.text(
            0, -r, f"{mark} m", fontsize=7.5, color=INK, ha="center", va="center", bbox=_CLEAR
        )
    axes.plot([0], [0], "s", color=INK, markersize=6)
    for i, (effort, radius_m) in enumerate(radii.items()):
        colour, line = LINES[effort]
        r, at = _out(radius_m), np.radians(_NAME_AT - 35 * i)
        axes.plot(r * np.cos(turn), r * np.sin(turn), line, color=colour, linewidth=2)
        axes.annotate(
            f"{effort}: {metres(radius_m)}",
            (r * np.cos(at), r * np.sin(at)),
            fontsize=8.5,
            color=INK,
            bbox={"facecolor": "white", "edgecolor": colour, "boxstyle": "round,pad=0.2"},
        )
    for i, place in enumerate(review.places):
        r, at = _out(place.distance_m), np.radians(_PLACE_AT - 40 * (i % 3))
        axes.plot([r * np.cos(at)], [r * np.sin(at)], "o", color=INK, markersize=4)
        axes.text(
            r * np.cos(at) - 0.05,
            r * np.sin(at),
            f"{short(place.name, 20)}, {place.distance_m:g} m",
            fontsize=8,
            ha="right",
            va="center",
            bbox=_CLEAR,
        )
    most = _out(FARTHEST_M)
    axes.set_xlim(-most * 1.05, most * 1.25)
    axes.set_ylim(-most * 1.08, most * 1.08)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_title(f"{what} may be caught within", fontsize=10, loc="left")


def _in_words(efforts: list[AudibilityCurve], name: str) -> str:
    said = "; ".join(
        f"{one.effort} voice: a word {up_to(one.farthest.words_m)}, sentences "
        f"{up_to(one.farthest.sentences_m)}"
        for one in efforts
    )
    return f"{name}. Rings around the microphone, at the farther end of what is not known. {said}."
