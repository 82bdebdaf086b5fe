"""The text of a calibration, and the lines that it gives for a site file."""

import tomllib

from audiolevel.metering.calibration import Calibration, CalibrationMethod, DisplayLine
from audiolevel.report.calibrate_text import as_text, site_file_sections

TONE = Calibration(117.256, 0.43, CalibrationMethod.TONE, tone_level_db=94.0, tone_s=8)
READINGS = ((42.0, -51.5), (68.0, -25.5))


def test_the_lines_for_the_site_file_are_toml() -> None:
    sections = site_file_sections(TONE, READINGS)
    text = "".join(f"[{name}]\n{body}\n" for name, body in sections.items())
    assert tomllib.loads(text) == {
        "microphone": {"spl_at_full_scale_db": 117.26},
        "display": {"readings": [[42, -51.5], [68, -25.5]]},
    }


def test_what_is_not_known_has_no_section() -> None:
    assert site_file_sections(None, ()) == {}
    assert list(site_file_sections(TONE, ())) == ["microphone"]


def test_the_text_names_the_method_and_its_uncertainty() -> None:
    text = as_text(TONE, DisplayLine(1.0, 93.5, 0.25), [], site_file_sections(TONE, READINGS))
    flat = " ".join(text.split())
    assert "117.3 dB SPL, within 0.4 dB (95 %), from calibrator tone, 94 dB, 8 s" in flat
    assert "shown = 1.000 × level + 93.5" in flat
    assert max(map(len, text.split("For the site file:")[0].splitlines())) <= 80
