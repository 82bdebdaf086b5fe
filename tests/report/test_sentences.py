"""The sentences of cautions."""

import re
from inspect import Parameter, signature

import pytest

from audiolevel.notices import notice
from audiolevel.report import sentences


def test_a_sentence_is_named_by_its_source() -> None:
    silent = notice("silent")
    assert sentences.notice_text(silent.of("a.wav")) == f"a.wav: {sentences.notice_text(silent)}"
    with pytest.raises(KeyError):
        sentences.notice_text(notice("not known"))


def test_what_is_known_is_listed() -> None:
    assert ("silent", "") in set(sentences.known_notices())


@pytest.mark.parametrize("known", sorted(sentences.known_notices()))
def test_one_of_something_is_said_in_the_singular(known: tuple[str, str]) -> None:
    said_by = sentences._SENTENCES[known]
    facts: dict[str, float] = {}
    for name, one in signature(said_by).parameters.items():
        if one.kind is Parameter.VAR_KEYWORD:
            facts |= {"days_kept": 1, "low_days": 1, "high_days": 1, "recorded_share": 1}
        else:
            facts[name] = 1
    # "1 of 1 rows" is right
    many = r"(?<!of )\b1 (?:more )?(?:times|gaps|rows|firings|minutes|days|stretches|marks)\b"
    assert not re.findall(many, said_by(**facts))
