"""A sheet in 80 columns and in Markdown, by hand."""

from audiolevel.report.sheet import RADII, Section, Sheet, Table, as_markdown, as_text

SHEET = Sheet(
    "Title",
    (
        Section("One", ("A paragraph.",), Table(("a", "b"), (("x", "1"), ("long", "2")))),
        Section("From how far", points=("a [b] | c",), shown_by=RADII),
    ),
)


def test_text_numbers_the_sections() -> None:
    assert as_text(SHEET).splitlines() == [
        "Title",
        "=====",
        "",
        "1. One",
        "   A paragraph.",
        "   a     b",
        "   x     1",
        "   long  2",
        "",
        "2. From how far",
        "  - a [b] | c",
    ]


def test_a_cell_too_wide_is_cut_to_eighty_columns() -> None:
    table = Table(("place", "off"), (("p" * 100, "3 m"),))
    lines = as_text(Sheet("T", (Section("S", table=table),))).splitlines()
    assert max(map(len, lines)) == 80
    assert "p…  3 m" in lines[-1]


def test_markdown_escapes_what_would_be_a_link_or_a_column() -> None:
    text = as_markdown(SHEET, "picture.png", "what it shows")
    assert "- a \\[b\\] \\| c" in text
    assert "| a | b |\n| --- | --- |\n| x | 1 |" in text
    assert text.endswith("![what it shows](picture.png)\n")
    assert "![" not in as_markdown(SHEET)
