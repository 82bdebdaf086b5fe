"""A document as Markdown.

Entry point: `as_markdown`.
"""

from collections.abc import Mapping

from audiolevel.report.document import (
    Block,
    Document,
    Fact,
    Lines,
    Paragraph,
    Points,
    Shown,
    Table,
)


def as_markdown(made: Document, pictures: Mapping[str, tuple[str, str]] | None = None) -> str:
    """A document as Markdown.

    Parameters
    ----------
    made : Document
    pictures : mapping of str to (str, str), optional
        File and alternative text of each picture that is shown, by its name.
    """
    lines = [f"# {_escaped(made.title)}", "", *([_escaped(made.under), ""] if made.under else [])]
    for section in made.sections:
        shown: list[str] = []
        for block in section.blocks:
            said = _block(block, pictures or {})
            # a list takes to its last point what follows it without an empty line
            if said and shown and shown[-1].startswith("- ") and not said[0].startswith("- "):
                shown.append("")
            shown += said
        if shown:
            lines += [f"## {_escaped(section.title)}", "", *shown, ""]
    return "\n".join(lines).rstrip() + "\n"


def _block(block: Block, pictures: Mapping[str, tuple[str, str]]) -> list[str]:
    match block:
        case Fact(name, said):
            return [f"- **{_escaped(name)}**: {_escaped(said)}" if name else f"- {_escaped(said)}"]
        case Paragraph(said):
            return [_escaped(said), ""]
        case Points(said):
            return [f"- {_escaped(one)}" for one in said]
        case Lines(lines):
            return ["```", *lines, "```"]
        case Table(head, rows):
            each = [head, tuple("---" for _ in head), *rows]
            return ["| " + " | ".join(_escaped(cell) for cell in row) + " |" for row in each] + [""]
        case Shown(name) if name in pictures:
            file, alternative = pictures[name]
            return [f"![{_escaped(alternative)}]({file})", ""]
        case _:
            return []


def _escaped(text: str) -> str:
    """Text whose brackets and bars are not taken for links and columns."""
    # the backslash first, or those put in for the others would be doubled
    for sign in "\\[]|<":
        text = text.replace(sign, "\\" + sign)
    return text
