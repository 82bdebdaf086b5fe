"""Levels by part of the day: on rates whose level is a formula."""

from datetime import datetime

import numpy as np
import pytest

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.schedule import read_schedule
from audiolevel.planning.day_parts import part_of, settings_by_part
from audiolevel.report.words.reasons import by_part_lines

LEVELS = np.arange(60.0, 100.0, 0.5)
SLOPE = 0.4


def _visit(hour, per_day_at_60, hours=3.0):
    """Firings whose rate falls by 0.4 neper a decibel."""
    seen = np.round(per_day_at_60 / 24 * hours * np.exp(-SLOPE * (LEVELS - 60.0)))
    return Visit(seen.astype(np.int64), hours * 3600.0, None, datetime(2024, 6, 4, hour))


def test_a_quiet_night_gets_a_lower_level():
    # by hand: of 800 a day 12/20 go to the 12 hours of the day and 8/20 to the 8 of the night;
    # the rate in a part at level T is rate · hours/24 · exp(−0.4(T−60))
    found = settings_by_part(
        LEVELS,
        [_visit(9, 40_000.0), _visit(1, 4_000.0)],
        800.0,
        Conditions(),
        extrapolate=False,
    )
    assert found is not None
    day, night = found.parts
    assert (day.part, night.part) == ("day", "night")
    assert day.limit_per_day == pytest.approx(480)
    assert night.limit_per_day == pytest.approx(320)
    for one, rate in ((day, 40_000), (night, 4_000)):
        by_hand = 60 + np.log(rate * one.hours / 24 / one.limit_per_day) / SLOPE
        assert one.best_db == pytest.approx(by_hand, abs=0.4)
    # all day: 40000·12/24 + 4000·8/24 = 21333 a day at 60 dB
    assert found.common_db == pytest.approx(60 + np.log(21_333 / 800) / SLOPE, abs=0.4)
    assert found.pays
    assert night.gain_db > 3
    assert "night: " in by_part_lines(found, "dB SPL")[1]
    assert "lower than" in by_part_lines(found, "dB SPL")[1]


def test_parts_that_are_alike_do_not_pay():
    found = settings_by_part(
        LEVELS, [_visit(9, 10_000.0), _visit(1, 9_000.0)], 800.0, Conditions(), extrapolate=False
    )
    assert found is not None
    assert not found.pays


def test_few_firings_do_not_pay_however_far_apart():
    found = settings_by_part(
        LEVELS,
        [_visit(9, 900.0, 0.2), _visit(1, 300.0, 0.2)],
        20.0,
        Conditions(),
        extrapolate=False,
    )
    assert found is None or not found.pays


def test_moved_levels_keep_their_distances():
    found = settings_by_part(
        LEVELS, [_visit(9, 40_000.0), _visit(1, 4_000.0)], 800.0, Conditions(), extrapolate=False
    )
    assert found is not None
    moved = found.shifted(12.0)
    assert moved.common_db == found.common_db + 12
    assert moved.parts[1].best_db == found.parts[1].best_db + 12
    assert moved.parts[1].gain_db == found.parts[1].gain_db


def test_only_active_hours_have_a_part():
    by_day = Conditions(read_schedule(["07:00-19:00"]))
    visits = [_visit(9, 40_000.0), _visit(1, 4_000.0)]
    assert settings_by_part(LEVELS, visits, 800.0, by_day, extrapolate=False) is None
    assert settings_by_part(LEVELS, visits[:1], 800.0, Conditions(), extrapolate=False) is None


@pytest.mark.parametrize(
    ("hour", "hours", "part"),
    [(9, 3.0, "day"), (19, 4.0, "evening"), (23, 8.0, "night"), (17, 4.0, None), (6, 20.0, None)],
)
def test_a_visit_belongs_to_the_part_that_holds_it(hour, hours, part):
    assert part_of(_visit(hour, 1000.0, hours)) == part


def test_a_visit_without_a_start_belongs_nowhere():
    assert part_of(Visit(np.array([1]), 60.0)) is None
