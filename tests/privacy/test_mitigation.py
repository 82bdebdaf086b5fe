"""Ways to capture less speech: what they leave by hand, and what filters take of a sound."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from audiolevel.ground.intervals import Interval
from audiolevel.planning.option import Option
from audiolevel.privacy.mitigation import (
    Mitigation,
    MitigationKind,
    Outlook,
    _low_pass_db,
    mitigations,
    weakening_db,
)
from audiolevel.privacy.review import Review
from audiolevel.site.sections import Microphone, Site, Wanted
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
    one, now = _of(found, MitigationKind.LOWER_GAIN), found[0]
    assert one.radii is not None
    assert now.radii is not None
    assert one.radii.words_m < 0.9 * now.radii.words_m
    # at the same sound pressure as many fire
    assert one.recorded is not None
    assert now.recorded is not None
    assert one.recorded.high == pytest.approx(now.recorded.high, rel=0.05)


def test_every_measure_shrinks_minutes_or_the_radius_by_a_tenth(review: Review) -> None:
    now = review.mitigations[0]
    assert now.radii is not None
    assert now.recorded is not None
    for one in review.mitigations[1:]:
        assert one.recorded is not None
        fewer = one.recorded.high < 0.9 * now.recorded.high
        # an upper end of the whole day cannot fall
        fewer |= (one.recorded.best or 0.0) < 0.9 * (now.recorded.best or 0.0)
        nearer = one.radii is not None and one.radii.words_m < 0.9 * now.radii.words_m
        assert fewer or nearer or one.kind is MitigationKind.DELETION


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


def test_a_camera_s_own_low_pass_is_the_one_of_the_site_file() -> None:
    """Far above its edge it falls by what it says; at its edge by half the power."""
    gentle = Microphone(high_cut_hz=800.0, high_cut_db_per_octave=12.0)
    edge, high, higher = _low_pass_db(np.array([800.0, 12_800.0, 25_600.0]), gentle)
    assert edge == pytest.approx(10 * np.log10(2))
    assert higher - high == pytest.approx(12.0, abs=0.1)


def test_a_low_pass_takes_of_a_sound_what_lies_above_it() -> None:
    """A Butterworth of fourth order: 3 dB at its corner, 24.1 dB an octave above, by hand."""
    assert _low_pass_db(np.array([500.0, 1000.0, 250.0]), Microphone()) == pytest.approx(
        [3.01, 24.1, 0.017], abs=0.01
    )
    site = Site(wanted=(Wanted(sound="breaking glass"), Wanted(sound="vehicle horn")))
    weaker = weakening_db(site)
    assert weaker["breaking glass"] > 15.0
    assert weaker["vehicle horn"] > 10.0


def test_a_filter_leaves_what_a_recording_can_be_equalised_to(review: Review) -> None:
    """A site at 16 bits: the filter brings little below the format's floor, and is not offered."""
    quiet = next((o for o in review.mitigations if o.kind is MitigationKind.LOW_PASS), None)
    now = review.mitigations[0].radii
    assert now is not None
    if quiet is not None:
        assert quiet.radii is not None
        assert quiet.radii.words_m < 0.9 * now.words_m


def test_storing_no_sound_comes_first(review: Review) -> None:
    assert review.mitigations[1].kind is MitigationKind.NO_SOUND
