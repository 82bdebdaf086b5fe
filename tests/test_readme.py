"""The README tells the truth, and its links lead somewhere."""

import re
from pathlib import Path

import pytest

from tests.readme import README, ROOT, excerpt, shown

PAGES = [README, ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def test_the_excerpt_is_what_the_command_prints(tmp_path: Path) -> None:
    assert shown() == excerpt(tmp_path), "run python -m tests.readme"


def test_the_tutorial_quotes_the_same_plan() -> None:
    tutorial = (ROOT / "docs" / "tutorial.md").read_text(encoding="utf-8")
    quoted = re.findall(r"```text\n(.*?)```", tutorial, re.DOTALL)
    lines = [line.strip() for block in quoted for line in block.splitlines()]
    assert lines
    assert set(lines) <= {line.strip() for line in README.read_text(encoding="utf-8").splitlines()}


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), f"{page.name}: {target}"
