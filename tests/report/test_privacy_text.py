"""The review sheet: its sections, and words for every way to capture less."""

from types import MappingProxyType

import pytest

from audiolevel.privacy.mitigation import Mitigation, MitigationKind
from audiolevel.report.privacy_text import review_sheet
from audiolevel.report.wording import mitigation_cost, mitigation_text
from tests.privacy.made_review import review_of

FACTS: dict[MitigationKind, tuple[dict[str, float | str], str]] = {
    MitigationKind.NONE: ({}, "as recommended"),
    MitigationKind.HIGHER_SETTING: ({"mode": "rise", "by_db": 6.0}, "a step 6 dB higher"),
    MitigationKind.OTHER_MODE: (
        {"mode": "rise", "in_place_of": "threshold"},
        "rise instead of threshold",
    ),
    MitigationKind.SHORTER_CLIPS: (
        {"clip_s": 12.5, "in_place_of_s": 25.0},
        "clips of 12.5 s in place of 25 s",
    ),
    MitigationKind.NIGHT_ONLY: (
        {"from_hour": 22, "to_hour": 6},
        "active from 22:00 to 06:00 only",
    ),
    MitigationKind.LOWER_GAIN: ({"by_db": 12.0}, "gain 12 dB lower"),
    MitigationKind.UNUSABLE_GAIN: ({"by_db": 12.0}, "gain 12 dB lower"),
    MitigationKind.NO_SOUND: ({}, "fire on the level, store no sound"),
    MitigationKind.LOW_PASS: ({"hz": 500.0}, "low-pass at 500 Hz"),
    MitigationKind.HIGH_PASS: ({"hz": 2000.0}, "high-pass at 2 kHz"),
}


@pytest.mark.parametrize("kind", list(MitigationKind))
def test_each_mitigation_has_its_words(kind: MitigationKind) -> None:
    facts, words = FACTS[kind]
    one = Mitigation(kind, None, None, facts=MappingProxyType(facts))
    assert mitigation_text(one) == words
    assert bool(mitigation_cost(one)) == (kind is not MitigationKind.NONE)


def test_a_filter_costs_what_it_takes_of_each_sound() -> None:
    weaker = MappingProxyType({"horn": 3.4, "shout": 12.0})
    one = Mitigation(MitigationKind.LOW_PASS, None, None, weaker_db=weaker)
    assert mitigation_cost(one) == "weaker by horn 3 dB, shout 12 dB"


def test_the_sheet_has_its_sections_in_order() -> None:
    sheet = review_sheet(review_of(), "school road", "2026-03-02")
    titles = [one.title for one in sheet.sections]
    assert sheet.title == "Review of sound recording: school road"
    assert titles[:4] == [
        "In short",
        "Made",
        "Purpose and what is captured",
        "From how far talk could be understood",
    ]
    assert titles[-1] == "Decision"
    # no start was given, so no hour of the day is known
    assert "By hour of the day" not in titles


def test_every_mitigation_is_a_point() -> None:
    review = review_of()
    sheet = review_sheet(review, "school road", "2026-03-02")
    less = next(one for one in sheet.sections if one.title == "What would capture less")
    assert len(less.points) == len(review.mitigations)
    assert less.points[0].startswith("as recommended: ")
