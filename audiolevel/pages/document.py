"""One HTML file: style, script and data within it, nothing fetched, nothing sent.

The policy in its head forbids every request; sound comes only from a file that the reader opens,
and goes nowhere.

Entry points: `document`, `section`, `facts`, `picture`, `table`, `text_of`.
"""

import json
from collections.abc import Mapping, Sequence
from importlib.resources import files

from audiolevel.files import text_mark
from audiolevel.pages.html import Content, Html, joined, raw, tag
from audiolevel.records import Object
from audiolevel.report.figures import Picture, svg_of

_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; "
    "img-src data:; media-src blob:; base-uri 'none'; form-action 'none'"
)


def document(
    title: str,
    *content: Content,
    command: str,
    data: Mapping[str, Object | list[Object]] | None = None,
    scripts: Sequence[str] = (),
    class_: str | None = None,
) -> str:
    """A whole page.

    Parameters
    ----------
    title : str
        Stands in the head and as the heading.
    *content
        What stands under it.
    command : str
        That makes the page; its mark stands at the end.
    data : mapping of str to object, optional
        What the scripts read, by the id of the element that holds it.
    scripts : sequence of str, optional
        Files beside this module, without their ending; run in this order.
    class_ : str, optional
        Of the body.
    """
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=_POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        # a browser would otherwise ask for an icon
        tag("link", rel="icon", href="data:,"),
        tag("title", title),
        tag("style", raw(text_of("page.css"))),
    )
    held = [
        tag("script", raw(_within_script(value)), type="application/json", id=name)
        for name, value in (data or {}).items()
    ]
    # one script, so that what several files need is named once and nothing is global
    program = "".join(text_of(f"{name}.js") for name in scripts)
    run = tag("script", raw(f'"use strict";\n{{\n{program}}}\n')) if scripts else None
    body = tag(
        "body",
        tag("main", tag("h1", tag("bdi", title)), *content),
        *held,
        run,
        tag("footer", text_mark(command)),
        class_=class_,
    )
    return f'<!DOCTYPE html>\n<html lang="en">\n{joined([head, body])}\n</html>\n'


def _within_script(value: Object | list[Object]) -> str:
    """JSON that cannot end the element it stands in, whatever names it holds."""
    said = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return said.replace("<", "\\u003c")


def text_of(name: str) -> str:
    """A file beside this module."""
    return files("audiolevel.pages").joinpath(name).read_text(encoding="utf-8")


def section(id_: str, heading: str, *content: Content, class_: str | None = None) -> Html:
    """A part of a page, with a heading and a name to go to."""
    # a region has a name for whoever does not see it
    head = tag("h2", heading, id=f"{id_}-heading")
    return tag("section", head, *content, id=id_, class_=class_, aria_labelledby=f"{id_}-heading")


def facts(rows: Sequence[tuple[str, Content]], class_: str = "facts") -> Html:
    """Names and what is known under each."""
    return tag(
        "dl",
        [tag("div", tag("dt", name), tag("dd", value)) for name, value in rows],
        class_=class_,
    )


def table(head: Sequence[str], rows: Sequence[Sequence[Content]], **attributes: str) -> Html:
    """A table whose first column names its rows; scrolls by itself where it is too wide."""
    body = [
        tag("tr", tag("th", first, scope="row"), [tag("td", cell) for cell in rest])
        for first, *rest in rows
    ]
    return tag(
        "div",
        tag(
            "table",
            tag("thead", tag("tr", [tag("th", name, scope="col") for name in head])),
            tag("tbody", body),
            **attributes,
        ),
        class_="wide",
        # what scrolls must be reached by keyboard too
        tabindex="0",
        role="group",
        aria_label=f"table: {', '.join(head)}",
    )


def picture(shown: Picture, prefix: str, caption: str) -> Html:
    """A picture with a line under it; its words stand in it for whoever does not see it."""
    return tag(
        "figure",
        # it scrolls where the screen is narrow, and must be reached by keyboard for that
        tag(
            "div",
            raw(svg_of(shown, prefix)),
            class_="picture",
            tabindex="0",
            role="group",
            aria_label=f"picture: {prefix}",
        ),
        tag("figcaption", caption),
    )
