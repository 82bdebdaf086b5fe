"""What visits are worth together."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from audiolevel.counting.exposure import Visit, knowledge
from audiolevel.counting.traffic import published
from audiolevel.errors import SettingError

MORNING = datetime(2024, 6, 4, 10, 0)


def visit(count=10, start=MORNING, duration_s=600.0):
    return Visit(np.array([count]), duration_s, None, start)


def known(*visits, traffic=None):
    return knowledge(visits, np.sum([v.counts for v in visits], axis=0), traffic)


def test_spread_of_one_visit_and_of_three_days():
    # 0.4 and 0.3 in ln(rate): measured beforehand on simulated sites (docs/counting.md).
    days = [visit(start=MORNING + timedelta(days=i, hours=i)) for i in range(3)]
    assert known(days[0]).spread == pytest.approx(0.40, abs=0.01)
    assert known(*days).spread == pytest.approx(0.30, abs=0.01)


def test_files_without_a_start_are_one_day():
    assert known(visit(start=None), visit(start=None)).days == 1
    halves = known(visit(start=None), visit(start=None)).spread
    assert halves == known(visit(duration_s=1200.0)).spread


def test_a_whole_day_leaves_only_the_difference_between_days():
    assert known(visit(duration_s=86400.0)).spread == pytest.approx(0.324)
    assert known(visit(duration_s=86400.0, start=None)).spread == pytest.approx(0.324)
    assert known(visit(duration_s=4 * 86400.0)).spread == pytest.approx(0.162)


def test_exposure_follows_the_traffic_of_the_hours_heard():
    flow = published(MORNING)
    # 10.50 to 11.10 h: ten minutes of each hour's flow.
    both = known(visit(start=MORNING + timedelta(minutes=50), duration_s=1200.0), traffic=flow)
    assert both.exposure_s == pytest.approx(600 * (flow[10] + flow[11]))
    assert known(visit(), traffic="published").exposure_s == pytest.approx(600 * flow[10])
    assert known(visit()).exposure_s == 600
    assert known(visit(start=None), traffic="published").exposure_s == 600
    assert known(visit(), traffic="published").share.sum() == pytest.approx(1)


def test_a_night_visit_is_less_certain_than_a_morning_one():
    night = visit(start=datetime(2024, 6, 4, 2, 0))
    assert known(night, traffic="published").spread > 0.7
    assert known(visit(), traffic="published").spread < 0.41


def test_from_five_days_the_spread_is_estimated():
    def days(counts):
        return [visit(c, MORNING + timedelta(days=i)) for i, c in enumerate(counts)]

    even = known(*days([100, 101, 99, 100, 100, 100])).spread
    uneven = known(*days([20, 200, 60, 150, 30, 300])).spread
    assumed = known(*days([100, 100, 100, 100])).spread  # four days: not yet
    assert even < 0.27 < uneven
    assert assumed == pytest.approx((0.235**2 * (1 - 1 / 144) ** 2 + 0.324**2 / 4) ** 0.5, abs=0.01)


def test_traffic_that_cannot_have_been_heard_is_refused():
    with pytest.raises(SettingError, match="no traffic in the hours heard"):
        known(visit(), traffic=[1.0] * 6 + [0.0] * 18)
    with pytest.raises(SettingError, match="published"):
        known(visit(), traffic="sometimes")
