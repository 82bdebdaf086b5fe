"""Every caution that the source can raise has a sentence that takes its facts."""

import ast
import inspect
from pathlib import Path

import pytest

from audiolevel.ground.notices import notice
from audiolevel.report.words import cautions

PACKAGE = Path(__file__).parents[2] / "audiolevel"
SENTENCES = {**cautions._SENTENCES, **cautions._ADVICE}


def _calls() -> list[tuple[str, ast.Call]]:
    """Every call of `notice` with the place it stands at."""
    return [
        (f"{path.relative_to(PACKAGE)}:{node.lineno}", node)
        for path in sorted(PACKAGE.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] == "notice"
    ]


def _matches(node: ast.expr | None, name: str) -> bool:
    """Whether an argument of the source can be this name; one computed can be any."""
    if node is None:
        return name == ""
    if isinstance(node, ast.Constant):
        return name == node.value
    if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
        return name.startswith(str(node.values[0].value))
    return True


@pytest.mark.parametrize(("place", "call"), [pytest.param(p, c, id=p) for p, c in _calls()])
def test_each_notice_has_a_sentence_that_takes_its_facts(place: str, call: ast.Call) -> None:
    cause = call.args[1] if len(call.args) > 1 else None
    keys = [
        (code, why)
        for code, why in SENTENCES
        if _matches(call.args[0], code) and _matches(cause, why)
    ]
    assert keys, f"{place}: no sentence in report/words/cautions.py"
    facts = {keyword.arg: 1.0 for keyword in call.keywords if keyword.arg is not None}
    if any(keyword.arg is None for keyword in call.keywords):
        return  # facts handed on from a record are seen by the tests of that record
    # a code computed from a wider set may meet sentences of its neighbours
    fitting = [key for key in keys if _takes(key, facts)]
    assert fitting, f"{place}: {facts.keys()} are not the facts of {keys}"


def _takes(key: tuple[str, str], facts: dict[str, float]) -> bool:
    try:
        inspect.signature(SENTENCES[key]).bind(**facts)
    except TypeError:
        return False
    return True


def test_there_are_calls_to_look_at() -> None:
    assert len(_calls()) > 25


def test_a_notice_without_a_sentence_is_an_error() -> None:
    with pytest.raises(KeyError, match="unheard of"):
        cautions.notice_text(notice("unheard of"))


def test_the_name_of_the_recording_stands_before_the_sentence() -> None:
    about = notice("channel dead", channel=2).of("left.wav")
    assert cautions.notice_text(about).startswith("left.wav: channel 2 carries no sound")
