"""One document in, terminal, Markdown and HTML out: nothing lost, nothing cut, nothing too wide."""

import html
import json
import re

import matplotlib.figure
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audiolevel.ground.files import text_mark
from audiolevel.ground.notices import notice
from audiolevel.report.document import (
    WHOLE,
    Document,
    Fact,
    Lines,
    Paragraph,
    Points,
    Section,
    Shown,
    Table,
    as_object,
    cautions,
    document,
)
from audiolevel.report.figures import Picture
from audiolevel.report.html import fragment
from audiolevel.report.markdown import as_markdown
from audiolevel.report.page import page, pictured, text_of
from audiolevel.report.text import LINES, WIDTH, brief, many, whole

TABLE = Table(("name", "levels"), (("first", "1.5"), ("second one", "12.0")), rank=2)
MADE = document(
    "Title of a thing",
    "20 min heard",
    [
        Section(
            "Lead",
            (Fact("SET", "a level of 85 dB", 0), Fact("because", "long. And more", 1, "short")),
            lead=True,
        ),
        Section("Figures", (TABLE, Shown("drawn", "What it shows."))),
        Section("Take care", (Points(("one: [a] | b", "two: <c>"), "take care", 3, warn=True),)),
        Section("Rest", (Paragraph("Sentences."), Lines(("[key]", "a = 1")))),
        Section("Nothing", ()),
    ],
)


def test_the_whole_text_is_in_the_order_of_the_document() -> None:
    assert whole(MADE).splitlines() == [
        "Title of a thing: 20 min heard",
        "",
        "SET         a level of 85 dB",
        "because     long. And more",
        "",
        "Figures",
        "  name        levels",
        "  first          1.5",
        "  second one    12.0",
        "",
        "Take care",
        "  ! one: [a] | b",
        "  ! two: <c>",
        "",
        "Rest",
        "Sentences.",
        "[key]",
        "a = 1",
    ]


def test_the_brief_has_what_ranks_and_names_what_it_leaves_out() -> None:
    lines = brief(MADE, "--full").splitlines()
    assert lines[2:4] == ["SET         a level of 85 dB", "because     long. And more"]
    assert lines[-3:] == [
        "take care   one: [a] | b",
        "take care   two: <c>",
        "more        --full: rest",
    ]


def test_where_room_is_scarce_the_important_stays_and_another_form_is_taken() -> None:
    long = "words " * 70  # seven lines
    facts = (
        Fact("later", long, 5),
        Fact("first", long, 0),
        Fact("second", long, 1),
        Fact("third", long, 2, "the brief form"),
    )
    made = document("T", "", [Section("S", facts, lead=True), Section("Other", (Paragraph("x"),))])
    said = brief(made, "--full")
    assert [line.split()[0] for line in said.splitlines()[2:] if not line.startswith(" ")] == [
        "first",
        "second",
        "third",
        "more",
    ]
    assert "the brief form" in said


def test_a_table_has_as_many_rows_as_fit() -> None:
    rows = tuple((f"row {i}", f"{i}") for i in range(50))
    lines = brief(
        document("T", "", [Section("S", (Table(("a", "b"), rows, 0),), lead=True)]), "--full"
    ).splitlines()
    assert len(lines) <= LINES
    assert "  row 14  14" in lines


def test_a_table_too_wide_wraps_and_loses_no_word() -> None:
    cells = tuple(" ".join(f"{name}{i}" for i in range(30)) for name in "ab")
    said = whole(document("T", "", [Section("S", (Table(("a", "b"), (cells,)),))]))
    assert max(map(len, said.splitlines())) <= WIDTH
    assert sorted(" ".join(cells).split()) == sorted(said.split()[4:])


TEXTS = st.text(min_size=1, max_size=400).filter(str.strip)
BLOCKS = st.one_of(
    st.builds(Fact, st.just("name"), TEXTS, st.integers(0, 9)),
    st.builds(Paragraph, TEXTS, st.sampled_from([0, 3, WHOLE])),
    st.builds(Points, st.lists(TEXTS, max_size=9).map(tuple), st.just("next"), st.integers(0, 9)),
    st.builds(
        lambda rows, rank: Table(("a", "b"), tuple(rows), rank),
        st.lists(st.tuples(TEXTS, TEXTS), max_size=9),
        st.integers(0, 9),
    ),
)


@settings(max_examples=150, deadline=None)
@given(TEXTS, st.lists(st.lists(BLOCKS, max_size=6), max_size=5))
def test_whatever_there_is_to_say_the_brief_fits_and_cuts_no_sentence(
    title: str, blocks: list[list[object]]
) -> None:
    made = document(title, "", [Section("Part", tuple(one)) for one in blocks])  # type: ignore[arg-type]  # of the strategy
    lines = brief(made, "--full").splitlines()
    assert len(lines) <= LINES == 20
    assert max(map(len, [*lines, *whole(made).splitlines()])) <= WIDTH == 80
    flat = "".join("".join(lines).split())
    facts = [one for part in blocks for one in part if isinstance(one, Fact)]
    for one in facts:
        # a fact stands there with its end, or not at all; control characters are shown as boxes
        said = re.sub(r"[\x00-\x08\x0e-\x1f\x7f-\x9f\u2028\u2029]", "\ufffd", one.said)
        begun = "".join(said.split())[:20]
        if len(begun) == 20 and begun in flat:
            assert "".join(said.split()) in flat


def test_the_weightiest_caution_is_the_first() -> None:
    codes = [("uncalibrated", ""), ("not placed", ""), ("gain control", "found"), ("silent", "")]
    (listed,) = cautions(notice(*one) for one in codes).blocks
    assert isinstance(listed, Points)
    assert [said.split(":")[0] for said in listed.said] == [
        *("silent", "gain control", "uncalibrated", "not placed"),
    ]
    assert cautions([]).blocks == ()


def test_markdown_escapes_what_would_be_a_link_or_a_column() -> None:
    said = as_markdown(MADE, {"drawn": ("drawn.png", "a line [up]")})
    assert "- one: \\[a\\] \\| b" in said
    assert "| name | levels |\n| --- | --- |\n| first | 1.5 |" in said
    assert "![a line \\[up\\]](drawn.png)" in said
    assert "- **SET**: a level of 85 dB" in said
    assert "![" not in as_markdown(MADE)


def test_what_follows_a_list_is_no_part_of_its_last_point() -> None:
    # a second reading of CommonMark, with tables
    reader = pytest.importorskip("markdown_it").MarkdownIt("commonmark").enable("table")
    after = (TABLE, Paragraph("Sentences."), Points(("a point",)), Paragraph("More."))
    made = document("T", "", [Section("S", (Fact("name", "said"), *after))])
    tree = [one.type for one in reader.parse(as_markdown(made)) if one.level == 0 and one.nesting]
    assert [one.removesuffix("_open") for one in tree if one.endswith("_open")] == [
        *("heading", "heading", "bullet_list", "table", "paragraph", "bullet_list", "paragraph"),
    ]


def _page(made: Document = MADE, **more: object) -> str:
    figure = matplotlib.figure.Figure()
    figure.subplots().plot([1, 2])
    drawn = pictured({"drawn": Picture(figure, "a line that rises")})
    return page(made, "plan", drawn, **more)  # type: ignore[arg-type]  # keywords by name


def test_html_has_every_word_once_escaped() -> None:
    for made in (_page(), fragment(MADE)):
        words = html.unescape(re.sub(r"<[^>]+>", "\n", made))
        for said in ("SET", "long. And more", "one: [a] | b", "two: <c>", "second one", "a = 1"):
            assert words.count(said) == 1
        assert "<c>" not in made
        assert "<dt>SET</dt><dd>a level of 85 dB</dd>" in made
        assert '<th scope="row">first</th><td data-label="levels">1.5</td>' in made
    assert 'aria-labelledby="take-care-heading"' in _page()
    assert "What it shows." in _page()


def test_a_page_names_no_address_but_those_of_names_of_forms() -> None:
    made = _page(scripts=("common", "listen", "explore"))
    # names of XML's own kinds, which no browser opens
    addresses = set(re.findall(r"https?://[^\s\"'<]+", made))
    assert all(one.startswith("http://www.w3.org/") for one in addresses), addresses
    assert "a line that rises" in made
    assert made.rstrip().endswith("</html>")
    assert text_mark("plan").encode() in made.encode()[-512:]
    assert "<script" not in _page()


def test_data_cannot_end_the_element_it_stands_in() -> None:
    value = {"name": "</script><script>alert(1)</script><!--"}
    made = _page(data={"plan": value})
    held = re.search(r'<script type="application/json" id="plan">(.*?)</script>', made)
    assert held is not None
    assert json.loads(held[1]) == value
    assert made.count("<script") == 1


def test_every_file_of_the_pages_is_there() -> None:
    for name in ("common", "explore", "player", "sortable", "trace_view", "labels", "listen"):
        assert len(text_of(f"{name}.js")) > 300
    assert "@media print" in text_of("page.css")


def test_a_document_for_json_has_its_facts_by_name() -> None:
    first, figures, *_ = as_object(MADE)["sections"]
    assert first["facts"] == {"SET": "a level of 85 dB", "because": "long. And more"}
    assert figures["table"]["rows"][1] == ["second one", "12.0"]


@pytest.mark.parametrize(("number", "shown"), [(3, ["0", "1", "2"]), (5, ["0", "1", "2"])])
def test_the_first_of_many_say_how_many_more(number: int, shown: list[str]) -> None:
    listed = many([str(i) for i in range(number)], 3, "all.csv")
    assert listed == shown + (["2 more: all.csv"] if number > 3 else [])
