"""HTML put together from elements: whatever is no element itself is escaped.

>>> str(tag("p", "a < b", class_="warn"))
'<p class="warn">a &lt; b</p>'

Entry points: `tag`, `Html`, `raw`.
"""

import html
from collections.abc import Iterable
from dataclasses import dataclass

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


def named(name: str) -> Html:
    """A name that somebody gave: whichever way it is written, it turns nothing beside it round."""
    return tag("bdi", name)
