"""The text of `calibrate`, with the lines for the site file, in 80 columns."""

from collections.abc import Mapping, Sequence

from audiolevel.metering.calibration import Calibration, DisplayLine
from audiolevel.notices import Notice
from audiolevel.report.text import entry, warnings
from audiolevel.report.wording import calibration_method


def as_text(
    calibration: Calibration | None,
    display: DisplayLine | None,
    notices: Sequence[Notice],
    sections: Mapping[str, str],
) -> str:
    """What was found, and the lines for the site file."""
    lines = []
    if calibration is not None:
        full_scale_db, within_db = calibration.spl_at_full_scale_db, calibration.uncertainty_db
        lines += entry(
            "full scale",
            f"{full_scale_db:.1f} dB SPL, within {within_db:.1f} dB "
            f"(95 %), from {calibration_method(calibration)}",
        )
    if display is not None:
        lines += entry(
            "display",
            f"shown = {display.slope:.3f} × level + {display.offset:.1f}; the readings lie within "
            f"{display.residual_db:.1f} dB of it",
        )
    lines += warnings(notices)
    lines += ["", "For the site file:", ""]
    for name, body in sections.items():
        lines += [f"[{name}]", body, ""]
    return "\n".join(lines).rstrip()


def site_file_sections(
    calibration: Calibration | None, readings: Sequence[tuple[float, float]]
) -> dict[str, str]:
    """The sections of a site file that hold a calibration and display readings, by their names."""
    sections = {}
    if calibration is not None:
        value = round(calibration.spl_at_full_scale_db, 2)
        about = f"{calibration_method(calibration)}, within {calibration.uncertainty_db:.1f} dB"
        sections["microphone"] = f"spl_at_full_scale_db = {value}   # {about}"
    if readings:
        pairs = ", ".join(f"[{shown:g}, {level:g}]" for shown, level in readings)
        sections["display"] = f"readings = [{pairs}]   # [shown, level in dB FS]"
    return sections
