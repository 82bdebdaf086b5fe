"""The text of a calibration, and the lines that it gives for a site file."""

import tomllib
from dataclasses import replace

from audiolevel.metering.calibration import Calibration, CalibrationMethod, DisplayLine
from audiolevel.metering.gain_control import Steadiness
from audiolevel.metering.instrument import Instrument
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.report.calibrate_text import as_text, site_file_sections

TONE = Calibration(117.256, 0.43, CalibrationMethod.TONE, tone_level_db=94.0, tone_s=8)
READINGS = ((42.0, -51.5), (68.0, -25.5))
FOUND = Instrument(TONE, DisplayLine(1.0, 93.5, 0.25), READINGS, ())


def test_the_lines_for_the_site_file_are_toml() -> None:
    found = replace(
        FOUND,
        noise=OwnNoise(-86.0, -91.24, stated=True),
        spl_at_full_scale_db=117.256,
        steadiness=Steadiness(-4.4, 9, 21.0),
    )
    sections = site_file_sections(found)
    lines = [line for name, body in sections.items() for line in (f"[{name}]", *body)]
    assert tomllib.loads("\n".join(lines)) == {
        "microphone": {
            "spl_at_full_scale_db": 117.26,
            "calibration_within_db": 0.43,
            "self_noise_dba": 31.3,
            "converter_noise_dbfs": -91.2,
            "gain_control": "found",
        },
        "display": {"readings": [[42, -51.5], [68, -25.5]]},
    }


def test_what_is_not_known_has_no_section() -> None:
    assert site_file_sections(replace(FOUND, calibration=None, readings=())) == {}
    assert list(site_file_sections(replace(FOUND, readings=()))) == ["microphone"]
    # a noise whose sound pressure nobody can tell is the converter's only
    noise = replace(FOUND, calibration=None, readings=(), noise=OwnNoise(-86.0, -91.0, stated=True))
    assert site_file_sections(noise) == {"microphone": ["converter_noise_dbfs = -91.0"]}


def test_the_text_names_the_method_and_its_uncertainty() -> None:
    text = as_text(replace(FOUND, tones_apart_db=19.98, steadiness=Steadiness(0.02, 9, 21.4)))
    flat = " ".join(text.split())
    assert "117.3 dB SPL, within 0.4 dB (95 %), from calibrator tone, 94 dB, 8 s" in flat
    assert "it holds for the gain of this recording" in flat
    assert "the two tones are 19.98 dB apart" in flat
    assert "no gain control found: after 9 claps the tone, 21 dB above the site" in flat
    assert "shown = 1.000 × level + 93.5" in flat
    assert max(map(len, text.split("For the site file:")[0].splitlines())) <= 80
