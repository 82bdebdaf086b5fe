"""Ways to capture less speech: what they leave by hand, and what filters take of a sound."""

import pytest

from audiolevel.planning.choice import Option
from audiolevel.privacy.mitigation import MitigationKind, mitigations, weakening_db
from audiolevel.privacy.review import Review
from audiolevel.site import Site, Wanted
from tests.privacy.made_review import review_of


@pytest.fixture(scope="module")
def review() -> Review:
    return review_of()


def _option(review: Review) -> Option:
    assert review.plan.recommended is not None
    return review.plan.recommended


def test_the_setting_as_recommended_comes_first(review: Review) -> None:
    first = review.mitigations[0]
    assert first.kind is MitigationKind.NONE
    assert review.recorded is not None
    assert first.speech == review.recorded.speech
    assert first.radius_m == review.at_gain(review.gain_db)[0].radius_m.best


def test_a_night_of_eight_hours_is_a_third_where_the_hours_are_not_known(review: Review) -> None:
    assert _option(review).curve.prediction.by_hour is None  # no start was given
    night = next(one for one in review.mitigations if one.kind is MitigationKind.NIGHT_ONLY)
    now = review.mitigations[0]
    assert night.speech is not None
    assert now.speech is not None
    assert night.speech.high == pytest.approx(now.speech.high / 3)
    assert night.facts == {"from_hour": 23, "to_hour": 7}


def test_without_sound_nothing_is_recorded(review: Review) -> None:
    none = next(one for one in review.mitigations if one.kind is MitigationKind.NO_SOUND)
    assert none.speech is not None
    assert (none.speech.best, none.speech.low, none.speech.high) == (0, 0, 0)
    assert none.detection == review.mitigations[0].detection


def test_without_a_model_no_radius_and_no_filter_is_given(review: Review) -> None:
    found = mitigations(review.plan, _option(review), review.share, None)
    kinds = {one.kind for one in found}
    assert not kinds & {MitigationKind.LOW_PASS, MitigationKind.HIGH_PASS}
    assert {one.radius_m for one in found if one.kind is not MitigationKind.NO_SOUND} == {None}


def test_what_two_filters_pass_adds_up_to_the_sound() -> None:
    site = Site(wanted=(Wanted(sound="breaking glass", distance_m=10.0),))
    low, high = weakening_db(site, 0.0, 2100.0), weakening_db(site, 2100.0, 1e9)
    shares = [10 ** (-one["breaking glass"] / 10) for one in (low, high)]
    assert sum(shares) == pytest.approx(1.0)
    assert weakening_db(site, 0.0, 1e9)["breaking glass"] == pytest.approx(0.0, abs=1e-9)
    # glass rings above 2 kHz: its low part is what a filter there takes hardly notices
    assert high["breaking glass"] < 3.0 < low["breaking glass"]


def test_a_filter_that_passes_nothing_is_given_as_60_db() -> None:
    site = Site(wanted=(Wanted(sound="vehicle horn", distance_m=10.0),))
    assert weakening_db(site, 1.0, 2.0)["vehicle horn"] == pytest.approx(60.0)
