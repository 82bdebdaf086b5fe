"""The JSON of a calibration: null for what was not asked."""

import pytest

from audiolevel.metering.calibration import Calibration, CalibrationMethod, DisplayLine
from audiolevel.notices import notice
from audiolevel.report.calibrate_json import as_json


@pytest.mark.parametrize(
    ("method", "said"),
    [
        (CalibrationMethod.METER, "sound level meter LAeq"),
        (CalibrationMethod.DATA_SHEET, "data-sheet sensitivity"),
    ],
)
def test_the_method_is_said(method: CalibrationMethod, said: str) -> None:
    result = as_json(Calibration(118.004, 1.5, method), None, [])
    assert result["method"] == said
    assert result["spl_at_full_scale_db"] == 118.0
    assert result["display"] is None


def test_readings_alone_are_no_calibration() -> None:
    result = as_json(None, DisplayLine(0.98765, 93.5, 0.25), [notice("truncated")])
    assert result["spl_at_full_scale_db"] is None
    assert result["uncertainty_db"] is None
    assert result["method"] == "display readings"
    assert result["display"] == {"slope": 0.9877, "offset": 93.5, "residual_db": 0.25}
    assert [one["code"] for one in result["warnings"]] == ["truncated"]
