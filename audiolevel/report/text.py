"""A document in lines of at most 80 columns: whole, or the most important of it in 20 lines.

Entry points: `whole`, `brief`, `bullets`.
"""

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from audiolevel.ground.names import plain
from audiolevel.report.document import (
    WHOLE,
    Block,
    Document,
    Fact,
    Lines,
    Paragraph,
    Points,
    Section,
    Shown,
    Table,
)
from audiolevel.report.words.quantities import counted, short

WIDTH, LABEL_WIDTH = 80, 12
# a small terminal shows them without scrolling, with the command and the next prompt
LINES = 20
# wrapped like any other space
_SPACE = re.compile("[\t-\r]")
_NUMBER = re.compile(r"[-+~<]?[\d.,]+( %| dB| m| h| s)?|\??")


def whole(made: Document) -> str:
    """All of a document."""
    lines = _heading(made)
    for section in made.sections:
        shown = [line for block in section.blocks for line in _lines(block)]
        if shown:
            title = [] if section.lead else together(section.title, break_on_hyphens=False)
            lines += ["", *title, *shown]
    return "\n".join(lines)


def brief(made: Document, rest: str) -> str:
    """The most important of a document, in at most 20 lines; nothing is cut within a sentence.

    Parameters
    ----------
    made : Document
    rest : str
        Where all that is left out stands.
    """
    lines = [*_heading(made, 2), ""]
    pieces = [
        one for number, section in enumerate(made.sections) for one in _pieces(section, number)
    ]
    # one line says what is left out, and is known only at the end
    room, kept = LINES - len(lines) - 2, dict[int, list[str]]()
    by_rank = sorted(range(len(pieces)), key=lambda at: pieces[at].rank)
    for place in by_rank:
        for form in pieces[place].forms:
            if len(form) <= room:
                kept[place], room = form, room - len(form)
                break
    # room that is left then goes to all of what was shortened
    for place in by_rank:
        more = len(pieces[place].whole) - len(kept.get(place, ()))
        if place in kept and more <= room:
            kept[place], room = pieces[place].whole, room - more
    lines += [line for place in sorted(kept) for line in kept[place]]
    left = [one for place, one in enumerate(pieces) if place not in kept]
    return "\n".join([*lines, *_left_out(made, left, rest)])


@dataclass(frozen=True)
class _Piece:
    """What stands or goes as one: its lines in forms, the first to be tried first, and whole."""

    section: int
    rank: int
    forms: tuple[list[str], ...]
    whole: list[str]


def _pieces(section: Section, number: int) -> Iterable[_Piece]:
    for block in section.blocks:
        if isinstance(block, Points) and block.rank < WHOLE:
            for i, said in enumerate(block.said):
                lines = entry(block.name, said)
                yield _Piece(number, block.rank + i, (lines,), lines)
        elif not isinstance(block, Shown):
            # what no rank calls for has no form that fits
            called = block.rank < WHOLE
            forms = _forms(block) if called else ([""] * LINES,)
            yield _Piece(number, block.rank, forms, _lines(block))


def _forms(block: Block) -> tuple[list[str], ...]:
    if isinstance(block, Fact) and block.brief:
        return (entry(block.name, block.brief),)
    if isinstance(block, Table):
        lines = _columns(block)
        # the head and at least two rows
        return tuple(lines[:end] for end in range(len(lines), 2, -1)) or (lines,)
    return (_lines(block),)


def _left_out(made: Document, left: Sequence[_Piece], rest: str) -> list[str]:
    """What is left out, by the titles of its sections, as many as stand in two lines."""
    titles = [
        one.title[0].lower() + one.title[1:]
        for number, one in enumerate(made.sections)
        if not one.lead and any(piece.section == number for piece in left)
    ]
    if not left:
        return []
    for shown in range(len(titles), 0, -1):
        also = [] if shown == len(titles) else [f"{len(titles) - shown} more"]
        lines = entry("more", f"{rest}: {', '.join([*titles[:shown], *also])}")
        if len(lines) <= 2:
            return lines
    return entry("more", rest)


def _heading(made: Document, most: int = 0) -> list[str]:
    """Title and what it was made from; shortened where it may have so many lines only."""
    after = f": {made.under}" if made.under else ""
    title = short(made.title, most * (WIDTH - 2) - len(after)) if most else made.title
    lines = together(f"{title}{after}", subsequent_indent="  ", break_on_hyphens=False)
    return lines[:most] if most else lines


def _lines(block: Block) -> list[str]:
    match block:
        case Fact(name, said):
            return entry(name, said)
        case Paragraph(said):
            return together(said, break_on_hyphens=False)
        case Points(said, warn=warn):
            return bullets("!" if warn else "-", said)
        case Table():
            return _columns(block)
        case Lines(lines):
            return list(lines)
        case Shown():
            return []


def together(said: str, **how: Any) -> list[str]:
    """Lines of `WIDTH` columns in which a number and its % are not parted; `how` of textwrap."""
    # textwrap breaks at no space but the plain one
    one_line = plain(_SPACE.sub(" ", said))
    lines = textwrap.wrap(one_line.replace(" %", "\N{NO-BREAK SPACE}%"), WIDTH, **how)
    return [line.replace("\N{NO-BREAK SPACE}%", " %") for line in lines]


def entry(name: str, said: str) -> list[str]:
    """A name and what is known under it, wrapped beside it."""
    first = f"{plain(name):<{LABEL_WIDTH - 1}} "
    indent = " " * LABEL_WIDTH
    return together(
        said, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False
    ) or [name]


def bullets(sign: str, texts: Iterable[str]) -> list[str]:
    """One wrapped paragraph a text, each behind a sign."""
    first, indent = f"  {sign} ", "    "
    return [
        line
        for one in texts
        for line in together(
            one, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False
        )
    ]


def _columns(table: Table) -> list[str]:
    """A table; where it is too wide the widest columns are wrapped."""
    rows = [[plain(cell) for cell in row] for row in (table.head, *table.rows)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    spare = WIDTH - 2 * len(widths)
    while sum(widths) > spare:
        widths[widths.index(max(widths))] -= 1
    # figures stand under each other by their last one
    right = [all(_NUMBER.fullmatch(row[i]) for row in rows[1:]) for i in range(len(widths))]
    lines = []
    for row in rows:
        cells = [
            textwrap.wrap(cell, width) or [""] for cell, width in zip(row, widths, strict=True)
        ]
        for at in range(max(map(len, cells))):
            parts = [cell[at] if at < len(cell) else "" for cell in cells]
            each = zip(parts, widths, right, strict=True)
            line = "  ".join(
                f"{part:>{wide}}" if on else f"{part:<{wide}}" for part, wide, on in each
            )
            lines.append(f"  {line}".rstrip())
    return lines


def many(texts: Sequence[str], most: int, where: str) -> list[str]:
    """The first of many texts, and where the others stand."""
    more = len(texts) - most
    return [*texts[:most], *([f"{counted(more, 'more', 'more')}: {where}"] if more > 0 else [])]
