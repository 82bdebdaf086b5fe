"""The pages' scripts, looked at by TypeScript's compiler."""

import subprocess
from pathlib import Path

import pytest

from audiolevel.report.words.settings import GROUNDS

PAGES = Path(__file__).parents[2] / "audiolevel" / "report" / "scripts"
# as a page runs them together
TOGETHER = (
    *("common", "sortable", "trace_drawing", "trace_view", "labels"),
    *("player", "listen", "curve", "answers", "explore"),
    *("record", "filter"),
)
_STRICT = ("--noEmit", "--allowJs", "--checkJs", "--strict", "--target", "es2022")


def test_their_types_fit(node_modules: Path) -> None:
    run = subprocess.run(
        [
            *("node", str(node_modules / "typescript" / "bin" / "tsc"), *_STRICT),
            *("--lib", "es2022,dom,dom.iterable", "--types", ""),
            *(f"{name}.js" for name in TOGETHER),
        ],
        cwd=PAGES,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.stdout + run.stderr == ""


def test_every_script_is_checked() -> None:
    assert sorted(path.stem for path in PAGES.glob("*.js")) == sorted(TOGETHER)


@pytest.mark.parametrize("name", TOGETHER)
def test_none_makes_html_of_text_or_asks_a_network(name: str) -> None:
    script = (PAGES / f"{name}.js").read_text(encoding="utf-8")
    for word in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval("):
        assert word not in script
    for word in ("fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "import("):
        assert word not in script


def test_what_a_figure_stands_on_is_said_alike_in_the_browser() -> None:
    script = (PAGES / "answers.js").read_text(encoding="utf-8")
    for words in GROUNDS.values():
        assert f'"{words}"' in script
