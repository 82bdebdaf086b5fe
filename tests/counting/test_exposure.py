"""What visits are worth together."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from audiolevel.counting.exposure import Visit, exposure_of
from audiolevel.counting.site_kinds import kind_of
from audiolevel.counting.traffic import published
from audiolevel.errors import SettingError

MORNING = datetime(2024, 6, 4, 10, 0)


def visit(count=10, start=MORNING, duration_s=600.0):
    return Visit(np.array([count]), duration_s, None, start)


def known(*visits, traffic=None, kind="street", wet_share=0.0):
    return exposure_of(visits, np.array([70.0]), traffic, kind_of(kind), wet_share)


def test_files_without_a_start_are_one_day():
    halves = known(visit(start=None), visit(start=None))
    assert halves.days == 1
    # what the day was like is left as it was, the hour is heard twice: (½ + ½/2)·scale²
    assert halves.shift.of_mean == pytest.approx(0.5 + 0.25, abs=0.01)


def test_a_whole_day_leaves_only_the_difference_between_days():
    assert known(visit(duration_s=86400.0)).shift.of_mean == pytest.approx(0.5)
    assert known(visit(duration_s=86400.0, start=None)).shift.of_mean == pytest.approx(0.5)
    assert known(visit(duration_s=4 * 86400.0)).shift.of_mean == pytest.approx(0.125)


def test_exposure_follows_the_traffic_of_the_hours_heard():
    flow = published(MORNING)
    # 10.50 to 11.10 h: ten minutes of each hour's flow.
    both = known(visit(start=MORNING + timedelta(minutes=50), duration_s=1200.0), traffic=flow)
    assert both.exposure_s(1.0) == pytest.approx(600 * (flow[10] + flow[11]))
    assert known(visit(), traffic="published").exposure_s(1.0) == pytest.approx(600 * flow[10])
    assert known(visit()).exposure_s(1.0) == 600
    assert known(visit(start=None), traffic="published").exposure_s(1.0) == 600
    assert known(visit(), traffic="published").share(0.4).sum() == pytest.approx(1)


def test_the_exponent_makes_a_busy_hour_less_of_the_day():
    one = known(visit(), traffic="published")
    flow = published(MORNING)
    for exponent in (0.0, 0.4, 1.0):
        by_hand = 600 * flow[10] ** exponent / np.mean(flow**exponent)
        assert one.exposure_s(exponent) == pytest.approx(by_hand)
    night = np.zeros(24)
    night[:6] = 1.0
    assert one.active_s(0.0, night) == pytest.approx(6 * 3600)
    assert one.active_s(1.0, night) == pytest.approx(3600 * flow[:6].sum())


def test_visits_at_different_hours_teach_the_exponent():
    # 400 an hour at ten and at three at night, whatever the traffic; or as the traffic, 12 to 1
    flow = published(MORNING)
    day, night = visit(400, duration_s=3600.0), visit(400, MORNING.replace(hour=3), 3600.0)
    quiet = visit(round(400 * flow[3] / flow[10]), MORNING.replace(hour=3), 3600.0)
    flat = known(day, night, traffic="published")
    follows = known(day, quiet, traffic="published")
    assert flat.exponent < known(day, traffic="published").exponent < follows.exponent
    assert flat.exponent_sd < known(day, traffic="published").exponent_sd
    assert not flat.contradicts_flow
    busier = visit(6000, MORNING.replace(hour=3), 3600.0)
    assert known(day, busier, traffic="published").contradicts_flow


def test_several_days_counts_teach_the_difference_between_days():
    def days(counts):
        return known(*(visit(c, MORNING + timedelta(days=i)) for i, c in enumerate(counts)))

    even = days([100, 101, 99, 100, 100, 100]).shift
    uneven = days([20, 200, 60, 150, 30, 300]).shift
    four = days([100, 100, 100, 100]).shift  # not yet
    assert even.scale_db < 2.3 < uneven.scale_db
    assert four.scale_db == 2.3


def test_traffic_that_cannot_have_been_heard_is_refused():
    with pytest.raises(SettingError, match="no traffic in the hours heard"):
        known(visit(), traffic=[1.0] * 6 + [0.0] * 18)
    with pytest.raises(SettingError, match="published"):
        known(visit(), traffic="sometimes")
