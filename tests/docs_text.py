"""The pages as a reader meets them: their words, their prose, their links and their headings."""

import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted(DOCS.glob("*.md"))]
_CODE = re.compile(r"^ *```(?!`).*?^ *```", re.MULTILINE | re.DOTALL)
_LINK = re.compile(r"!?\[((?:[^\[\]]|\[[^\]]*\])*)\]\(([^)]+)\)")


def words(page: Path) -> int:
    """Words of a page, its code and tables included; signs alone are none."""
    return sum(bool(re.search(r"\w", one)) for one in page.read_text(encoding="utf-8").split())


def links(page: Path) -> Iterator[str]:
    """Where the links of a page lead to, as they are written; not to other sites."""
    text = _CODE.sub("", page.read_text(encoding="utf-8"))
    for _, target in _LINK.findall(text):
        if not target.startswith("http"):
            yield target


def anchors(page: Path) -> set[str]:
    """The anchors of a page's headings, as a code host makes them, and its own."""
    text = page.read_text(encoding="utf-8")
    found = set(re.findall(r'<a id="([^"]+)">', text))
    for heading in re.findall(r"^#+ (.+)$", _CODE.sub("", text), re.MULTILINE):
        plain = re.sub(r"[^\w\- ]", "", _LINK.sub(r"\1", heading).lower())
        found.add(plain.replace(" ", "-"))
    return found


def linked(page: Path) -> set[Path]:
    """The pages that a page links to."""
    targets = {(page.parent / link.split("#")[0]).resolve() for link in links(page)}
    return {one for one in targets if one.suffix == ".md"}


def prose(page: Path) -> str:
    """What is read as sentences: no code, no tables, no headings, no addresses."""
    text = _CODE.sub("", page.read_text(encoding="utf-8"))
    text = re.sub(r"<!--.*?-->|<[^>]+>", "", text, flags=re.DOTALL)
    text = re.sub(r"!\[[^\]]*\]\([^)]*\)", "", text)
    text = _LINK.sub(r"\1", text)
    # names of files and options are not words to be read
    text = re.sub(r"`[^`]*`", "it", text)
    blocks = []
    for block in re.split(r"\n\s*\n|\n(?=\s*(?:[-*]|\d+\.) )", text):
        line = " ".join(block.split())
        if line and not line.startswith(("#", "|", ":")):
            line = re.sub(r"^(?:[-*]|\d+\.) (?:\[ \] )?", "", line).replace("**", "")
            blocks.append(line if line.endswith((".", "?", "!")) else f"{line.rstrip(':;,')}.")
    return "\n".join(blocks)
