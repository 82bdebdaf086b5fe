"""What a prediction is asked for."""

import numpy as np
import pytest

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.schedule import read_schedule
from audiolevel.ground.errors import SettingError


def test_always_active_is_no_share_and_a_schedule_is_its_hours():
    assert Conditions().active is None
    assert Conditions().active_or_all.tolist() == [1.0] * 24
    half = Conditions(read_schedule(["06:30-08:00"]))
    assert half.active is not None
    assert np.flatnonzero(half.active).tolist() == [6, 7]
    assert half.active[6] == pytest.approx(0.5)


@pytest.mark.parametrize("wrong", [{"confidence": 1.0}, {"confidence": 0.5}, {"wet_share": 1.5}])
def test_what_is_no_share_is_refused(wrong):
    with pytest.raises(SettingError, match=next(iter(wrong))):
        Conditions(**wrong)
