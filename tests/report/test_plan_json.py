"""The JSON of a plan is its plan: the unit shown, limits, null where nothing is known."""

import json

import numpy as np
import pytest

from audiolevel.planning.asked import Asked
from audiolevel.planning.plan_record import RATE_SHARES
from audiolevel.report.plan.json import as_json, expected_record
from tests.made_street import plan


def test_settings_are_in_sound_pressure_at_their_gain() -> None:
    made, told = plan(), as_json(plan())
    json.dumps(told, allow_nan=False)
    assert told["reference"] == "dB SPL"
    for option, written in zip(made.options, told["options"], strict=True):
        if option.trigger.mode == "threshold":
            expected = option.trigger.at_db - option.gain_db + 110.0
            assert written["level_db"] == pytest.approx(expected, abs=0.005)
        else:
            assert written["change_db"] == option.trigger.at_db
    # the same setting of the site at each gain is the same sound pressure in every curve
    curves = {c["gain_db"]: c for c in told["curves"] if c["mode"] == "threshold"}
    assert curves[-12.0]["settings_db"] == curves[0.0]["settings_db"] == curves[18.0]["settings_db"]


def test_what_is_expected_lies_in_its_interval_and_its_hours_add_up() -> None:
    option = plan().recommended
    assert option is not None
    told = as_json(plan())["recommended"]["expected"]
    assert told["rate_low_per_day"] <= told["per_day"] <= told["rate_high_per_day"]
    assert len(told["by_hour"]) == 24
    assert sum(told["by_hour"]) == pytest.approx(told["per_day"], rel=0.01)
    assert all(told["by_hour"][hour] == 0 for hour in [*range(8), *range(20, 24)])  # not active
    # active from 8 to 20 h, heard at noon
    assert told["hours_not_heard"] == [*range(8, 12), *range(13, 20)]
    quantiles = told["rate_quantiles"]
    assert quantiles["shares"] == list(RATE_SHARES)
    assert quantiles["per_day"] == sorted(quantiles["per_day"])


def test_where_there_is_only_a_limit_the_best_is_null() -> None:
    curve = next(c for c in plan().curves if c.mode == "rise" and c.gain_db == 0)
    record = expected_record(curve.prediction, len(curve.prediction.settings_db) - 1)
    assert record.method == "upper limit"
    assert record.per_day is None
    assert record.per_hour is None
    assert record.by_hour is None
    assert record.rate_high_per_day is not None
    assert np.isfinite(record.rate_high_per_day)


def test_gains_and_sounds_are_told() -> None:
    told = as_json(plan())
    assert [(g["gain_setting"], g["gain_db"]) for g in told["gains"]] == [
        ("low", -12.0),
        ("mid", 0.0),
        ("high", 18.0),
    ]
    sounds = {(d["sound"], d["in_recording"]) for d in told["recommended"]["detection"]}
    assert sounds == {("vehicle horn", False), ("shout", True)}
    assert told["schedule"]["hours_active_per_day"] == 12
    assert "asked" not in told


def test_how_far_a_sound_is_caught_falls_as_the_setting_rises() -> None:
    made, told = plan(), as_json(plan())
    assert made.recommended is not None
    at_gain = [one for one in told["curves"] if one["gain_db"] == made.recommended.gain_db]
    (curve,) = [one for one in at_gain if one["mode"] == "threshold"]
    horn, shout = curve["detection"]
    # nobody knows how far off the marked shouts were
    assert "caught_within_m" not in shout
    within_m = dict(zip(curve["settings_db"], horn["caught_within_m"], strict=True))
    # 98 dB(A) at 7 m in the table; four in five are louder than hypot(4, 2.5) · 0.84 dB below
    expected_m = 7 * 10 ** ((98 - 0.84 * 4.7 - 90) / 20)
    assert within_m[90.0] == pytest.approx(expected_m, rel=0.15)
    assert within_m[90.0] < within_m[84.0]
    assert told["detection_asked"] == 0.8
    others = [one for one in told["curves"] if one not in at_gain]
    assert not [one for c in others for one in c["detection"] if "caught_within_m" in one]


def test_an_asked_setting_stands_beside_the_recommended_one() -> None:
    told = as_json(plan(asked=Asked("mid", level_db=76.5)))
    assert told["asked"]["level_db"] == 76.5
    # the camera's own scale shows 80 more than dB FS
    assert told["asked"]["display_level"] == pytest.approx(76.5 - 110 + 80)
    assert told["recommended"] == as_json(plan())["recommended"]
