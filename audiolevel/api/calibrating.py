"""Relate the recording's decibels, sound pressure and the camera's own scale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from audiolevel.api.results import AnyPath, Result
from audiolevel.errors import SettingError
from audiolevel.metering import calibration as calibrations
from audiolevel.metering.calibration import Calibration, DisplayLine, Scale, fit_display
from audiolevel.metering.measurement import measure
from audiolevel.metering.parts import Part
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.recordings import open_recording
from audiolevel.notices import Notice
from audiolevel.records import Object
from audiolevel.report import calibrate_json, calibrate_text
from audiolevel.site import add_sections

Reading = tuple[float, float]


@dataclass(frozen=True, eq=False)
class CalibrationResult(Result):
    """What was found, and the sections that hold it in a site file.

    Attributes
    ----------
    calibration : Calibration or None
        The SPL at full scale.
    display : DisplayLine or None
        The camera's own scale.
    readings : tuple of (float, float)
        Numbers shown and levels in dB FS behind `display`.
    notices : tuple of Notice
    """

    calibration: Calibration | None
    display: DisplayLine | None
    readings: tuple[Reading, ...]
    notices: tuple[Notice, ...]
    _stem = "calibrate"

    @property
    def sections(self) -> Mapping[str, str]:
        """The lines of each section of a site file, by its name."""
        return calibrate_text.site_file_sections(self.calibration, self.readings)

    def to_object(self) -> Object:
        """The object that `audiolevel calibrate --json` writes."""
        return calibrate_json.as_json(self.calibration, self.display, self.notices)

    def to_text(self) -> str:
        """What was found, in lines of 80 columns."""
        return calibrate_text.as_text(self.calibration, self.display, self.notices, self.sections)

    def write_site(self, path: AnyPath) -> Path:
        """Make a site file of it, or add its sections to one.

        Raises
        ------
        SettingError
            The file has one of the sections already, or is no site file.
        """
        add_sections(path, self.sections)
        return Path(path)


def calibrate(
    recording: AnyPath | None = None,
    *,
    tone_db: float | None = None,
    meter_laeq_db: float | None = None,
    sensitivity_dbfs: float | None = None,
    readings: Sequence[Reading] = (),
    shown_at: Sequence[Reading] = (),
    channel: int | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
) -> CalibrationResult:
    """Calibrate a microphone, its camera's own scale, or both.

    Parameters
    ----------
    recording : path, optional
        Of a calibrator's tone, of the minutes a meter read, or of the moments of `shown_at`.
    tone_db : float, optional
        Level of the calibrator's 1 kHz tone, 94 or 114 dB (IEC 60942).
    meter_laeq_db : float, optional
        A meter's LAeq over the recording.
    sensitivity_dbfs : float, optional
        The data sheet's dB FS at 94 dB SPL.
    readings : sequence of (float, float)
        Numbers the camera showed, each with the level in dB FS meanwhile.
    shown_at : sequence of (float, float)
        Seconds into the recording, each with the number the camera showed then.
    channel : int, optional
        Of the recording, from 1; by default the mean square of all.
    from_s, to_s : float, optional
        Only this part of the recording; moments of `shown_at` stay where they are in the whole.

    Raises
    ------
    RecordingError, SettingError
        A file or value cannot be used; one line that says why and what to do.
    """
    notices: list[Notice] = []
    part = Part(from_s, to_s)
    found: Calibration | None = None
    if sensitivity_dbfs is not None:
        found = calibrations.from_sensitivity(sensitivity_dbfs)
    elif tone_db is not None:
        opened = open_recording(_needed(recording, "tone_db")).part(part)
        # a calibrator sits on one microphone: its channel, never the mean of all
        found = calibrations.from_tone(opened, tone_db, channel or 1)
    elif meter_laeq_db is not None:
        measured = measure(_needed(recording, "meter_laeq_db"), channel=channel, part=part)
        notices = [
            one
            for one in quality_notices(measured, Scale())
            # the only cautions that make the LAeq compared a wrong one
            if one.code in ("clipped", "truncated")
        ]
        found = calibrations.from_meter(meter_laeq_db, measured.levels.laeq_db)
    pairs = list(readings)
    if shown_at:
        path = _needed(recording, "shown_at")
        # the level at moments is looked up, so its rows must be kept
        measured = measure(path, channel=channel, keep_levels=True)
        assert measured.laf is not None  # the levels are kept
        pairs += calibrations.readings_at(measured.laf / 100, shown_at, str(path), measured.row_s)
    display = fit_display(pairs) if pairs else None
    return CalibrationResult(found, display, tuple(pairs), tuple(notices))


def _needed(recording: AnyPath | None, what: str) -> AnyPath:
    if recording is None:
        raise SettingError(f"{what}: needs a recording")
    return recording
