"""Chance of detection against distance: spreading in the free field, and where it is not known."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from audiolevel.planning.asked import Asked, asked_option
from audiolevel.planning.detection_range import (
    DISTANCES_M,
    Carried,
    RangeCurve,
    falling,
    range_curves,
)
from audiolevel.planning.survey import Survey, survey_of
from audiolevel.site.sections import Microphone
from tests.made_street import RATE_HZ, SITE, heard, plan

STEP = DISTANCES_M[1] / DISTANCES_M[0]


@lru_cache(maxsize=4)
def _curve(level_db: float) -> RangeCurve:
    """The horn on a street of steady faint noise, against a threshold."""
    noise = np.random.default_rng(8).normal(0, 1e-4, 60 * RATE_HZ)
    made = survey_of([heard(wave=noise)], SITE)
    return _curve_of(made, level_db)


def _curve_of(made: Survey, level_db: float) -> RangeCurve:
    option = asked_option(made, plan().gains, Asked("mid", level_db=level_db))
    (((*curves,),),) = range_curves(made, [option])
    assert option.trigger.at_db == option.curve.prediction.settings_db[option.row]
    return curves[option.row]


def test_twenty_decibels_more_is_a_tenth_of_the_distance() -> None:
    # free field: 20 dB a decade (ISO 9613-2:1996, 7.1); the air takes little at such distances.
    # the table says 98 dB(A) at 7 m, so the median horn has 90 dB at 17.6 m
    far, near = (_curve(level).reaches_m(0.5) for level in (76.0, 96.0))
    assert far is not None
    assert near is not None
    assert far / near == pytest.approx(10.0, rel=STEP - 1)
    assert _curve(90.0).reaches_m(0.5) == pytest.approx(7 * 10 ** (8 / 20), rel=STEP - 1)


def test_the_chance_falls_with_distance_and_lies_in_its_interval() -> None:
    curve = _curve(80.0)
    assert curve.sound == "vehicle horn"
    assert curve.distance_m.tolist() == list(DISTANCES_M[::2])
    # each distance has its own placements, of ±5 %
    assert (np.diff(curve.probability) <= 0.02).all()
    assert curve.probability[0] > 0.999
    # 120 m: 98 − 24.7 dB, less about 1.5 dB of air and half of a band above 4 kHz; 8.5 dB short
    # of the level are 1.8 deviations of hypot(4, 2.5) dB
    assert curve.probability[-1] == pytest.approx(0.036, abs=0.02)
    assert (curve.low <= curve.probability).all()
    assert (curve.probability <= curve.high).all()


@lru_cache(maxsize=1)
def _street_curve() -> RangeCurve:
    """The horn on three minutes with loud passages, twelve moments, against a high threshold."""
    made = survey_of([heard()], SITE)
    return _curve_of(made, 104.0)


def test_the_interval_does_not_grow_again_where_nothing_fires() -> None:
    curve = _street_curve()
    assert curve.probability[-1] < 0.005
    assert (np.diff(curve.low) <= 0).all()
    assert (np.diff(curve.high) <= 0.02).all()
    # of its twelve moments alone: 1.96² / (12 + 1.96²) is 24 %
    assert curve.high[-1] < 0.1
    assert (curve.low <= curve.probability).all()
    assert (curve.probability <= curve.high).all()


def test_limits_of_a_falling_chance_by_hand() -> None:
    share = np.array([1.0, 0.9, 0.5, 0.1, 0.12, 0.0])
    low = np.array([0.76, 0.8, 0.3, 0.05, 0.06, 0.0])
    high = np.array([1.0, 0.97, 0.7, 0.11, 0.2, 0.24])
    below, above = falling(share, low, high)
    assert below.tolist() == [0.8, 0.8, 0.3, 0.06, 0.06, 0.0]
    # a share above its neighbour's limit is never outside its own
    assert above.tolist() == [1.0, 0.97, 0.7, 0.11, 0.12, 0.11]


def test_the_farthest_distance_by_hand() -> None:
    at = np.array([1.0, 2.0, 4.0, 8.0])
    share = np.array([1.0, 0.9, 0.5, 0.0])
    curve = RangeCurve("shout", at, share, share, share)
    assert (curve.reaches_m(0.9), curve.reaches_m(0.5)) == (2.0, 4.0)
    # half of the chance between, at half of the decibels between: √(2 · 4) m
    assert curve.reaches_m(0.7) == pytest.approx(8**0.5)
    assert replace(curve, probability=share + 0.5).reaches_m(0.5) == 8.0
    assert replace(curve, probability=share / 4).reaches_m(0.5) is None


def test_without_a_calibration_there_is_no_distance() -> None:
    option = plan().recommended
    assert option is not None
    blind = replace(SITE, microphone=Microphone())
    assert range_curves(survey_of([heard(blind)], blind), [option]) == []


def test_a_setting_among_others_has_the_curve_that_it_has_alone() -> None:
    noise = np.random.default_rng(8).normal(0, 1e-4, 60 * RATE_HZ)
    made = survey_of([heard(wave=noise)], SITE)
    option = asked_option(made, plan().gains, Asked("mid", level_db=90.0))
    alone = Carried(made, option.gain_db, [(option.trigger, [option.trigger.at_db])])
    curve = _curve(90.0)
    found = [alone.at(0, float(metres))[0][0].probability for metres in curve.distance_m]
    # each has placements of its own, of ±5 %
    assert curve.probability == pytest.approx(found, abs=0.05)
