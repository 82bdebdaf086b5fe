"""Traffic by hour, against figures of UK DfT table TRA0307."""

from datetime import datetime

import numpy as np
import pytest

from audiolevel.counting.traffic import heard_seconds, published, relative_flow
from audiolevel.ground.errors import SettingError

TUESDAY = datetime(2024, 6, 4, 10, 50)
SUNDAY = datetime(2024, 6, 9, 10, 50)


def test_weekday_shares_of_day_evening_and_night():
    # From TRA0307, Monday-Friday pooled: 78.55 / 11.07 / 10.37 % of the traffic falls in
    # 07-19, 19-23 and 23-07 h; the busiest hour carries 12.85 dB more flow than the quietest.
    share = published(TUESDAY) / 24 * 100
    assert share[7:19].sum() == pytest.approx(78.55, abs=0.03)
    assert share[19:23].sum() == pytest.approx(11.07, abs=0.03)
    assert share[[23, *range(7)]].sum() == pytest.approx(10.37, abs=0.03)
    assert 10 * np.log10(share.max() / share.min()) == pytest.approx(12.85, abs=0.05)


def test_weekend_has_its_own_profile():
    assert published(SUNDAY).argmax() == 12
    assert published(TUESDAY).argmax() == 16


def test_flow_is_relative_to_the_mean_hour():
    assert relative_flow([1] * 12 + [3] * 12) == pytest.approx([0.5] * 12 + [1.5] * 12)


def test_seconds_heard_over_an_hour_s_border_and_over_days():
    seconds = heard_seconds(TUESDAY, 1800)
    assert seconds[10] == 600
    assert seconds[11] == 1200
    assert heard_seconds(TUESDAY, 86400 + 1800) == pytest.approx(seconds + 3600)


@pytest.mark.parametrize("flows", [[1] * 23, [0] * 24, [-1] + [1] * 23, [float("nan")] * 24])
def test_bad_flows_are_refused(flows):
    with pytest.raises(SettingError, match="traffic_by_hour"):
        relative_flow(flows)
