"""The pictures of a plan draw its curve, its gains and its distances, and say them in words."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.planning.choice import Choice
from audiolevel.planning.detection_range import RangeCurve
from audiolevel.report.plan.figure import detection_ranges, firings_and_gains
from tests.made_street import plan


def test_the_curve_is_drawn_in_the_unit_of_the_site_with_its_setting() -> None:
    option = plan().recommended
    assert option is not None
    picture = firings_and_gains(plan(), "Quarry Lane")
    left, right = picture.figure.axes
    prediction = option.curve.prediction
    counted = next(one for one in left.lines if "counted" in str(one.get_label()))
    levels, rates = (np.asarray(part) for part in counted.get_data())
    assert levels == pytest.approx(prediction.settings_db - option.gain_db + 110.0)
    of_counts = prediction.method == "counted"
    assert rates[of_counts] == pytest.approx(prediction.per_day[of_counts])
    assert np.isnan(rates[~of_counts]).all()
    marked = next(one for one in left.lines if one.get_marker() == "D")
    at = option.trigger.at_db - option.gain_db + 110.0
    assert np.asarray(marked.get_xdata())[0] == pytest.approx(at)
    assert [label.get_text() for label in right.get_yticklabels()] == [
        "low:  -12 dB",
        "mid:  +0 dB",
        "high:  +18 dB",
    ]
    assert f"threshold at {at:g} dB SPL" in picture.alternative
    assert "95 % sure: " in picture.alternative


def test_a_plan_without_a_setting_is_a_picture_too() -> None:
    nothing = replace(plan(), choice=Choice("silent", None, (), ()))
    picture = firings_and_gains(nothing, "Quarry Lane")
    assert picture.alternative == ("Quarry Lane: no setting can be defended from 3 min of sound.")


def test_distances_are_drawn_and_the_reach_is_said() -> None:
    at = np.array([1.0, 10.0, 100.0])
    near = RangeCurve("shout", at, np.array([1.0, 0.9, 0.1]), at * 0, at * 0 + 1)
    never = RangeCurve("click", at, np.array([0.5, 0.2, 0.0]), at * 0, at * 0 + 1)
    picture = detection_ranges(plan(), [near, never], "Quarry Lane")
    (axes,) = picture.figure.axes
    assert np.asarray(axes.lines[0].get_ydata()) == pytest.approx([100.0, 90.0, 10.0])
    # the site asks for 80 %: an eighth of the way from 90 to 10, and of the decade
    assert "shout: 80 % up to about 13 m" in picture.alternative
    assert "click: not even at 1 m in 80 % of cases" in picture.alternative
