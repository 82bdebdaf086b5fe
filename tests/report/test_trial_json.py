"""The JSON of a trial lists every firing, in the unit of the site."""

import json

import numpy as np
import pytest

from audiolevel.metering.quality import clipping_notices
from audiolevel.planning.trial import trials_of
from audiolevel.report.trial.json import as_json
from audiolevel.triggers.trigger import Trigger
from tests.made_street import SITE, survey
from tests.triggers.test_trigger import slow_firings


@pytest.mark.parametrize(("mode", "at"), [("threshold", 80.0), ("rise", 15.0)])
def test_firings_are_those_of_a_slow_recount(mode: str, at: float) -> None:
    trials = trials_of(survey(), SITE.trigger.trigger(mode, at))
    result = as_json(trials, survey(), [])
    json.dumps(result, allow_nan=False)
    for one, told in zip(trials, result["trials"], strict=True):
        laf = one.gain.laf
        assert laf is not None
        expected = slow_firings(laf / 100, one.trigger)
        assert told["count"] == len(expected) > 0
        for row, fired in zip(expected, told["triggers"], strict=True):
            assert fired["time_s"] == pytest.approx((row + 1) / 100)
            assert fired["marked"] == (58.5 < fired["time_s"] <= 61.91)
            assert fired["level_db"] == pytest.approx(laf[row] / 100 + 110 - told["gain_db"])
        assert told["level_db" if mode == "threshold" else "change_db"] == at
        low, high = told["expected"]["rate_low_per_day"], told["expected"]["rate_high_per_day"]
        assert low <= told["expected"]["per_day"] <= high


def test_a_gain_that_clips_says_its_share_and_warns() -> None:
    trials = trials_of(survey(), SITE.trigger.trigger("rise", 15.0))
    notices = [n for one in trials for n in clipping_notices(one.measurement, one.gain.gain_db)]
    result = as_json(trials, survey(), notices)
    shares = [told["clipped_share"] for told in result["trials"]]
    assert shares[:2] == [0.0, 0.0]
    assert 0.001 < shares[2] < 0.01
    assert [one["code"] for one in result["warnings"]] == ["clipped"]
    assert "at +18 dB" in result["warnings"][0]["text"]


def test_the_camera_s_own_gain_and_number_stand_beside_the_level() -> None:
    """The number rises with the gain by the slope of the readings' straight line."""
    site = SITE
    trials = trials_of(survey(), Trigger.threshold(level_db=80.0))
    found = as_json(trials, survey(), [])["trials"]
    names = {gain_db: name for name, gain_db in site.gains_db()}
    assert [one["gain_setting"] for one in found] == [names[one["gain_db"]] for one in found]
    shown, levels = zip(*site.display.readings, strict=True)
    slope, offset = np.polyfit(levels, shown, 1)
    for one, trial in zip(found, trials, strict=True):
        number = slope * trial.trigger.at_db + offset
        assert one["display_level"] == pytest.approx(number, abs=0.06)
        assert one["display_uncertainty"] > 0
