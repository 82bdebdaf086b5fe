"""The gallery shows every picture that the program draws, and says it in words."""

import re
from pathlib import Path

from tests.gallery import PAGE, ROOT, with_words

TEXT = PAGE.read_text(encoding="utf-8")


def _shown() -> dict[str, str]:
    """The words of each picture, by its file's name."""
    return {name: words for words, name in re.findall(r"!\[(.*?)\]\(figures/(.+?)\)", TEXT)}


def test_every_picture_that_is_drawn_is_shown_under_its_name() -> None:
    api = "\n".join(
        path.read_text(encoding="utf-8") for path in sorted((ROOT / "audiolevel/api").glob("*.py"))
    )
    drawn = set(re.findall(r'"(\w+)\.png"', api))
    assert {"plan", "ranges", "trial", "privacy", "visits"} <= drawn
    for stem in drawn:
        assert f"`{stem}.png`" in TEXT, stem
        assert {f"gallery_{stem}.png", f"{stem}.png"} & set(_shown()), stem
    assert "gallery_levels.png" in _shown()


def test_the_pictures_are_there_small_and_said_in_words() -> None:
    files = [ROOT / "docs" / "figures" / name for name in _shown()]
    # a clone stays small: 1.4 MB for all of them, three more of a follow-up and the rings included
    assert 100_000 < sum(file.stat().st_size for file in files) < 1_400_000
    assert all(len(words) > 40 for words in _shown().values())


def test_words_become_the_alternative_text_of_their_picture_alone() -> None:
    page = "![old](figures/a.png) and ![other](figures/aa.png)"
    told = with_words(page, "a.png", "levels [dB]:\n 3")
    assert told == "![levels (dB): 3](figures/a.png) and ![other](figures/aa.png)"
    assert with_words(page, "b.png", "nothing") == page


def test_every_page_of_the_folder_is_in_the_index() -> None:
    index = (PAGE.parent / "index.md").read_text(encoding="utf-8")
    trees = "\n".join(re.findall(r"```\{toctree\}(.*?)```", index, re.DOTALL)).split()
    pages = {path.stem for path in Path(PAGE.parent).glob("*.md")} - {"index"}
    assert pages <= set(trees)
