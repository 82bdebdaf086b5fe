"""The JSON of `calibrate`: the SPL at full scale and the camera's own scale."""

from collections.abc import Sequence

from audiolevel.metering.calibration import Calibration, DisplayLine
from audiolevel.notices import Notice
from audiolevel.records import Object, number
from audiolevel.report.json_objects import warnings_of
from audiolevel.report.wording import calibration_method
from audiolevel.version import __version__


def as_json(
    calibration: Calibration | None, display: DisplayLine | None, notices: Sequence[Notice]
) -> Object:
    """The object of `calibrate`."""
    full_scale_db = None if calibration is None else calibration.spl_at_full_scale_db
    return {
        "audiolevel": __version__,
        "spl_at_full_scale_db": number(full_scale_db),
        "display": None
        if display is None
        else {
            "slope": number(display.slope, 4),
            "offset": number(display.offset, 3),
            "residual_db": number(display.residual_db),
        },
        "uncertainty_db": None if calibration is None else number(calibration.uncertainty_db),
        "method": "display readings" if calibration is None else calibration_method(calibration),
        "warnings": warnings_of(notices),
    }
