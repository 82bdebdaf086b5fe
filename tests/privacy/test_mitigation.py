"""Ways to capture less speech: what they leave by hand, and what filters take of a sound."""

from collections.abc import Sequence
from dataclasses import replace

import pytest

from audiolevel.intervals import Interval
from audiolevel.planning.choice import Option
from audiolevel.privacy.mitigation import (
    Mitigation,
    MitigationKind,
    Outlook,
    mitigations,
    weakening_db,
)
from audiolevel.privacy.review import Review
from audiolevel.site.sections import Site, Wanted
from tests.privacy.made_review import SITE, review_of


@pytest.fixture(scope="module")
def review() -> Review:
    return review_of()


def _option(review: Review) -> Option:
    assert review.plan.recommended is not None
    return review.plan.recommended


def _of(found: Sequence[Mitigation], kind: MitigationKind) -> Mitigation:
    return next(one for one in found if one.kind is kind)


def test_the_setting_as_recommended_comes_first(review: Review) -> None:
    first = review.mitigations[0]
    assert first.kind is MitigationKind.NONE
    assert review.recorded is not None
    assert first.recorded == review.recorded.recorded
    assert first.radii == review.at_gain(review.gain_db)[0].farthest


def test_a_night_of_eight_hours_is_a_third_where_the_hours_are_not_known(review: Review) -> None:
    assert _option(review).curve.prediction.by_hour is None  # no start was given
    night = _of(review.mitigations, MitigationKind.FEWER_HOURS)
    now = review.mitigations[0]
    assert night.recorded is not None
    assert now.recorded is not None
    assert night.recorded.high == pytest.approx(now.recorded.high / 3)
    assert night.facts == {"from_hour": 23, "to_hour": 7}


def test_fewer_hours_are_of_those_in_which_it_is_on() -> None:
    site = replace(SITE, schedule=replace(SITE.schedule, active=("20:00-06:00",)))
    night = _of(review_of(site).mitigations, MitigationKind.FEWER_HOURS)
    assert night.facts == {"from_hour": 23, "to_hour": 6}


def test_without_sound_nothing_is_recorded(review: Review) -> None:
    none = _of(review.mitigations, MitigationKind.NO_SOUND)
    assert none.recorded == none.speech == Interval(0.0, 0.0, 0.0)
    assert none.detection == review.mitigations[0].detection


def test_a_lower_gain_is_a_measure_only_where_its_noise_hides_talk(review: Review) -> None:
    """The format's floor of 16 bit hides nothing."""
    assert MitigationKind.LOWER_GAIN not in {one.kind for one in review.mitigations}
    noisy = replace(SITE, microphone=replace(SITE.microphone, converter_noise_dbfs=-66.0))
    found = review_of(noisy).mitigations
    for one in found:
        if one.kind is MitigationKind.LOWER_GAIN:
            assert one.radii is not None
            assert found[0].radii is not None
            assert one.radii.words_m < 0.9 * found[0].radii.words_m


def test_every_measure_that_works_shrinks_something(review: Review) -> None:
    now = review.mitigations[0]
    assert now.radii is not None
    assert now.recorded is not None
    for one in review.mitigations[1:]:
        assert one.recorded is not None
        fewer = one.recorded.high < now.recorded.high
        # an upper end of the whole day cannot fall
        fewer |= (one.recorded.best or 0.0) < (now.recorded.best or 0.0)
        # a higher level at which nothing fired has an upper limit only, which shows no less
        fewer |= one.kind is MitigationKind.HIGHER_SETTING and one.recorded.best is None
        nearer = one.radii is not None and one.radii.words_m < now.radii.words_m
        assert fewer or nearer or one.kind in (MitigationKind.OTHER_MODE, MitigationKind.DELETION)


def test_deletion_is_named_where_the_card_keeps_more(review: Review) -> None:
    outlook = Outlook(review.plan, _option(review), None, None, card_days=674.0)
    found = _of(mitigations(outlook), MitigationKind.DELETION)
    assert found.facts == {"days": 3.0, "card_days": 674.0}
    short = replace(outlook, card_days=2.0)
    assert MitigationKind.DELETION not in {one.kind for one in mitigations(short)}


def test_without_a_model_no_radius_and_no_filter_is_given(review: Review) -> None:
    found = mitigations(Outlook(review.plan, _option(review), review.share, None))
    kinds = {one.kind for one in found}
    assert not kinds & {MitigationKind.LOW_PASS, MitigationKind.TURNED_AWAY}
    assert {one.radii for one in found} == {None}


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
