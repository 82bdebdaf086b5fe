"""The built site answers a search from the disk, with excerpts, and asks nobody for anything."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.report.conftest import Open, Watched

DOCS = Path(__file__).parents[2] / "docs"
SEARCHED = {
    "pandas": "From Python",
    "upgrade": "Questions",
    "uploaded": "Questions",
    "shortest": "Questions",
    "how long": "Questions",
    "windows": "Questions",
    "cite": "Questions",
    "fault": "Questions",
    "re-arm": "Glossary",
    "calibrator": "How to",
}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    for module in ("sphinx", "myst_nb", "furo", "sphinx_click", "sphinx_copybutton"):
        pytest.importorskip(module)
    folder = tmp_path_factory.mktemp("site")
    build = [sys.executable, "-m", "sphinx", "-q", "-W", "-b", "html", str(DOCS), str(folder)]
    subprocess.run(build, check=True)
    return folder


@pytest.mark.parametrize(("words", "title"), SEARCHED.items())
def test_a_search_from_the_disk_finds_the_page_with_an_excerpt(
    words: str, title: str, site: Path, open_page: Open, watched: Watched
) -> None:
    page: Any = open_page(site / "search.html", after=f"?q={words.replace(' ', '+')}")
    found = page.locator("ul.search > li", has_text=title).first
    found.locator("p.context").wait_for(timeout=10_000)
    assert len(found.locator("p.context").inner_text()) > 60
    assert watched.complaints == []
    assert all(url.startswith(("file:", "data:")) for url in watched.asked_for)


def test_commands_have_a_button_to_copy_them(site: Path, open_page: Open) -> None:
    page: Any = open_page(site / "tutorial.html")
    assert page.locator("button.copybtn").count() >= 8
