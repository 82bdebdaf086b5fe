"""A document as one HTML file: style, script and data within it, nothing fetched, nothing sent.

The policy in its head forbids every request; sound comes only from a file that the reader opens,
and goes nowhere.

Entry points: `page`, `pictured`.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from importlib.resources import files

from audiolevel.ground.files import text_mark
from audiolevel.ground.records import Object
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture, svg_of
from audiolevel.report.html import Html, joined, name_of, raw, sections, tag

_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; "
    "img-src data:; media-src blob:; base-uri 'none'; form-action 'none'"
)
# a page of fewer sections is seen at a glance
_LINKED_FROM = 6


def page(
    made: Document,
    command: str,
    shown: Mapping[str, Html],
    *,
    data: Mapping[str, Object | list[Object]] | None = None,
    scripts: Sequence[str] = (),
    class_: str | None = None,
) -> str:
    """A whole page.

    Parameters
    ----------
    made : Document
    command : str
        That makes the page; its mark stands at the end.
    shown : mapping of str to Html
        What stands in place of each `Shown` of the document, by its name.
    data : mapping of str to object, optional
        What the scripts read, by the id of the element that holds it.
    scripts : sequence of str, optional
        Files of the folder `scripts`, without their ending; run in this order.
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
        tag("title", made.title),
        tag("style", raw(text_of("page.css"))),
    )
    held = [
        tag("script", raw(_within_script(value)), type="application/json", id=name)
        for name, value in (data or {}).items()
    ]
    # one script, so that what several files need is named once and nothing is global
    program = "".join(text_of(f"{name}.js") for name in scripts)
    run = tag("script", raw(f'"use strict";\n{{\n{program}}}\n')) if scripts else None
    parts = sections(made, shown)
    under = tag("p", made.under, class_="under") if made.under else None
    # what to do, and what it does, come before what else there is
    main = tag("main", tag("h1", made.title), under, parts[:2], _links(made, parts), parts[2:])
    body = tag("body", main, held, run, tag("footer", text_mark(command)), class_=class_)
    return f'<!DOCTYPE html>\n<html lang="en">\n{joined([head, body])}\n</html>\n'


def _links(made: Document, parts: Sequence[Html]) -> Html | None:
    if len(parts) < _LINKED_FROM:
        return None
    there = "".join(one.text for one in parts)
    links = [
        tag("a", one.title, href=f"#{name_of(one)}")
        for one in made.sections
        # what is folded up is a line by itself
        if not one.folded and f'id="{name_of(one)}"' in there
    ]
    return tag("nav", links, aria_label="parts of this page")


def _within_script(value: Object | list[Object]) -> str:
    """JSON that cannot end the element it stands in, whatever names it holds."""
    said = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return said.replace("<", "\\u003c")


def text_of(name: str) -> str:
    """A file of the folder `scripts`."""
    return files("audiolevel.report").joinpath("scripts", name).read_text(encoding="utf-8")


def pictured(pictures: Mapping[str, Picture]) -> dict[str, Html]:
    """Pictures as they stand in a page; their words stand in them for whoever does not see them."""
    return {name: tag("div", _pictured(name, one)) for name, one in pictures.items()}


def _pictured(name: str, drawn: Picture) -> list[Html]:
    """A picture, and the same for a narrow screen where it was drawn for one."""
    forms = [(name, drawn, "picture" if drawn.narrow is None else "picture for-wide")]
    if drawn.narrow is not None:
        forms.append((f"{name}-narrow", replace(drawn, figure=drawn.narrow), "picture for-narrow"))
    return [
        tag(
            "div",
            raw(svg_of(one, prefix)),
            class_=class_,
            # it scrolls where the screen is narrow, and must be reached by keyboard for that
            tabindex="0",
            role="group",
            aria_label=f"picture: {name}",
        )
        for prefix, one, class_ in forms
    ]
