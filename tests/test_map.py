"""docs/map.md, as a newcomer uses it."""

import random

import pytest

from tests.map_page import PACKAGE, PAGE, first_line, shown, tables

MODULES = sorted(
    path for path in PACKAGE.rglob("*.py") if path.stem not in ("__init__", "__main__")
)


def test_the_tables_are_those_of_the_modules() -> None:
    assert shown() == tables()


@pytest.mark.parametrize("pick", range(10))
def test_the_map_leads_from_a_line_picked_at_random_to_its_file(pick: int) -> None:
    rng = random.Random(pick)
    path = rng.choice(MODULES)
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
    line = rng.choice(lines)
    page = PAGE.read_text(encoding="utf-8").splitlines()
    inner = path.relative_to(PACKAGE)
    package = inner.parts[0] if len(inner.parts) > 1 else None
    heading = f"## `{package}/`" if package else "## Ground floor and face"
    name = inner.relative_to(package) if package else inner
    section = page[page.index(heading) :]
    row = next(text for text in section if text.startswith(f"| `{name}` |"))
    # the row says what the module says of itself, as a statement
    assert first_line(path) in row, line
    assert not first_line(path).endswith("?"), path


def test_every_link_of_the_first_table_is_there() -> None:
    table = PAGE.read_text(encoding="utf-8").split("| go to |")[1].split("\n\n")[0]
    named = [part for part in table.split("`") if part.endswith(("/", ".py"))]
    assert len(named) >= 14
    for name in named:
        assert (PACKAGE.parent / name).exists() or (PACKAGE / name).exists(), name
