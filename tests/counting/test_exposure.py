"""What visits are worth together."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from audiolevel.counting.belief import BELIEF
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit, exposure_of
from audiolevel.counting.schedule import read_schedule
from audiolevel.counting.traffic import published
from audiolevel.ground.errors import SettingError

MORNING = datetime(2024, 6, 4, 10, 0)


def visit(count=10, start=MORNING, duration_s=600.0):
    return Visit(np.array([count]), duration_s, None, start)


def known(*visits, traffic=None, active=()):
    return exposure_of(visits, Conditions(read_schedule(active), traffic), BELIEF)


def test_files_without_a_start_are_one_day():
    halves = known(visit(start=None), visit(start=None))
    # what day and week were like is left as it was, the visit's own part is halved
    assert halves.mean_db**2 == pytest.approx(1.5**2 / 2 + 1.0**2 + 1.1**2, rel=0.02)


def test_a_whole_day_leaves_only_the_difference_between_days_and_weeks():
    left = 1.0**2 + 1.1**2
    assert known(visit(duration_s=86400.0)).mean_db ** 2 == pytest.approx(left)
    # Tuesday to Friday are four days of one week
    assert known(visit(duration_s=4 * 86400.0)).mean_db ** 2 == pytest.approx(0.25 + 1.1**2)


def test_exposure_follows_the_traffic_of_the_hours_heard():
    flow = published(MORNING)
    # 10.50 to 11.10 h: ten minutes of each hour's flow.
    both = known(visit(start=MORNING + timedelta(minutes=50), duration_s=1200.0), traffic=flow)
    one, all_day = np.array([1.0]), np.ones(24)
    by_hand = 86400 / (600 * (flow[10] + flow[11]))
    assert both.to_day(one, all_day) == pytest.approx(by_hand)
    assert known(visit()).to_day(one, all_day) == pytest.approx(144)
    assert known(visit(start=None), traffic="published").to_day(one, all_day) == pytest.approx(144)
    assert known(visit(), traffic="published").share().sum() == pytest.approx(1)


def test_the_exponent_makes_a_busy_hour_less_of_the_day():
    one, flow = known(visit(), traffic="published"), published(MORNING)
    night = np.zeros(24)
    night[:6] = 1.0
    for exponent in (0.0, 0.65, 1.0):
        busy = flow**exponent
        by_hand = 3600 * busy[:6].sum() / (600 * busy[10])
        assert one.to_day(np.array([exponent]), night) == pytest.approx(by_hand)


def test_traffic_that_cannot_have_been_heard_is_refused():
    with pytest.raises(SettingError, match="no traffic in the hours heard"):
        known(visit(), traffic=[1.0] * 6 + [0.0] * 18)
    with pytest.raises(SettingError, match="active hours"):
        known(visit(), traffic=[0.0] * 6 + [1.0] * 18, active=["00:00-05:00"])
