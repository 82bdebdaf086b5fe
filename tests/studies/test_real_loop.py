"""Plan, log and re-set on measured streets, reduced; the whole is `tests.studies.real_loop`."""

import os
from itertools import chain

import numpy as np
import pytest

from tests.studies.real_loop import (
    by_the_program,
    next_days,
    set_every_evening,
    share_over,
)
from tests.studies.real_series import STREETS

pytestmark = pytest.mark.skipif(
    "AUDIOLEVEL_REAL_LEVELS" not in os.environ,
    reason="real days: set AUDIOLEVEL_REAL_LEVELS to the folder of measured series",
)


def _median_error(found, days):
    return np.median([abs(one.error_db) for one in found if one.days == days])


def test_a_log_of_one_and_two_days_brings_the_level_near():
    found = list(chain(*(set_every_evening(name, 5, "best") for name in STREETS)))
    assert _median_error(found, 1) <= 1.5
    assert _median_error(found, 2) <= 1.2
    assert np.mean([one.next_inside for one in found]) >= 0.90


def test_no_proposed_level_has_three_times_the_limit():
    found = by_the_program("street 3", 2)
    assert share_over(found, "per_day") <= 1
    assert np.mean([one.next_inside for one in found]) >= 0.90


@pytest.mark.parametrize("name", STREETS)
def test_the_next_day_of_a_monitor_s_own_log_lies_inside(name):
    found = next_days(name, every=25)
    assert len(found) > 20
    assert np.mean([one.inside for one in found if one.days]) >= 0.90


@pytest.mark.slow
def test_the_loop_left_to_itself_converges():
    found = list(chain(*(by_the_program(name, 10) for name in STREETS)))
    for days, most in ((1, 1.2), (4, 1.4)):
        assert _median_error(found, days) <= most
    week = [one.error_db for one in found if one.days == 7]
    assert abs(np.median(week)) <= 0.5
    assert np.mean([one.holds for one in found if one.days == 7]) >= 0.85
    assert np.mean([5 <= one.per_day <= 16 for one in found if one.days == 4]) >= 0.5
    assert share_over(found, "per_day") <= 1
