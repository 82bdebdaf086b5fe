"""Pictures: colours, plain axes, and writing one with its words.

`save` writes one matplotlib figure as PNG with its text alternative inside (the PNG's description)
and beside it; `svg_of` gives it as an element for a page, with its text as text. Colours are from
the Okabe–Ito set, told apart with any colour vision; nothing is said by colour alone.
"""

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from audiolevel.ground.files import draft_of, text_mark, write_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes as Axes
    from matplotlib.figure import Figure

INK, GREY = "#1a1a1a", "#8c8c8c"
BLUE, ORANGE, GREEN, RED, SKY = "#0072B2", "#E69F00", "#009E73", "#D55E00", "#56B4E9"
COLOURS = [BLUE, RED, GREEN, ORANGE, SKY, INK]


@dataclass(frozen=True)
class Picture:
    """A figure and what it shows, in words; `narrow` is the same drawn for a phone."""

    figure: "Figure"
    alternative: str
    narrow: "Figure | None" = None


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
    with draft_of(path, mark) as draft, _as_written(picture.figure):
        picture.figure.savefig(draft, format="png", dpi=144, metadata=meta)
    write_text(path.with_suffix(".alt.txt"), f"{picture.alternative}\n\n{mark}\n", mark)


def svg_of(picture: Picture, prefix: str) -> str:
    """A picture as an SVG element for a page: text stays text, its words stand in it as its name.

    Parameters
    ----------
    picture : Picture
    prefix : str
        Of every id in it; another for each picture of a page, or they would share their parts.

    Returns
    -------
    str
        One `svg` element as wide as what it stands in, the same characters each time.
    """
    from matplotlib import rc_context

    drawn = StringIO()
    with (
        # a fixed salt: ids are hashes, random otherwise
        rc_context({"svg.fonttype": "none", "svg.hashsalt": "audiolevel"}),
        _as_written(picture.figure),
    ):
        picture.figure.savefig(drawn, format="svg", metadata={"Date": None})
    # names may hold characters that XML cannot, which would end the page's reading
    root = ElementTree.fromstring(_NO_XML.sub("\N{REPLACEMENT CHARACTER}", drawn.getvalue()))
    for element in root.iter():
        _at_home(element, prefix)
    for child in [one for one in root if one.tag == "metadata" or one.find("{*}style") is not None]:
        root.remove(child)
    words = _NO_XML.sub("\N{REPLACEMENT CHARACTER}", picture.alternative)
    title = ElementTree.Element("title")
    title.text = words
    root.insert(0, title)
    root.attrib = {
        "viewBox": root.attrib["viewBox"],
        "width": "100%",
        "role": "img",
        "aria-label": words,
        # in place of matplotlib's style sheet, whose rules would hold for the whole page
        "style": f"stroke-linejoin: round; stroke-linecap: butt; {_FONT}",
    }
    return ElementTree.tostring(root, encoding="unicode")


# what XML 1.0 allows in no form, not even escaped (its production 2, Char)
_NO_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# widths are those of the first; any other is as wide or narrower
_FONT = "font-family: 'DejaVu Sans', sans-serif"
_REFERENCE = re.compile(r"url\(#([^)]*)\)")


def _at_home(element: ElementTree.Element, prefix: str) -> None:
    """An element as it stands within HTML: no name spaces, and ids of its own."""
    element.tag = element.tag.rpartition("}")[2]
    attributes = {}
    for name, value in element.attrib.items():
        # xlink:href is href within HTML
        name = name.rpartition("}")[2]
        if name == "id":
            value = f"{prefix}-{value}"
        elif name == "href":
            value = f"#{prefix}-{value[1:]}"
        attributes[name] = _REFERENCE.sub(rf"url(#{prefix}-\1)", value)
    if "style" in attributes:
        # said once, by the root
        attributes["style"] = re.sub(r"font-family: [^;]*(; )?", "", attributes["style"])
    element.attrib = attributes


@contextmanager
def _as_written(figure: "Figure") -> Iterator[None]:
    """While a figure is drawn: names appear as they were given, whatever stands in them."""
    from matplotlib import rc_context
    from matplotlib.text import Text

    # "$1 bridge, $2 road" is a name and no formula, and an odd brace in it would be an error
    for one in figure.findobj(Text):
        one.set_parse_math(False)
    with rc_context({"text.parse_math": False}), warnings.catch_warnings():
        # a character without a glyph is drawn as a box; the words beside the picture have it
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


def new_figure(width: float, height: float) -> "Figure":
    """An empty figure, in inches."""
    # imported here: most runs draw nothing; without pyplot no window is ever opened
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained", facecolor="white")


def axes_of(given: "Axes | None") -> "Axes":
    """Somebody's axes, or those of a new figure, which a notebook shows by itself."""
    if given is not None:
        return given
    from matplotlib import pyplot

    return pyplot.figure(layout="constrained").add_subplot()


def drawn_on(picture: Picture, given: "Axes | None") -> "Axes":
    """A whole picture as an image on axes, those of a new figure of its size by default."""
    from matplotlib import pyplot
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas: Any = FigureCanvasAgg(picture.figure)
    with _as_written(picture.figure):
        canvas.draw()
    if given is None:
        size = picture.figure.get_size_inches()
        given = pyplot.figure(figsize=tuple(size)).add_axes((0, 0, 1, 1))
    given.imshow(canvas.buffer_rgba())
    given.set_axis_off()
    return given


def note(
    axes: "Axes", words: str, at: tuple[float, float], by: tuple[float, float], **how: Any
) -> None:
    """Words so many points beside a place of the axes, on white: they may stand over lines."""
    ground = {"facecolor": "white", "alpha": 0.75, "edgecolor": "none", "pad": 1.0}
    usual: dict[str, Any] = {"textcoords": "offset points", "fontsize": 8.5, "bbox": ground}
    axes.annotate(words, at, xytext=by, **(usual | how))


def beside(axes: "Axes", y: float, words: str, **how: Any) -> None:
    """Words to the right of the axes, at a height of theirs: no line runs through them."""
    usual: dict[str, Any] = {"fontsize": 8.5, "va": "center"}
    # points, not a share of the width, which may be a phone's
    place: dict[str, Any] = {"xytext": (5, 0), "textcoords": "offset points"}
    edge = axes.get_yaxis_transform()
    axes.annotate(words, (1.0, y), xycoords=edge, **place, **(usual | how), annotation_clip=False)


def legend_beside(axes: "Axes") -> None:
    """A legend to the right of the axes: within, it would hide something."""
    axes.legend(fontsize=8.5, frameon=False, loc="upper left", bbox_to_anchor=(1.01, 1.0))


def legend_below(axes: "Axes") -> None:
    """A legend under the axes, where there is no room beside them."""
    handles, names = axes.get_legend_handles_labels()
    figure = axes.get_figure()
    if figure is not None:
        figure.legend(handles, names, loc="outside lower left", fontsize=9, frameon=False)


def plain(axes: "Axes") -> None:
    """Axes with a quiet grid and no box."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(colors=INK, labelsize=9)
    axes.grid(visible=True, color="#e6e6e6", linewidth=0.8)
    # the grid behind the lines
    axes.set_axisbelow(True)
