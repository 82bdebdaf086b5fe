"""Pictures: colours, plain axes, and writing one with its words.

`save` writes one matplotlib figure as PNG with its text alternative inside (the PNG's description)
and beside it. Colours are from the Okabe–Ito set, told apart with any colour vision; nothing is
said by colour alone.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audiolevel.files import draft_of, text_mark, write_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK, GREY = "#1a1a1a", "#8c8c8c"
BLUE, ORANGE, GREEN, RED, SKY = "#0072B2", "#E69F00", "#009E73", "#D55E00", "#56B4E9"
COLOURS = [BLUE, RED, GREEN, ORANGE, SKY, INK]


@dataclass(frozen=True)
class Picture:
    """A figure and what it shows, in words."""

    figure: "Figure"
    alternative: str


def save(picture: Picture, path: Path, command: str) -> None:
    """Write a picture as PNG, all of it or nothing, and its text alternative beside it.

    Parameters
    ----------
    picture : Picture
    path : Path
    command : str
        That draws it; its mark stands in the picture and in the words.
    """
    mark = text_mark(command)
    # no date and no program version, so that the same plan gives the same bytes
    meta = {"Description": picture.alternative, "Software": mark}
    with draft_of(path, mark) as draft:
        picture.figure.savefig(draft, format="png", dpi=144, metadata=meta)
    write_text(path.with_suffix(".alt.txt"), f"{picture.alternative}\n\n{mark}\n", mark)


def new_figure(width: float, height: float) -> "Figure":
    """An empty figure, in inches."""
    # imported here: most runs draw nothing; without pyplot no window is ever opened
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained", facecolor="white")


def plain(axes: "Axes") -> None:
    """Axes with a quiet grid and no box."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(colors=INK, labelsize=9)
    axes.grid(visible=True, color="#e6e6e6", linewidth=0.8)
    # the grid behind the lines
    axes.set_axisbelow(True)
