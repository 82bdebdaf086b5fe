"""HTML put together from elements, and a document as such; what is no element is escaped.

>>> str(tag("p", "a < b", class_="warn"))
'<p class="warn">a &lt; b</p>'

Entry points: `tag`, `Html`, `raw`; `sections` and `fragment` of a document.
"""

import html
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from audiolevel.report.document import (
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

# elements that have no end
_VOID = frozenset({"meta", "input", "br", "hr", "link", "col"})


@dataclass(frozen=True)
class Html:
    """A piece of HTML, which is not escaped again."""

    text: str

    def __str__(self) -> str:
        return self.text


# what may stand in an element: nothing, a text, an element, or several of these
Content = str | Html | None | Iterable["Content"]
Attribute = str | float | bool | None


def raw(text: str) -> Html:
    """A text that is HTML already, such as a picture's SVG."""
    return Html(text)


def joined(content: Content) -> str:
    """What stands in an element, escaped where it is text."""
    if content is None:
        return ""
    if isinstance(content, Html):
        return content.text
    if isinstance(content, str):
        return html.escape(content, quote=False)
    return "".join(joined(one) for one in content)


def tag(name: str, /, *content: Content, **attributes: Attribute) -> Html:
    """An element.

    Parameters
    ----------
    name : str
    *content
        Texts are escaped; elements, `None` and iterables of all these may stand among them.
    **attributes
        An underscore stands for a hyphen, one at the end only keeps a name from being a word of
        Python. `None` and `False` leave the attribute out, `True` gives it no value.
    """
    words = "".join(_attribute(key, value) for key, value in attributes.items())
    if name in _VOID:
        return Html(f"<{name}{words}>")
    return Html(f"<{name}{words}>{joined(content)}</{name}>")


def _attribute(key: str, value: Attribute) -> str:
    if value is None or value is False:
        return ""
    name = key.rstrip("_").replace("_", "-")
    if value is True:
        return f" {name}"
    said = f"{value:g}" if isinstance(value, float) else str(value)
    return f' {name}="{html.escape(said)}"'


# --- a document ----------------------------------------------------------------------------------


def name_of(section: Section) -> str:
    """What a section is called in an address."""
    return section.id or re.sub(r"[^a-z]+", "-", section.title.lower()).strip("-") or "part"


def sections(made: Document, shown: Mapping[str, Html]) -> list[Html]:
    """The sections of a page.

    Parameters
    ----------
    made : Document
    shown : mapping of str to Html
        What stands in place of each `Shown`, by its name.
    """
    return [_section(one, shown) for one in made.sections if _content(one, shown)]


def _section(one: Section, shown: Mapping[str, Html]) -> Html:
    # a region has a name for whoever does not see it
    name = name_of(one)
    head = tag("h2", one.title, id=f"{name}-heading")
    class_ = "lead" if one.lead else None
    content: Content = _content(one, shown)
    if one.folded:
        head, content = tag("details", tag("summary", head), content, open=True), None
    return tag("section", head, content, id=name, class_=class_, aria_labelledby=f"{name}-heading")


def fragment(made: Document) -> str:
    """A document within another page: the first section open, the others to be opened."""
    first, *others = [one for one in made.sections if _content(one, {})]
    folded = [tag("details", tag("summary", one.title), _content(one, {})) for one in others]
    under = tag("p", made.under) if made.under else None
    return str(tag("div", tag("h3", made.title), under, _content(first, {}), folded))


def _content(section: Section, shown: Mapping[str, Html]) -> list[Html]:
    content = []
    # facts beside each other are one list
    for kind, group in groupby(section.blocks, key=type):
        if issubclass(kind, Fact):
            rows = [(one.name, one.said) for one in group if isinstance(one, Fact)]
            content.append(tag("div", facts(rows), id=f"{name_of(section)}-facts"))
        else:
            content += [_block(one, shown) for one in group]
    return [one for one in content if one.text]


def _block(block: Block, shown: Mapping[str, Html]) -> Html:
    match block:
        case Paragraph(said):
            return tag("p", said)
        case Points(said, warn=warn):
            return tag("ul", [tag("li", one) for one in said], class_="warn" if warn else None)
        case Lines(lines):
            return tag("pre", "\n".join(lines))
        case Table(head, rows, sortable=sortable):
            return table(head, rows, class_="sortable" if sortable else None)
        case Shown(name, caption) if name in shown:
            if not caption:
                return shown[name]
            return tag("figure", shown[name], tag("figcaption", caption))
        case _:
            return Html("")


def facts(rows: Sequence[tuple[str, Content]]) -> Html:
    """Names and what is known under each."""
    each = [tag("div", tag("dt", name), tag("dd", value)) for name, value in rows]
    return tag("dl", each, class_="facts")


def table(head: Sequence[str], rows: Sequence[Sequence[Content]], **attributes: Attribute) -> Html:
    """A table whose first column names its rows; scrolls by itself where it is too wide."""
    body = [
        tag(
            "tr",
            tag("th", first, scope="row"),
            # on a phone a row is a list, and each cell has its name before it
            [tag("td", cell, data_label=said) for cell, said in zip(rest, head[1:], strict=True)],
        )
        for first, *rest in rows
    ]
    inner = tag(
        "table",
        tag("thead", tag("tr", [tag("th", name, scope="col") for name in head])),
        tag("tbody", body),
        **attributes,
    )
    # what scrolls must be reached by keyboard too
    label = f"table: {', '.join(head)}"
    return tag("div", inner, class_="wide", tabindex="0", role="group", aria_label=label)
