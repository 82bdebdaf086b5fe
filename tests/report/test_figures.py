"""Pictures are written whole, with their words inside and beside, the same bytes each time."""

import re
import struct
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from audiolevel.report.figures import Picture, new_figure, plain, save, svg_of


def _picture() -> Picture:
    figure = new_figure(2, 1)
    plain(figure.subplots())
    return Picture(figure, "an empty pair of axes")


def test_the_same_picture_gives_the_same_bytes(tmp_path: Path) -> None:
    save(_picture(), tmp_path / "a.png", "plan")
    save(_picture(), tmp_path / "b.png", "plan")
    data = (tmp_path / "a.png").read_bytes()
    assert data == (tmp_path / "b.png").read_bytes()
    # PNG (ISO/IEC 15948), 11.2.2: width and height stand at byte 16; 2 by 1 inches at 144 dpi
    assert struct.unpack(">II", data[16:24]) == (288, 144)
    assert b"an empty pair of axes" in data
    words = (tmp_path / "a.alt.txt").read_text(encoding="utf-8")
    assert words == "an empty pair of axes\n\nmade by audiolevel plan\n"
    # who drew it stands in the picture itself, so the next plan may replace it
    assert b"made by audiolevel plan" in data


def test_a_picture_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = _picture()

    def fail(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(picture.figure, "savefig", fail)
    with pytest.raises(MemoryError):
        save(picture, tmp_path / "a.png", "plan")
    assert list(tmp_path.iterdir()) == []


_HOSTILE = 'Mill & Co "x" <script>alert(1)</script> $a_{ \x07 \u05e9\u05dc\u05d5\u05dd \U0001f600'


def _named(name: str) -> Picture:
    figure = new_figure(8, 3)
    axes = figure.subplots()
    axes.plot([0, 1], [1, 2], "D-", label=name)
    axes.fill_between([0, 1], [0, 1], [2, 3], alpha=0.3)
    axes.set_title(name)
    axes.set_yticks([1, 2], [name, "two"])
    axes.legend()
    plain(axes)
    return Picture(figure, f"a line called {name}")


class _Page(HTMLParser):
    """What a browser would make of a page: its tags and the text in them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.words += data


def test_an_svg_is_one_element_with_its_words_and_the_same_each_time() -> None:
    svg = svg_of(_named("a line"), "one")
    assert svg == svg_of(_named("a line"), "one")
    root = ElementTree.fromstring(svg)
    assert root.tag == "svg"
    assert (root.get("role"), root.get("aria-label")) == ("img", "a line called a line")
    assert root[0].tag == "title"
    assert root[0].text == "a line called a line"
    # 8 by 3 inches of 72 points
    assert (root.get("width"), root.get("height")) == ("100%", None)
    assert root.get("viewBox") == "0 0 576 216"
    # no document of its own, and no rule that would hold for the page around it
    assert not {"metadata", "style", "image"} & {one.tag for one in root.iter()}
    # title, tick and legend stay text that can be found and read out
    assert [one.text for one in root.iter("text")].count("a line") == 3
    assert svg.count("font-family") == 1


def test_ids_of_two_svgs_in_one_page_do_not_meet_and_each_is_found() -> None:
    for prefix in ("one", "two"):
        root = ElementTree.fromstring(svg_of(_named("a line"), prefix))
        ids = [one.get("id", "") for one in root.iter() if one.get("id")]
        assert len(ids) == len(set(ids)) > 10
        assert all(one.startswith(f"{prefix}-") for one in ids)
        text = ElementTree.tostring(root, encoding="unicode")
        used = re.findall(r"url\(#([^)]*)\)", text) + re.findall(r'href="#([^"]*)"', text)
        assert used
        assert set(used) <= set(ids)


def test_a_hostile_name_stays_a_name_in_svg_and_png(tmp_path: Path) -> None:
    svg = svg_of(_named(_HOSTILE), "one")
    page = _Page()
    page.feed(svg)
    assert "script" not in page.tags
    # a character that no XML may hold is replaced, all else stands as it was given
    assert page.words.count(_HOSTILE.replace("\x07", "\N{REPLACEMENT CHARACTER}")) == 4
    ElementTree.fromstring(svg)
    # a lone brace behind a dollar would be an error, were it taken for a formula
    save(_named("$a_{ $"), tmp_path / "a.png", "plan")
    assert (tmp_path / "a.png").stat().st_size > 1000
