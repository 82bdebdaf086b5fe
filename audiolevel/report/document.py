"""What a result has to say, once: sections of facts, paragraphs, points, tables and pictures.

A rank says how important a block is: where there is little room those of a low rank stand, whole,
in the order of the document (`text.brief`). The order is that of a reader who has all of it.

Entry points: `Document`, `Section` and the blocks; `cautions` makes the section that all have.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object
from audiolevel.report.words.cautions import notice_text

# the rank of what stands in the whole text only
WHOLE = 99
# of the first caution; the next ones follow
_CAUTION_RANK = 4


@dataclass(frozen=True)
class Fact:
    """A name and what is known under it; `brief` is another form of it, for little room."""

    name: str
    said: str
    rank: int = WHOLE
    brief: str = ""


@dataclass(frozen=True)
class Paragraph:
    """Sentences."""

    said: str
    rank: int = WHOLE


@dataclass(frozen=True)
class Points:
    """A list, the most important first; its first point has the rank, each next one a higher.

    Where there is little room each stands as a fact under `name`.
    """

    said: tuple[str, ...]
    name: str = ""
    rank: int = WHOLE
    warn: bool = False


@dataclass(frozen=True)
class Table:
    """Columns and rows of text; where there is little room it has as many rows as fit."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    rank: int = WHOLE
    sortable: bool = False


@dataclass(frozen=True)
class Lines:
    """Lines that stand as they are, for a file."""

    lines: tuple[str, ...]
    rank: int = WHOLE


@dataclass(frozen=True)
class Shown:
    """A picture, or a part of a page that answers when it is touched, by its name."""

    name: str
    caption: str = ""


Block = Fact | Paragraph | Points | Table | Lines | Shown


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it; `id` is its name on a page.

    A page folds up what `folded` says: it is opened by a touch, and for print.
    """

    title: str
    blocks: tuple[Block, ...]
    id: str = ""
    lead: bool = False
    folded: bool = False


@dataclass(frozen=True)
class Document:
    """A title, what it was made from, and the sections that hold anything."""

    title: str
    under: str
    sections: tuple[Section, ...]


def document(title: str, under: str, sections: Iterable[Section]) -> Document:
    """A document of the sections that have something to say."""
    return Document(title, under, tuple(one for one in sections if one.blocks))


def points(said: Iterable[str], name: str = "", rank: int = WHOLE) -> tuple[Points, ...]:
    """A list, or nothing where there is nothing to list."""
    listed = tuple(said)
    return (Points(listed, name, rank),) if listed else ()


# whatever spoils all levels, then what spoils some, then what a number lacks; others follow
_WEIGHTIEST = (
    *("not heard", "silent", "gain control", "nonlinear", "low-frequency overload"),
    *("clipped", "truncated", "channel dead", "channel inverted", "irregular", "time gaps"),
    *("marks contradict", "kinds", "not told apart", "short", "card", "display range"),
    *("no peaks", "coarse history", "uncalibrated", "gain not told"),
)


def cautions(notices: Iterable[Notice], *before: Block, rank: int = _CAUTION_RANK) -> Section:
    """The section of what the reader should be careful about, the weightiest first."""
    weight = {code: i for i, code in enumerate(_WEIGHTIEST)}
    ordered = sorted(notices, key=lambda one: weight.get(one.code, len(weight)))
    said = tuple(f"{one.code}: {notice_text(one)}" for one in ordered)
    listed = (Points(said, "take care", rank, warn=True),) if said else ()
    return Section("Take care", (*before, *listed), id="sample")


def as_object(made: Document) -> Object:
    """A document for JSON: each section with its facts, paragraphs, tables and points."""
    return {"title": made.title, "sections": [_section(one) for one in made.sections]}


def _section(section: Section) -> Object:
    def of(kind: type[Any]) -> list[Any]:
        return [one for one in section.blocks if isinstance(one, kind)]

    tables = [
        {"head": list(one.head), "rows": [list(row) for row in one.rows]} for one in of(Table)
    ]
    return {
        "title": section.title,
        "facts": {one.name: one.said for one in of(Fact)},
        "paragraphs": [one.said for one in of(Paragraph)],
        "table": tables[0] if tables else None,
        "points": [point for one in of(Points) for point in one.said],
    }
