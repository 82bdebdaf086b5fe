"""The outline of a recording holds the lowest and highest of each moment; silence is left out."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.report.figures import new_figure
from audiolevel.report.level_trace import NOTHING_DB, draw, in_words, outline, unit_of_time
from tests.made_street import heard


def test_a_short_recording_has_a_moment_a_second() -> None:
    one = heard()
    found = outline(one)
    assert found.moment_s == 1.0
    assert found.high_db == pytest.approx(one.second_lafmax_db)
    assert found.low_db == pytest.approx(one.second_lafmin_db)
    assert found.at_s[:2] == pytest.approx([0.5, 1.5])
    assert in_words(found) == "line: highest LAF of each second; band: down to the lowest"


def test_of_a_day_no_extreme_is_lost() -> None:
    rng = np.random.default_rng(5)
    high = rng.uniform(-60, -20, 86_400)
    one = replace(heard(), second_lafmax_db=high, second_lafmin_db=high - 7)
    found = outline(one)
    # a day in at most 1200 moments is 72 s each
    assert (len(found.high_db), found.moment_s) == (1200, 72.0)
    assert found.high_db == pytest.approx(high.reshape(1200, 72).max(axis=1))
    assert found.low_db == pytest.approx(high.reshape(1200, 72).min(axis=1) - 7)
    assert "of each 72 s" in in_words(found)


def test_silence_is_a_gap_and_does_not_stretch_the_axis() -> None:
    high = np.array([-30.0, -31.0, -200.0, -200.0, -32.0])
    low = np.array([-40.0, -200.0, -200.0, -200.0, -41.0])
    found = outline(replace(heard(), second_lafmax_db=high, second_lafmin_db=low))
    assert np.isnan(found.high_db).tolist() == [False, False, True, True, False]
    # the moment that goes down to silence ends where the lowest other does
    assert np.nanmin(found.low_db) == -41.0 > NOTHING_DB
    assert not found.silent
    nothing = outline(replace(heard(), second_lafmax_db=low * 0 - 200, second_lafmin_db=low))
    assert nothing.silent
    axes = new_figure(4, 2).subplots()
    draw(axes, nothing, 110.0, 0.0, 1.0)
    assert [one.get_text() for one in axes.texts] == ["digital silence"]
    assert len(axes.lines) == 0


@pytest.mark.parametrize(
    ("whole_s", "unit"),
    [(600, "seconds"), (601, "minutes"), (10_800, "minutes"), (10_801, "hours")],
)
def test_long_times_are_told_in_longer_units(whole_s: float, unit: str) -> None:
    assert unit_of_time(whole_s)[1] == unit
