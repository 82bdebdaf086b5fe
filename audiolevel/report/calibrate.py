"""How do decibels, sound pressure and the camera's scale relate? As JSON, and in 80 columns."""

from collections.abc import Mapping, Sequence

from audiolevel import __version__
from audiolevel.metering.calibration import Calibration, DisplayLine
from audiolevel.notices import Notice
from audiolevel.records import Object, number
from audiolevel.report.json_objects import warnings_of
from audiolevel.report.text import entry, warnings

# --- JSON ----------------------------------------------------------------------------------------


def calibrated(
    found: Calibration | None, display: DisplayLine | None, cautions: Sequence[Notice]
) -> Object:
    """The object of `calibrate`."""
    return {
        "audiolevel": __version__,
        "spl_at_full_scale_db": None if found is None else number(found.spl_at_full_scale_db),
        "display": None
        if display is None
        else {
            "slope": number(display.slope, 4),
            "offset": number(display.offset, 3),
            "residual_db": number(display.residual_db),
        },
        "uncertainty_db": None if found is None else number(found.uncertainty_db),
        "method": "display readings" if found is None else found.method,
        "warnings": warnings_of(cautions),
    }


# --- text ----------------------------------------------------------------------------------------


def told(
    found: Calibration | None,
    display: DisplayLine | None,
    cautions: Sequence[Notice],
    sections: Mapping[str, str],
) -> str:
    """What was found, and the lines for the site file."""
    lines = []
    if found is not None:
        lines += entry(
            "full scale",
            f"{found.spl_at_full_scale_db:.1f} dB SPL, within {found.uncertainty_db:.1f} dB "
            f"(95 %), from {found.method}",
        )
    if display is not None:
        lines += entry(
            "display",
            f"shown = {display.slope:.3f} × level + {display.offset:.1f}; the readings lie within "
            f"{display.residual_db:.1f} dB of it",
        )
    lines += warnings(cautions)
    lines += ["", "For the site file:", ""]
    for name, body in sections.items():
        lines += [f"[{name}]", body, ""]
    return "\n".join(lines).rstrip()
