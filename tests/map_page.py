"""The map of the packages and modules, made of their first lines: `python -m tests.map_page`."""

import ast
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "map.md"
PACKAGE = ROOT / "audiolevel"
_PLACE = re.compile(r"(<!-- modules: [^>]*-->\n).*?(<!-- end of modules -->)", re.DOTALL)


def first_line(path: Path) -> str:
    """What a module says it holds."""
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert docstring, path
    # the first sentence, which may run over two lines
    return " ".join(docstring.split("\n\n")[0].split())


def tables() -> str:
    """A table a package, in the order in which a recording passes through them."""
    order = [
        "metering",
        "triggers",
        "counting",
        "sounds",
        "site",
        "planning",
        "privacy",
        "followup",
        "batch",
        "report",
        "api",
        "cli",
    ]
    base = sorted(path for path in PACKAGE.glob("*.py") if path.stem != "__main__")
    rows = [f"| `{path.name}` | {first_line(path)} |" for path in base]
    parts = ["## Ground floor and face\n\n| file | holds |\n|---|---|\n" + "\n".join(rows)]
    for name in order:
        folder = PACKAGE / name
        rows = [
            f"| `{path.relative_to(folder)}` | {first_line(path)} |"
            for path in sorted(folder.rglob("*.py"))
            if path.stem != "__init__"
        ]
        about = first_line(folder / "__init__.py")
        parts.append(f"## `{name}/`\n\n{about}\n\n| file | holds |\n|---|---|\n" + "\n".join(rows))
    return "\n\n".join(parts) + "\n"


def shown() -> str:
    """The tables as the page shows them."""
    place = _PLACE.search(PAGE.read_text(encoding="utf-8"))
    assert place is not None
    return place.group(0).split("-->\n", 1)[1].removesuffix("<!-- end of modules -->")


if __name__ == "__main__":
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(
        _PLACE.sub(lambda m: m.group(1) + tables() + m.group(2), text), encoding="utf-8"
    )
