"""A sheet of sections for a reader, written as text of 80 columns or as Markdown.

Entry points: `Sheet`, `Section`, `Table`, `as_text`, `as_markdown`.
"""

import textwrap
from dataclasses import dataclass

from audiolevel.report.text import WIDTH, bullets

# what a section may be shown by: the radii with the index, and the rings around the microphone
RADII, RINGS = "radii", "rings"


@dataclass(frozen=True)
class Table:
    """Columns and rows of text."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Section:
    """A title, then paragraphs, a table and points, as far as there are any.

    `shown_by` names the picture that shows what it says, "" where there is none.
    """

    title: str
    paragraphs: tuple[str, ...] = ()
    table: Table | None = None
    points: tuple[str, ...] = ()
    shown_by: str = ""


@dataclass(frozen=True)
class Sheet:
    """A titled list of sections."""

    title: str
    sections: tuple[Section, ...]


def as_text(sheet: Sheet) -> str:
    """Lines of at most 80 columns."""
    lines = [sheet.title, "=" * min(WIDTH, len(sheet.title))]
    for i, section in enumerate(sheet.sections, 1):
        lines += ["", f"{i}. {section.title}"]
        for paragraph in section.paragraphs:
            lines += textwrap.wrap(
                paragraph,
                WIDTH,
                initial_indent="   ",
                subsequent_indent="   ",
                break_on_hyphens=False,
            )
        if section.table is not None:
            lines += _columns(section.table)
        lines += bullets("-", section.points)
    return "\n".join(lines)


def _columns(table: Table) -> list[str]:
    """A table for the terminal; too wide cells of the first column are cut to fit."""
    rows = [table.head, *table.rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(table.head))]
    # 3 columns of indent, 2 between columns
    spare = WIDTH - 3 - 2 * (len(widths) - 1) - sum(widths[1:])
    # at least eight, so that a name can still be told
    widths[0] = min(widths[0], max(spare, 8))
    out = []
    for row in rows:
        first = row[0] if len(row[0]) <= widths[0] else row[0][: widths[0] - 1] + "…"
        cells = [first, *row[1:]]
        padded = [f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)]
        out.append(("   " + "  ".join(padded)).rstrip())
    return out


def as_markdown(sheet: Sheet, picture: str | None = None, alternative: str = "") -> str:
    """Markdown, with the picture's file after the section on the radii, which it shows."""
    lines = [f"# {sheet.title}", ""]
    for section in sheet.sections:
        lines += [f"## {section.title}", ""]
        for paragraph in section.paragraphs:
            lines += [_escaped(paragraph), ""]
        if section.table is not None:
            lines += _pipes(section.table)
        if section.points:
            lines += [f"- {_escaped(point)}" for point in section.points] + [""]
        if picture is not None and section.shown_by == RADII:
            lines += [f"![{alternative}]({picture})", ""]
    return "\n".join(lines).rstrip() + "\n"


def _pipes(table: Table) -> list[str]:
    rows = [table.head, tuple("---" for _ in table.head), *table.rows]
    return ["| " + " | ".join(_escaped(cell) for cell in row) + " |" for row in rows] + [""]


def _escaped(text: str) -> str:
    """Text whose brackets and bars are not taken for links and columns."""
    # the backslash first, or those put in for the others would be doubled
    for sign in "\\[]|<":
        text = text.replace(sign, "\\" + sign)
    return text
