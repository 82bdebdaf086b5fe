"""The pages are short, lead somewhere, answer what users ask, and can be read on a ladder."""

import re
from pathlib import Path

import pytest

from tests.docs_text import DOCS, PAGES, ROOT, anchors, linked, links, prose, words
from tests.guides import exchanges

MOST_WORDS = 30_000
MOST_OF_A_CHAPTER = 1_500
CHAPTERS = (
    "levels",
    "gain",
    "triggers",
    "counting",
    "sounds",
    "choosing",
    "storage",
    "privacy",
    "followup",
    "files",
)
# what users ask, the page that answers, and words of the answer
QUESTIONS = [
    ("Can I use it with pandas?", "python.md", "pd.read_csv"),
    ("How do I upgrade?", "questions.md", "pip install --upgrade"),
    ("Is anything uploaded?", "questions.md", "Nothing is uploaded"),
    ("How short may a recording be?", "questions.md", "Ten minutes, to promise a daily count"),
    ("How long does it take?", "questions.md", "times the reading"),
    ("Does it work on Windows?", "howto.md", r".venv\Scripts\activate"),
    ("How do I calibrate without a meter?", "howto.md", "Let a phone beside the camera"),
    ("My camera shows a number only", "questions.md", "Read it three times"),
    ("What does NOT BOTH mean?", "questions.md", "No setting keeps your limit"),
    ("Where do I report a fault?", "questions.md", "open an issue there"),
    ("How do I cite it?", "questions.md", "Computer program."),
    ("Which files can it read?", "questions.md", "WAV, FLAC, Ogg, MP3"),
    ("How do I write a site file?", "reference.md", "A line is `key = value`"),
    ("What is the default limit?", "reference.md", "| `false_triggers_per_day` |"),
    ("How long does the card hold?", "storage.md", "Days kept"),
    ("From how far is talk heard?", "privacy.md", "A word may be caught"),
    ("May I delete the kept measurements?", "questions.md", "It holds no sound"),
    ("The days and months of my log are swapped", "followup.md", "--date-order dmy"),
    ("How sure are the counts?", "trust.md", "95 to 97 %"),
    ("What is re-arm?", "glossary.md", "The time after a firing"),
    ("Can I combine visits?", "howto.md", "Put all recordings into"),
    ("What is the licence?", "questions.md", "MIT"),
]


def test_all_pages_together_are_short() -> None:
    assert sum(map(words, PAGES)) <= MOST_WORDS


@pytest.mark.parametrize("name", CHAPTERS)
def test_a_chapter_is_read_in_one_go(name: str) -> None:
    assert words(DOCS / f"{name}.md") <= MOST_OF_A_CHAPTER


def test_the_page_of_trust_and_the_news_are_short() -> None:
    assert words(DOCS / "trust.md") <= 4_000
    news = re.split(r"^## ", (DOCS / "changelog.md").read_text(encoding="utf-8"), flags=re.M)
    assert len(news[1].split()) <= 400


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_to_a_file_and_to_a_heading_in_it(page: Path) -> None:
    for link in links(page):
        name, _, anchor = link.partition("#")
        target = (page.parent / name).resolve() if name else page
        assert target.exists(), link
        if anchor and target.suffix == ".md":
            assert anchor in anchors(target), link


@pytest.mark.parametrize(("question", "page", "answer"), QUESTIONS)
def test_a_question_is_answered_within_two_links(question: str, page: str, answer: str) -> None:
    there = (DOCS / page).resolve()
    assert answer in " ".join(there.read_text(encoding="utf-8").split()), question
    for start in (ROOT / "README.md", DOCS / "index.md"):
        once = linked(start)
        twice = {further for one in once if one.exists() for further in linked(one)}
        assert there in once | twice, f"{question}: {page} from {start.name}"


def test_recipes_fit_on_a_screen() -> None:
    text = (DOCS / "howto.md").read_text(encoding="utf-8")
    recipes = re.split(r"^## ", text, flags=re.M)[1:]
    assert len(recipes) > 15
    # 60 lines of 100 characters: a window of usual height, scrolled once at most
    assert [one.splitlines()[0] for one in recipes if len(one.splitlines()) > 60] == []


def test_the_commands_of_the_first_plan_are_four() -> None:
    typed = "\n".join(
        one.commands for one in exchanges((DOCS / "tutorial.md").read_text(encoding="utf-8"))
    )
    used = re.findall(r"^audiolevel (\w+)", typed, re.M)
    assert set(used) - {"measure", "lane"} == {"new", "plan", "privacy", "followup"}


@pytest.mark.parametrize(
    "name", ["README.md", "docs/tutorial.md", "docs/howto.md", "docs/questions.md"]
)
def test_a_guide_is_read_without_effort(name: str) -> None:
    """Flesch and Kincaid's grade (Kincaid and others 1975), by a library with a dictionary."""
    textstat = pytest.importorskip("textstat").textstat
    assert textstat.flesch_kincaid_grade(prose(ROOT / name)) <= 9


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_no_page_speaks_in_riddles(page: Path) -> None:
    text = prose(page)
    for phrase in ("nobody knows", "is told", "stands in", "stands on", "stand in"):
        assert phrase not in text.lower(), phrase
