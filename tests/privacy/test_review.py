"""The review of a plan: what it needs, what it leaves out, and its names taken away."""

import pytest

from audiolevel.errors import RecordingError
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.review import make_review, redacted
from audiolevel.site import Site
from tests.privacy.made_review import plan_and_analysis, review_of


def test_every_gain_has_every_vocal_effort() -> None:
    review = review_of()
    gains = {0.0, *(room.gain_db for room in review.plan.gains)}
    assert len(review.curves) == len(gains) * len(EFFORTS)
    assert [one.effort for one in review.at_gain(0.0)] == list(EFFORTS)
    best = [one.radius_m.best for one in review.at_gain(review.gain_db)]
    assert best == sorted(best, key=lambda radius: radius or 0.0)


def test_a_louder_talker_carries_further_than_a_weaker_one() -> None:
    for curve in review_of().curves:
        assert curve.radius_m.low <= (curve.radius_m.best or 0.0) <= curve.radius_m.high


def test_without_a_calibration_no_distance_is_given() -> None:
    review = review_of(Site())
    assert review.curves == ()
    assert review.by_hour == {}
    causes = {one.cause for one in review.warnings if one.code == "uncalibrated"}
    assert causes == {"no radius"}


def test_an_assumed_calibration_is_noticed() -> None:
    plan, analysis = plan_and_analysis()
    review = make_review(plan, [analysis], calibration_assumed=True)
    assumed = next(one for one in review.warnings if one.code == "assumed calibration")
    assert assumed.facts["spl_at_full_scale_db"] == 110.0


def test_sixteen_kilohertz_is_noticed_as_a_narrow_band() -> None:
    narrow = next(one for one in review_of().warnings if one.code == "narrow band")
    assert narrow.facts["top_hz"] == 6300.0


def test_names_and_moments_can_be_taken_away() -> None:
    review = redacted(review_of())
    assert [one.path.name for one in review.plan.survey.measurements] == ["recording 1"]
    assert [one.start for one in review.plan.survey.measurements] == [None]
    assert "by_the_school" not in repr(review.warnings)


def test_without_sound_there_is_nothing_to_judge() -> None:
    plan, _ = plan_and_analysis()
    with pytest.raises(RecordingError, match="give the sound"):
        make_review(plan, [])
