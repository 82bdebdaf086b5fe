"""The JSON of a privacy review: its numbers, and null beyond what is claimed."""

import json
from dataclasses import replace

from audiolevel.privacy.audibility import Radii
from audiolevel.report.privacy.document import review_document
from audiolevel.report.privacy.json import as_json
from audiolevel.site.sections import Site
from tests.privacy.made_review import review_of


def test_a_radius_without_end_is_null() -> None:
    review = review_of()
    first = review.at_gain(review.gain_db)[0]
    endless = replace(first, farthest=Radii(float("inf"), 5.0))
    others = [one for one in review.curves if one is not first]
    result = as_json(
        replace(review, curves=(endless, *others)), review_document(review, "road", "2026-03-02")
    )
    json.dumps(result, allow_nan=False)
    assert result["radius_m"]["normal"] == {"word": None, "sentences": 5.0}
    assert result["radius_beyond_m"] == 300.0
    assert result["active_hours"]["all_heard"] is False
    assert result["thresholds"] == {
        "word_ratio_db": -16.0,
        "sentences_index": 0.2,
        "enhanced_db": 4.0,
    }


def test_each_mitigation_has_its_minutes() -> None:
    review = review_of()
    result = as_json(review, review_document(review, "road", "2026-03-02"))
    assert len(result["measures"]) == len(review.mitigations)
    none = next(one for one in result["measures"] if one["text"].startswith("fire on the level"))
    assert none["recorded_high_min_per_day"] == 0.0
    assert none["cost"] == "no sound to judge by; pictures and log remain"


def test_the_sheet_is_in_it() -> None:
    review = review_of(Site())
    sheet = review_document(review, "road", "2026-03-02")
    result = as_json(review, sheet)
    assert [one["title"] for one in result["sheet"]["sections"]] == [
        one.title for one in sheet.sections
    ]
    assert result["radius_m"] == {}
    assert result["reference"] == "dB FS"
