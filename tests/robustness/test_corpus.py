"""Damaged and odd files: the page is fresh, and what it says is what happens; some in each run."""

import csv
from pathlib import Path

import pytest

from audiolevel.ground.names import plain
from tests.robustness.corpus import Case, Outcome, cases, judge, make_base
from tests.robustness.page import PAGE, ROWS, all_outcomes, faults, row, rows, text


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_base(tmp_path_factory.mktemp("corpus") / "base")


@pytest.fixture(scope="module")
def corpus(base: Path) -> list[Case]:
    return list(cases(base))


def test_the_corpus_is_large_and_has_every_kind(corpus: list[Case]) -> None:
    assert len(corpus) >= 400
    kinds = {case.kind for case in corpus}
    assert kinds == {"sound", "video", "history", "site file", "log", "manifest", "marks", "plan"}
    assert len({case.number for case in corpus}) == len(corpus)


def test_the_page_is_one_page_and_fresh(corpus: list[Case]) -> None:
    table = ROWS.read_text(encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == text(table), "python -m tests.robustness.page"
    assert len(text(table).split()) < 700
    listed = [tuple(one)[:3] for one in csv.reader(table.splitlines()[1:])]
    made = [(one.kind, plain(one.file), plain(one.what)) for one in corpus]
    assert listed == made, "python -m tests.robustness.page"


def test_a_part_of_the_corpus_does_as_the_page_says(corpus: list[Case], base: Path) -> None:
    """One in eleven, which comes to every kind; the whole is among the slow tests."""
    page = ROWS.read_text(encoding="utf-8").splitlines()
    for case in corpus[::11]:
        outcome = judge(case, base)
        assert outcome.good, (case.kind, case.file, case.what, outcome)
        assert row(case, outcome) in page, "python -m tests.robustness.page"


@pytest.mark.slow
def test_the_whole_corpus_does_as_the_page_says(tmp_path: Path) -> None:
    outcomes = all_outcomes(tmp_path / "base")
    assert faults(outcomes) == []
    assert rows(outcomes) == ROWS.read_text(encoding="utf-8")


def test_what_must_not_be_is_seen() -> None:
    """The judge can fail: an outcome of another name than the three is a fault."""
    case = Case("sound", "a.wav", "odd", b"", wanted="refused")
    for verdict in ("TRACEBACK", "HANG", "HALF A FILE", "WRONG", "STATUS", "right"):
        assert faults([(case, Outcome(verdict))])
    assert not faults([(case, Outcome("refused"))])


def test_the_table_is_text() -> None:
    """One with a NUL in it is a binary file to grep, and to whoever compares two versions."""
    case = Case("history", "h.csv", "zeros", b"")
    assert row(case, Outcome("refused", "a\0,b")) == 'history,h.csv,zeros,refused,"a�,b"'
    assert not [one for one in ROWS.read_bytes() if one < 32 and one != ord("\n")]
