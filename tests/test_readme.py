"""The README tells the truth, and its links lead somewhere."""

import re
from pathlib import Path

import pytest

from tests.readme import README, ROOT, excerpt, shown

PAGES = [README, ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]


def test_the_excerpt_is_what_the_command_prints(tmp_path: Path) -> None:
    assert shown() == excerpt(tmp_path), "run python -m tests.readme"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), f"{page.name}: {target}"
