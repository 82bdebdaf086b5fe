"""Plan, log and re-set on measured streets, reduced; the whole is `tests.studies.real_loop`."""

import os
from itertools import chain

import numpy as np
import pytest

from audiolevel.counting.site_kinds import KINDS
from tests.studies.real_days import STREETS
from tests.studies.real_loop import (
    LOG_DAYS,
    by_the_program,
    next_days,
    set_every_evening,
    share_over,
)

pytestmark = pytest.mark.skipif(
    "AUDIOLEVEL_REAL_LEVELS" not in os.environ,
    reason="real days: set AUDIOLEVEL_REAL_LEVELS to the folder of measured series",
)
# what is fitted without a street differs from it by 0.1 dB and 0.025: docs/real_days.md
STREET = KINDS["street"]


def _median_error(found, days):
    return np.median([abs(one.error_db) for one in found if one.days == days])


def test_a_log_of_one_and_two_days_brings_the_level_near():
    found = list(chain(*(set_every_evening(name, 5, "best", STREET) for name in STREETS)))
    assert _median_error(found, 1) <= 1.5
    assert _median_error(found, 2) <= 1.2
    assert np.mean([one.next_inside for one in found]) >= 0.90


def test_no_proposed_level_has_three_times_the_limit():
    found = by_the_program("street 3", 2, STREET)
    assert share_over(found, "per_day") <= 1
    assert np.mean([one.next_inside for one in found]) >= 0.90


@pytest.mark.parametrize("name", STREETS)
def test_the_next_day_of_a_monitor_s_own_log_lies_inside(name):
    found = next_days(name, every=25)
    assert len(found) > 20
    assert np.mean([one.inside for one in found if one.days]) >= 0.90


@pytest.mark.slow
def test_the_whole_study():
    for first, most_db in (("safe", (1.6, 1.0, 1.4)), ("best", (1.0, 0.9, 1.1))):
        found = list(chain(*(set_every_evening(name, 25, first) for name in STREETS)))
        for days, most in zip((1, 2, 4), most_db, strict=True):
            assert _median_error(found, days) <= most
        # works on street 5 make the month's mean another than that of the days logged
        assert np.mean([one.holds for one in found]) >= 0.85
        for days in LOG_DAYS:
            assert np.mean([one.next_inside for one in found if one.days == days]) >= 0.95
    proposed = list(chain(*(by_the_program(name, 10) for name in STREETS)))
    assert share_over(proposed, "per_day") <= 1
    assert share_over(proposed, "count") <= 1
    for name in STREETS:
        for days in LOG_DAYS:
            of = [one.inside for one in next_days(name) if one.days == days]
            assert np.mean(of) >= 0.90
