"""The sentences of cautions."""

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
