"""Elements of a page, and what they do with what people write."""

from html.parser import HTMLParser

import pytest

from audiolevel.report.html import Html, joined, raw, tag

HOSTILE = [
    "<script>alert(1)</script>",
    "\"quoted\" 'and' & more",
    "</p></body>",
    "\u202eturned round",
    "🎺" * 60,
    "x" * 300,
]


class _Reader(HTMLParser):
    """What a browser makes of it: elements, attributes and text."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_stays_a_name(name: str) -> None:
    reader = _Reader()
    reader.feed(str(tag("p", tag("bdi", name), title=name)))
    reader.close()
    assert reader.tags == ["p", "bdi"]
    assert reader.attributes == [("title", name)]
    assert reader.text == name


def test_content_may_be_nested_empty_or_html_already() -> None:
    assert joined(["a", None, [tag("b", "c"), raw("<i>d</i>")]]) == "a<b>c</b><i>d</i>"
    assert isinstance(raw("x"), Html)


def test_attributes_are_left_out_bare_or_written() -> None:
    made = tag("input", hidden=True, checked=False, class_="a", data_at_db=1.5, id=None)
    assert str(made) == '<input hidden class="a" data-at-db="1.5">'
