"""The review sheet: its sections, and words for every way to capture less."""

import pytest

from audiolevel.privacy.mitigation import Mitigation, MitigationKind
from audiolevel.report.privacy_text import review_sheet
from audiolevel.report.wording import mitigation_cost, mitigation_text
from audiolevel.site.sections import Place, Site
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
    MitigationKind.FEWER_HOURS: (
        {"from_hour": 23, "to_hour": 7},
        "active from 23:00 to 07:00 only",
    ),
    MitigationKind.LOWER_GAIN: ({"by_db": 12.0}, "gain 12 dB lower"),
    MitigationKind.TURNED_AWAY: (
        {"by_db": 5.0},
        "a directional microphone turned away, or a covered one (some 5 dB, common practice)",
    ),
    MitigationKind.DELETION: (
        {"days": 3.0, "card_days": 674.0},
        "deletion after 3 days, where the card would keep 674",
    ),
    MitigationKind.NO_SOUND: ({}, "fire on the level, store no sound"),
    MitigationKind.LOW_PASS: ({"hz": 500.0}, "low-pass at 500 Hz"),
}


@pytest.mark.parametrize("kind", list(MitigationKind))
def test_each_mitigation_has_its_words(kind: MitigationKind) -> None:
    facts, words = FACTS[kind]
    one = Mitigation(kind, None, None, None, facts=facts)
    assert mitigation_text(one) == words
    assert bool(mitigation_cost(one)) == (kind is not MitigationKind.NONE)


def test_a_filter_costs_what_it_takes_of_each_sound() -> None:
    weaker = {"horn": 3.4, "shout": 12.0}
    one = Mitigation(MitigationKind.LOW_PASS, None, None, None, weaker_db=weaker)
    assert mitigation_cost(one) == "weaker by horn 3 dB, shout 12 dB"


def test_the_sheet_has_its_sections_in_order() -> None:
    sheet = review_sheet(review_of(), "school road", "2026-03-02")
    titles = [one.title for one in sheet.sections]
    assert sheet.title == "Review of sound recording: school road"
    assert titles[:3] == ["In short", "Purpose and what is captured", "Who could be overheard"]
    # what is needed to decide stands before what it was worked out from
    assert titles.index("Decision") < titles.index("Annex: Made")
    assert titles[-1] == "Annex: Check on site"
    # no start was given, so no hour of the day is known
    assert "Annex: By hour of the day" not in titles


def test_the_headline_is_for_the_hours_when_it_is_on_and_never_says_none() -> None:
    review = review_of()
    sheet = review_sheet(review, "school road", "2026-03-02")
    said = " ".join(sheet.sections[0].points)
    normal = review.at_gain(review.gain_db)[0]
    assert f"up to {normal.farthest.words_m:.0f} m (best estimate" in said
    assert "nobody has listened in all those hours" in said
    assert "normal talk is not private below" in said
    places = next(one for one in sheet.sections if one.title == "Who could be overheard")
    assert places.table is not None
    assert "none" not in str(places.table.rows)


def test_where_no_distance_is_known_the_headline_says_so() -> None:
    sheet = review_sheet(review_of(Site()), "school road", "2026-03-02")
    assert "from how far talk is caught is not known" in sheet.sections[0].points[0]


def test_places_are_named_where_no_distance_is_known() -> None:
    sheet = review_sheet(review_of(Site(place=(Place("bench", 3.0),))), "school road", "2026-03-02")
    places = next(one for one in sheet.sections if one.title == "Who could be overheard")
    assert "take it that everybody is heard (bench)" in places.paragraphs[0]


def test_minutes_lead_with_what_needs_no_assumption() -> None:
    sheet = review_sheet(review_of(), "school road", "2026-03-02")
    minutes = next(one for one in sheet.sections if one.title == "Minutes a day")
    assert minutes.paragraphs[0].startswith("Recorded, whoever is heard in it")
    assert minutes.paragraphs[1].startswith("With audible speech in them: not known")


def test_the_questions_leave_room_to_write() -> None:
    sheet = review_sheet(review_of(), "school road", "2026-03-02")
    asked = next(one for one in sheet.sections if one.title == "Questions for the reviewer")
    words = " ".join(asked.points)
    for about in ("listen live", "back-ups", "recognised", "written down by a program", "children"):
        assert about in words
    assert "several microphones" in words
    assert all(one.endswith("______") for one in asked.points)


def test_every_mitigation_is_a_point() -> None:
    review = review_of()
    sheet = review_sheet(review, "school road", "2026-03-02")
    less = next(one for one in sheet.sections if one.title == "What would capture less")
    assert len(less.points) == len(review.mitigations)
    assert less.points[0].startswith("as recommended: ")
