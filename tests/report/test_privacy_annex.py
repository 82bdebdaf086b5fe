"""The annex of the review sheet: what is not known is said, and a walk test is held against it."""

from audiolevel.privacy.read_aloud import Reading
from audiolevel.privacy.review import Review, make_review
from audiolevel.report.privacy_annex import annex_of
from audiolevel.report.sheet import Section
from audiolevel.site.sections import Site
from tests.privacy.made_review import plan_and_analysis, review_of


def _annex(review: Review) -> dict[str, Section]:
    return {one.title: one for one in annex_of(review, "2026-03-02")}


def test_it_says_when_and_from_what_it_was_made() -> None:
    review = review_of()
    made = _annex(review)["Made"].points
    assert made[0].startswith("2026-03-02, with audiolevel ")
    full_db = review.plan.survey.scale.spl_at_full_scale_db
    assert f"a sine of {full_db:g} dB SPL just fills the scale (as calibrated)" in made[2]


def test_without_a_calibration_no_distance_stands_in_it() -> None:
    annex = _annex(review_of(Site()))
    assert "no distance can be given" in annex["Made"].points[2]
    for title in ("As it was heard", "By gain", "Check on site"):
        assert not annex[title].table
    radius = annex["From how far talk is caught while the camera is on"]
    assert radius.paragraphs[0].startswith("Not known: without a calibration")
    # that a low index is no proof is said all the same
    assert radius.paragraphs[1].startswith("A low index is no proof of privacy")


def test_a_walk_test_stands_beside_what_was_computed() -> None:
    plan, analysis = plan_and_analysis()
    readings = (Reading(150.0, "normal", 20, 18),)
    check = _annex(make_review(plan, [analysis], walk_test=readings))["Check on site"]
    assert check.table is not None
    assert check.table.rows[0][:3] == ("150 m", "normal", "18 of 20")
    assert check.table.rows[0][-1] == "farther"
    assert "take every distance on this sheet as too near" in check.paragraphs[1]
