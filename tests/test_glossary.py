"""Whatever the program prints as a label, or as a level's name, is explained in the glossary."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
GLOSSARY = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
# below the ten words for the ladder, which are said more simply there
ROWS = [row for row in GLOSSARY.split("\n## Levels")[1].splitlines() if row.startswith("- **")]
# the record is filled in by hand, in words that need no explanation
TEXTS = sorted(
    one for one in (ROOT / "audiolevel" / "report").rglob("*.py") if one.stem != "record"
)


# what documents put in front of a text
_LABEL = re.compile(r'\b(?:Fact|_caught)\(\s*"([^"{]+)"|\(\s*"([a-z ]+)",\s*(?:row|f"|_full)')
_LEVEL = re.compile(r'"(L[ACZ]?[A-Zeq\d][a-zA-Z\d]*)"')


def _labels() -> set[str]:
    """The labels in front of texts, and the names of levels, as the code writes them."""
    code = "\n".join(path.read_text(encoding="utf-8") for path in TEXTS)
    return {one for found in _LABEL.findall(code) for one in found if one} | set(
        _LEVEL.findall(code)
    )


def test_the_labels_are_found() -> None:
    found = _labels()
    assert {"SET", "expect", "VERDICT", "LAFmax", "LCpeak", "L10", "exceeded"} <= found
    assert len(found) > 30


@pytest.mark.parametrize("label", sorted(_labels()))
def test_every_label_is_explained(label: str) -> None:
    # in the column of words, or in backticks where the word explained is another
    words = [row.split(": ")[0] for row in ROWS]
    named = re.compile(rf"(?<![\w-]){re.escape(label)}(?![\w-])")
    assert any(named.search(word) for word in words) or f"`{label}`" in GLOSSARY


def test_every_word_is_explained_once() -> None:
    words = [word for row in ROWS for word in re.findall(r"\*\*(.+?)\*\*", row)]
    assert len(words) == len({word.lower() for word in words})
    for row in ROWS:
        assert len(row.split(": ", 1)[1]) > 15, row
