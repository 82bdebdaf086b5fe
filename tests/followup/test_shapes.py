"""Curves of a plan, and how those of its interval's ends part from that of its estimate."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audiolevel.followup.shapes import Shape, Shapes, shapes_of
from audiolevel.ground.errors import SettingError

STRAIGHT = Shape(np.array([70.0, 80.0]), np.log([100.0, 100.0 * math.exp(-4.2)]), slope_low=0.42)
SETTINGS = np.arange(60.0, 90.0)
# 100 a day at 70 dB by the estimate; one that dies out above it, and one that hardly falls
BEST, LOW, HIGH = (100 * np.exp(-slope * (SETTINGS - 70)) for slope in (0.3, 0.6, 0.15))


@given(st.floats(40, 130))
def test_level_and_rate_are_each_other_s_inverse(level: Any) -> None:
    assert float(STRAIGHT.level(STRAIGHT.at(level))) == pytest.approx(level, abs=1e-6)


@given(st.floats(-4, 4), st.floats(50, 110))
def test_so_are_they_at_every_score(score: float, level: float) -> None:
    shapes = shapes_of(SETTINGS, BEST, (LOW, HIGH))
    assert float(shapes.level(score, shapes.at(score, level))) == pytest.approx(level, abs=1e-3)


def test_the_shape_follows_what_was_heard_and_falls_everywhere() -> None:
    rate = np.where(
        SETTINGS < 62, 5000 - 1000 * (62 - SETTINGS), 5000 * np.exp(-0.3 * (SETTINGS - 62))
    )
    shape = shapes_of(SETTINGS, np.where(SETTINGS > 85, np.nan, rate)).middle
    assert shape.level_db[0] >= 62
    inner = np.array([66.0, 70.0, 74.0])
    assert np.exp(shape.at(inner)) == pytest.approx(5000 * np.exp(-0.3 * (inner - 62)), rel=0.02)
    assert np.all(np.diff(shape.at(np.arange(40, 120, 0.1))) < 0)
    # beyond what the plan tells the usual slope
    assert shape.at(101.0) - shape.at(100.0) == pytest.approx(-0.28)


def test_a_rate_at_an_end_of_the_interval_has_that_end_s_curve() -> None:
    shapes = shapes_of(SETTINGS, BEST, (LOW, HIGH), end_score=1.96)
    # by hand, from 70 dB to 75 dB: 5 dB of 0.6, 0.3 and 0.15 neper
    for score, fall in ((-1.96, 3.0), (0.0, 1.5), (1.96, 0.75), (-0.98, 2.25), (2.94, 1.125)):
        assert shapes.at(score, 70.0) - shapes.at(score, 75.0) == pytest.approx(fall, abs=1e-9)


def test_a_rate_that_the_plan_did_not_think_possible_has_the_estimate_s_curve_moved() -> None:
    shapes = shapes_of(SETTINGS, BEST, (LOW, HIGH), end_score=1.96)
    for score in (-3.92, 3.92, 7.0):
        assert shapes.at(score, 72.0) == pytest.approx(shapes.middle.at(72.0))


def test_silence_where_the_tail_may_have_died_out_says_little_of_the_level() -> None:
    # a rate of 1 a day at 80 dB instead of the 5 expected: by the estimate's own curve 10 a day lie
    # 7.7 dB lower; by that of the low end, to which so low a rate belongs, 3.8 dB
    shapes = shapes_of(SETTINGS, BEST, (LOW, HIGH))
    for score, lower_db in ((0.0, math.log(10) / 0.3), (-1.96, math.log(10) / 0.6)):
        x = shapes.level(score, 0.0)
        assert x - shapes.level(score, math.log(10)) == pytest.approx(lower_db, abs=0.01)


def test_a_plan_with_one_setting_has_the_usual_slope() -> None:
    shapes = shapes_of([75.0], [40.0], ([20.0], [80.0]), beyond_np_per_db=0.2)
    assert shapes.at([-2.0, 0.0, 2.0], 80.0) == pytest.approx([math.log(40.0) - 1.0] * 3)
    assert shapes.middle.at(70.0) == pytest.approx(math.log(40.0) + 1.0)


def test_a_plan_without_a_rate_cannot_be_followed_up() -> None:
    with pytest.raises(SettingError, match="no rate at any setting"):
        shapes_of([60.0, 61.0], [math.nan, math.nan])


def test_one_curve_is_that_of_every_score() -> None:
    assert Shapes.alone(STRAIGHT).at([-3.0, 0.0, 3.0], 75.0).tolist() == [STRAIGHT.at(75.0)] * 3
