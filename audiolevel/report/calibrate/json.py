"""The JSON of `calibrate`: full scale, the camera's own scale, its noise, and its gain test."""

from audiolevel.ground.records import Object, number
from audiolevel.metering.instrument import Instrument
from audiolevel.report.json_objects import warnings_of
from audiolevel.report.words.decisions import calibration_method
from audiolevel.version import __version__


def as_json(found: Instrument) -> Object:
    """The object of `calibrate`."""
    calibration, display = found.calibration, found.display
    method = None if display is None else "display readings"
    noise, steadiness = found.noise, found.steadiness
    return {
        "audiolevel": __version__,
        "spl_at_full_scale_db": None
        if calibration is None
        else number(calibration.spl_at_full_scale_db),
        "display": None
        if display is None
        else {
            "slope": number(display.slope, 4),
            "offset": number(display.offset, 3),
            "residual_db": number(display.residual_db),
        },
        "uncertainty_db": None if calibration is None else number(calibration.uncertainty_db),
        "method": method if calibration is None else calibration_method(calibration),
        "tones_apart_db": number(found.tones_apart_db),
        "noise": None
        if noise is None
        else {
            "capsule_dbfs": number(noise.capsule_db),
            "self_noise_dba": number(found.self_noise_dba),
            "converter_noise_dbfs": number(noise.converter_db),
        },
        "gain_test": None
        if steadiness is None
        else {
            "gain_control": steadiness.gain_control,
            "change_db": number(steadiness.change_db, 3),
            "claps": steadiness.claps,
            "tone_above_db": number(steadiness.tone_above_db, 1),
        },
        "warnings": warnings_of(found.notices),
    }
