"""docs/map.md, as a newcomer uses it."""

from tests.map_page import ORDER, PACKAGE, PAGE, ROWS, modules, page, table

MODULES = sorted(
    path for path in PACKAGE.rglob("*.py") if path.stem not in ("__init__", "__main__")
)


def test_the_tables_are_those_of_the_modules() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run python -m tests.map_page"
    assert ROWS.read_text(encoding="utf-8") == table(), "run python -m tests.map_page"


def test_no_package_and_no_module_is_left_out() -> None:
    assert {path.parent.name for path in PACKAGE.glob("*/__init__.py")} == set(ORDER)
    assert {PACKAGE / name for name, _ in modules()} == set(MODULES)
    # the row says what the module says of itself, as a statement
    assert not [name for name, holds in modules() if holds.endswith("?")]


def test_every_link_of_the_first_table_is_there() -> None:
    table = PAGE.read_text(encoding="utf-8").split("| go to |")[1].split("\n\n")[0]
    named = [part for part in table.split("`") if part.endswith(("/", ".py"))]
    assert len(named) >= 14
    for name in named:
        assert (PACKAGE.parent / name).exists() or (PACKAGE / name).exists(), name
