"""The one belief, and what a wet road does."""

import pytest

from audiolevel.counting.belief import LEVEL_SLOPE_NP_PER_DB, louder_when, wet_of
from audiolevel.ground.errors import SettingError


def test_wet_days_are_louder_than_the_mean_of_days_by_hand() -> None:
    # ln(1 + ¼(e^(0.28·2) − 1))/0.28 = 0.614 dB
    assert LEVEL_SLOPE_NP_PER_DB == 0.28
    assert louder_when(None) == 0.0
    assert louder_when(wet=False) == pytest.approx(-0.614, abs=0.001)
    assert louder_when(wet=True) == pytest.approx(2 - 0.614, abs=0.001)
    # where it is always wet a wet day is the mean of days
    assert louder_when(wet=True, wet_share=1.0) == pytest.approx(0.0)


def test_weather_is_dry_wet_or_nothing() -> None:
    assert [wet_of(one) for one in ("wet", "dry", None)] == [True, False, None]
    with pytest.raises(SettingError, match="neither dry nor wet"):
        wet_of("foggy")
