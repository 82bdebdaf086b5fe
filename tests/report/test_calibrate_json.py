"""The JSON of a calibration: null for what was not asked."""

import pytest

from audiolevel.ground.notices import notice
from audiolevel.metering.calibration import Calibration, CalibrationMethod, DisplayLine
from audiolevel.metering.gain_control import Steadiness
from audiolevel.metering.instrument import Instrument
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.report.calibrate.json import as_json


@pytest.mark.parametrize(
    ("method", "said"),
    [
        (CalibrationMethod.METER, "sound level meter LAeq"),
        (CalibrationMethod.DATA_SHEET, "data-sheet sensitivity"),
    ],
)
def test_the_method_is_said(method: CalibrationMethod, said: str) -> None:
    result = as_json(Instrument(Calibration(118.004, 1.5, method), None, (), ()))
    assert result["method"] == said
    assert result["spl_at_full_scale_db"] == 118.0
    assert result["display"] is None


def test_readings_alone_are_no_calibration() -> None:
    display = DisplayLine(0.98765, 93.5, 0.25)
    result = as_json(Instrument(None, display, (), (notice("truncated"),)))
    assert result["spl_at_full_scale_db"] is None
    assert result["uncertainty_db"] is None
    assert result["method"] == "display readings"
    assert result["display"] == {"slope": 0.9877, "offset": 93.5, "residual_db": 0.25}
    assert [one["code"] for one in result["warnings"]] == ["truncated"]


def test_noise_and_gain_test_are_told_with_their_figures() -> None:
    result = as_json(
        Instrument(
            None,
            None,
            (),
            (),
            noise=OwnNoise(-79.004, -90.0, stated=True),
            spl_at_full_scale_db=110.0,
            steadiness=Steadiness(-3.2109, 8, 17.26),
        )
    )
    assert result["noise"] == {
        "capsule_dbfs": -79.0,
        "self_noise_dba": 31.0,
        "converter_noise_dbfs": -90.0,
    }
    assert result["gain_test"] == {
        "gain_control": True,
        "change_db": -3.211,
        "claps": 8,
        "tone_above_db": 17.3,
    }
    assert result["tones_apart_db"] is None
    assert result["method"] is None
