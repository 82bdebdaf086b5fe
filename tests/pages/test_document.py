"""A page as a file: all in one, nothing fetched, closed against what names bring along."""

import json
import re

import matplotlib.figure

from audiolevel.files import text_mark
from audiolevel.pages.document import document, facts, picture, section, table, text_of
from audiolevel.pages.html import tag
from audiolevel.report.figures import Picture


def test_a_page_names_no_address_but_those_of_names_of_forms() -> None:
    figure = matplotlib.figure.Figure()
    figure.subplots().plot([1, 2])
    shown = picture(Picture(figure, "a line that rises"), "line", "A line.")
    page = document("Title", shown, command="plan", scripts=("common", "listen", "explore"))
    # names of XML's own kinds, which no browser opens
    addresses = set(re.findall(r"https?://[^\s\"'<]+", page))
    assert all(one.startswith("http://www.w3.org/") for one in addresses), addresses
    assert "a line that rises" in page
    assert page.rstrip().endswith("</html>")
    assert text_mark("plan").encode() in page.encode()[-512:]


def test_data_cannot_end_the_element_it_stands_in() -> None:
    value = {"name": "</script><script>alert(1)</script><!--"}
    page = document("T", command="plan", data={"plan": value})
    held = re.search(r'<script type="application/json" id="plan">(.*?)</script>', page)[1]
    assert json.loads(held) == value
    assert page.count("<script") == 1


def test_parts_have_names_and_tables_can_be_reached() -> None:
    shown = table(("a", "b"), [["1", "2"]])
    made = str(section("set", "Set this", facts([("Gain", "low")]), shown))
    assert 'aria-labelledby="set-heading"' in made
    assert '<th scope="row">1</th><td>2</td>' in made
    assert "<dt>Gain</dt><dd>low</dd>" in made
    assert 'tabindex="0"' in made


def test_no_script_is_no_script_element() -> None:
    assert "<script" not in document("T", tag("p", "x"), command="plan")


def test_every_file_of_the_pages_is_there() -> None:
    for name in ("common", "explore", "wave_file", "sortable", "trace_view", "labels", "listen"):
        assert len(text_of(f"{name}.js")) > 300
    assert "@media print" in text_of("page.css")
