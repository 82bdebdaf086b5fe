"""Relate the recording's decibels, sound pressure and the camera's own scale."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from audiolevel.api.results import Result, names_its_site, site_of
from audiolevel.arrays import Centi
from audiolevel.errors import RecordingError, SettingError
from audiolevel.metering import calibration as calibrations
from audiolevel.metering.calibration import Calibration, Scale, fit_display
from audiolevel.metering.decibels import level_db, mean_square
from audiolevel.metering.gain import check_gain
from audiolevel.metering.gain_control import steadiness
from audiolevel.metering.instrument import Instrument
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.own_noise import OwnNoise, quiet_level_db, two_parts
from audiolevel.metering.parts import Part
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.silence import silent_stretches, within
from audiolevel.metering.sound_files import open_recording
from audiolevel.metering.visit import AnyPath, Visit
from audiolevel.notices import Notice, notice
from audiolevel.planning.heard import is_silent
from audiolevel.records import Object
from audiolevel.report.calibrate import json as calibrate_json
from audiolevel.report.calibrate.document import calibrate_document, site_file_sections
from audiolevel.report.document import Document
from audiolevel.site.sections import Site
from audiolevel.site.site_file import add_keys, check_sections

Reading = tuple[float, float]


class CalibrationResult(Result, Instrument):
    """What was found, and the sections that hold it in a site file."""

    _stem = "calibrate"

    def __repr__(self) -> str:
        found, full = self.calibration, "full scale not known"
        if found is not None:
            full = f"{found.spl_at_full_scale_db:.1f} dB SPL at full scale"
        return f"<CalibrationResult: {full}; levels in {self.unit}>"

    @property
    def unit(self) -> str:
        """Of the levels that were read and of the noise: dB FS, as the recordings hold them."""
        return Scale().unit

    @property
    def sections(self) -> Mapping[str, Sequence[str]]:
        """The lines of each section of a site file, by its name."""
        return site_file_sections(self)

    def to_object(self) -> Object:
        """The object that `audiolevel calibrate --json` writes."""
        return calibrate_json.as_json(self)

    def document(self) -> Document:
        """What was found, and the lines for the site file."""
        return calibrate_document(self)

    def write_site(self, path: AnyPath) -> Path:
        """Make a site file of it, or add its keys to one.

        Raises
        ------
        SettingError
            The file has one of the keys already, or is no site file.
        """
        add_keys(path, self.sections)
        return Path(path)


@names_its_site
def calibrate(
    recording: AnyPath | None = None,
    *,
    tone_db: float | None = None,
    meter_laeq_db: float | None = None,
    sensitivity_dbfs: float | None = None,
    readings: Sequence[Reading] = (),
    shown_at: Sequence[Reading] = (),
    second_tone: AnyPath | None = None,
    noise: Sequence[tuple[AnyPath, float | str]] = (),
    steady: AnyPath | None = None,
    site: Site | AnyPath | None = None,
    channel: int | None = None,
    from_s: float | None = None,
    to_s: float | None = None,
) -> CalibrationResult:
    """Calibrate a microphone and its camera's own scale, measure its noise, test its gain.

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
    second_tone : path, optional
        The same calibrator at its other level, recorded at the same gain: 20 dB apart, or the
        camera is not linear.
    noise : sequence of (path, float or str), optional
        Recordings of a very quiet room at two gains or more, each with its gain: dB relative to
        the recorded gain, or a setting of the site file.
    steady : path, optional
        A recording of a steady 1 kHz tone and nine claps, to find gain control.
    site : Site or path, optional
        For its gain settings, and the full scale that turns noise into dB(A).
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
    found: Calibration | None = None
    if sensitivity_dbfs is not None:
        found = calibrations.from_sensitivity(sensitivity_dbfs)
    elif tone_db is not None:
        opened = open_recording(_needed(recording, "tone_db")).part(Part(from_s, to_s))
        # a calibrator sits on one microphone: its channel, never the mean of all
        found = calibrations.from_tone(opened, tone_db, channel or 1)
    elif meter_laeq_db is not None:
        path = _needed(recording, "meter_laeq_db")
        heard = Visit(path, channel=channel, from_s=from_s, to_s=to_s)
        found, notices = _beside_a_meter(heard, meter_laeq_db)
    pairs = list(readings)
    if shown_at:
        pairs += _readings_at(_needed(recording, "shown_at"), shown_at, channel)
    display = fit_display(pairs) if pairs else None
    apart_db = None
    if second_tone is not None:
        if tone_db is None or found is None:
            raise SettingError("second_tone: goes with tone_db")
        apart_db = _tones_apart_db(found, tone_db, second_tone, channel)
        if abs(apart_db - calibrations.TONES_APART_DB) > calibrations.TONES_WITHIN_DB:
            notices.append(notice("nonlinear", apart_db=apart_db))
    known = site_of(site)
    full_db = known.microphone.spl_at_full_scale_db if found is None else found.spl_at_full_scale_db
    held = None if steady is None else steadiness(open_recording(steady), channel or 1)
    if held is not None and held.gain_control:
        notices.append(notice("gain control", "found"))
    result = CalibrationResult(
        found,
        display,
        tuple(pairs),
        tuple(notices),
        noise=_own_noise(noise, known, channel) if noise else None,
        spl_at_full_scale_db=full_db,
        steadiness=held,
        tones_apart_db=apart_db,
    )
    # what is proposed for a site file must be good for one
    try:
        check_sections(result.sections, "calibration")
    except SettingError as error:
        raise SettingError(f"{error}; check the recordings and what was said of them") from error
    return result


def _beside_a_meter(heard: Visit, meter_laeq_db: float) -> tuple[Calibration, list[Notice]]:
    """The calibration by a meter's LAeq, and what makes the LAeq beside it a wrong one."""
    measured = measure(heard)
    _refuse_silence(measured)
    cautions = quality_notices(measured, Scale())
    notices = [one for one in cautions if one.code in ("clipped", "truncated")]
    return calibrations.from_meter(meter_laeq_db, measured.levels.laeq_db), notices


def _readings_at(
    path: AnyPath, shown_at: Sequence[tuple[float, float]], channel: int | None
) -> list[tuple[float, float]]:
    """Numbers the camera showed, each with the level that was heard then."""
    # the level at moments is looked up, so its rows must be kept
    measured = measure(Visit(path, channel=channel), keep_levels=True)
    assert measured.laf is not None  # the levels are kept
    return calibrations.readings_at(measured.laf / 100, shown_at, str(path), measured.row_s)


def _tones_apart_db(
    found: Calibration, tone_db: float, second_tone: AnyPath, channel: int | None
) -> float:
    """What the 20 dB between a calibrator's two levels became in the recordings."""
    other_db = sum(calibrations.TONE_LEVELS_DB) - tone_db
    other = calibrations.from_tone(open_recording(second_tone), other_db, channel or 1)
    # two full scales that ought to be one: their difference is what 20 dB became
    off_db = found.spl_at_full_scale_db - other.spl_at_full_scale_db
    return calibrations.TONES_APART_DB + (off_db if tone_db < other_db else -off_db)


def _own_noise(
    recordings: Sequence[tuple[AnyPath, float | str]], site: Site, channel: int | None
) -> OwnNoise:
    quiet: list[tuple[float, float]] = []
    seen: list[tuple[Path, Centi]] = []
    for path, said in recordings:
        gain_db = site.gain_db_of(said) if isinstance(said, str) else float(said)
        check_gain(gain_db, f"--noise {path}: gain")
        measured = measure(Visit(path, channel=channel), keep_levels=True)
        assert measured.laf is not None  # the levels are kept
        _refuse_silence(measured)
        for other, laf in seen:
            # noise never comes twice: it is one file, or a copy of it
            if np.array_equal(laf, measured.laf):
                same = other == measured.path
                what = "is given twice" if same else f"holds the same sound as {other}"
                raise RecordingError(f"{path}: {what}; each gain needs a recording of its own")
        seen.append((measured.path, measured.laf))
        quiet.append((gain_db, _quiet_db(measured.path, measured.laf, measured.row_s)))
    return two_parts(quiet)


def _quiet_db(path: Path, laf: Centi, row_s: float) -> float:
    """Level of the quiet in a recording, dB FS; nothing recorded is no quiet."""
    per_s = round(1 / row_s)
    seconds = len(laf) // per_s
    # energy means of LAF: F weighting keeps them
    power = mean_square(laf[: seconds * per_s] / 100).reshape(seconds, per_s)
    gone = within(silent_stretches(laf, row_s), len(laf))[: seconds * per_s]
    heard = power[~gone.reshape(seconds, per_s).any(axis=1)]
    if not len(heard):
        raise SettingError(
            f"{path}: holds less than a second of sound; record half a minute of quiet"
        )
    return quiet_level_db(np.asarray(level_db(heard.mean(axis=1))))


def _refuse_silence(measured: Measurement) -> None:
    if is_silent(measured):
        raise RecordingError(
            f"{measured.path}: holds only digital silence; check the microphone and record again"
        )


def _needed(recording: AnyPath | None, what: str) -> AnyPath:
    if recording is None:
        raise SettingError(f"{what}: needs a recording")
    return recording
