"""The map of the packages and modules, made of their first lines: `python -m tests.map_page`.

The page has a line for each package, docs/map.csv one for each module.
"""

import ast
import csv
import io
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "map.md"
PACKAGE = ROOT / "audiolevel"
ROWS = PAGE.with_suffix(".csv")
_PLACE = re.compile(r"(<!-- packages: [^>]*-->\n).*?(<!-- end of packages -->)", re.DOTALL)
# in the order in which a recording passes through them
ORDER = (
    "ground",
    "metering",
    "triggers",
    "counting",
    "sounds",
    "site",
    "planning",
    "privacy",
    "followup",
    "batch",
    "folder",
    "report",
    "api",
    "cli",
)


def first_line(path: Path) -> str:
    """What a module says it holds."""
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert docstring, path
    # the first sentence, which may run over two lines
    return " ".join(docstring.split("\n\n")[0].split())


def packages() -> str:
    """A line a package."""
    lines = [f"| `{name}/` | {first_line(PACKAGE / name / '__init__.py')} |" for name in ORDER]
    return "\n".join(["| package | holds |", "|---|---|", *lines]) + "\n"


def modules() -> list[tuple[str, str]]:
    """Every file of the package, by its path in it, with what it holds."""
    base = sorted(
        path for path in PACKAGE.glob("*.py") if path.stem not in ("__init__", "__main__")
    )
    inner = [
        path
        for name in ORDER
        for path in sorted((PACKAGE / name).rglob("*.py"))
        if path.stem != "__init__"
    ]
    return [(path.relative_to(PACKAGE).as_posix(), first_line(path)) for path in base + inner]


def table() -> str:
    """All modules, as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([("file", "holds"), *modules()])
    return out.getvalue()


def page() -> str:
    """The page with its table of packages renewed."""
    text = PAGE.read_text(encoding="utf-8")
    return _PLACE.sub(lambda found: f"{found[1]}{packages()}{found[2]}", text)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    ROWS.write_text(table(), encoding="utf-8")
