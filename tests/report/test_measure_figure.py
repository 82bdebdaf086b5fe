"""The picture of a measurement shows its seconds and its exceeded levels."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.metering.calibration import Scale
from audiolevel.report.measure.figure import levels
from tests.made_street import heard


def test_each_second_and_each_percentile_is_drawn() -> None:
    one = heard()
    left, right = levels(one, Scale(110.0)).figure.axes
    seconds, mean = left.lines
    assert len(np.asarray(seconds.get_xdata())) == 180
    assert np.asarray(seconds.get_ydata()) == pytest.approx(one.second_lafmax_db + 110.0)
    assert np.asarray(mean.get_ydata())[0] == pytest.approx(one.levels.laeq_db + 110.0)
    percents, exceeded = right.lines[0].get_data()
    drawn = dict(zip(np.asarray(percents).tolist(), np.asarray(exceeded).tolist(), strict=True))
    for name in ("L10", "L50", "L90"):
        level = one.levels.percentiles_db[name] + 110.0
        assert drawn[int(name[1:])] == pytest.approx(level, abs=0.02)
    assert (np.diff(np.asarray(exceeded)) <= 0).all()


@pytest.mark.parametrize(("seconds", "unit"), [(600, "seconds"), (601, "minutes")])
def test_more_than_ten_minutes_are_drawn_in_minutes(seconds: int, unit: str) -> None:
    level = np.full(seconds, -30.0)
    one = replace(heard(), second_lafmax_db=level, second_lafmin_db=level - 5)
    axes = levels(one, Scale()).figure.axes[0]
    assert axes.get_xlabel() == unit


def test_the_words_hold_the_levels() -> None:
    one = heard()
    words = levels(one, Scale(110.0)).alternative
    assert words.startswith("lane.wav: LAeq ")
    for level in (one.levels.laeq_db, one.levels.lafmax_db):
        assert f"{level + 110:.1f}" in words
    assert words.endswith("dB SPL")
