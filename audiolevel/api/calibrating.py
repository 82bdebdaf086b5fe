"""Relate the recording's decibels, sound pressure and the camera's own scale."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from audiolevel.api.results import Result, names_its_site, site_of
from audiolevel.ground.arrays import Centi
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.ground.notices import Notice, notice
from audiolevel.ground.records import Object
from audiolevel.metering import calibration as calibrations
from audiolevel.metering.calibration import Calibration, Scale, fit_display
from audiolevel.metering.decibels import level_db, mean_square
from audiolevel.metering.gain import check_gain
from audiolevel.metering.gain_control import steadiness
from audiolevel.metering.instrument import Instrument
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.own_noise import OwnNoise, quiet_level_db, two_parts
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.recordings import Recording
from audiolevel.metering.silence import silent_stretches, within
from audiolevel.metering.sound_files import recording_of
from audiolevel.metering.visit import AnyPath, Visit
from audiolevel.planning.heard import is_silent
from audiolevel.report.calibrate import json as calibrate_json
from audiolevel.report.calibrate.document import calibrate_document, site_file_sections
from audiolevel.report.document import Document
from audiolevel.report.words.cautions import notice_text
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
            The file has one of the keys already, or is no site file; or nothing was found for one.
        """
        if not self.sections:
            why = "; ".join(map(notice_text, self.notices))
            raise SettingError(f"{path}: is not written, as nothing was found for it: {why}")
        add_keys(path, self.sections)
        return Path(path)


@dataclass(frozen=True)
class Tone:
    """A calibrator's tone at 1 kHz, recorded.

    Attributes
    ----------
    recording : Visit or path
        A calibrator sits on one microphone: its channel is heard, the first by default.
    level_db : float
        94 or 114 dB (IEC 60942).
    second : Visit or path, optional
        The same calibrator at its other level, recorded at the same gain: 20 dB apart, or the
        camera is not linear, and no full scale is found.
    """

    recording: Visit | AnyPath
    level_db: float
    second: Visit | AnyPath | None = None


@dataclass(frozen=True)
class BesideMeter:
    """Minutes of the site, recorded while a meter beside the camera read their LAeq."""

    recording: Visit | AnyPath
    laeq_db: float


@dataclass(frozen=True)
class DataSheet:
    """The data sheet's dB FS at 94 dB SPL."""

    sensitivity_dbfs: float


@dataclass(frozen=True)
class Filmed:
    """Numbers that the camera showed at moments of a recording.

    Attributes
    ----------
    recording : Visit or path
        The whole of it counts: moments are seconds from its beginning.
    shown_at : sequence of (float, float)
        Seconds into the recording, each with the number the camera showed then.
    """

    recording: Visit | AnyPath
    shown_at: Sequence[Reading]


@names_its_site
def calibrate(
    by: Tone | BesideMeter | DataSheet | None = None,
    *,
    readings: Sequence[Reading] = (),
    filmed: Filmed | None = None,
    noise: Sequence[tuple[Visit | AnyPath, float | str]] = (),
    steady: Visit | AnyPath | None = None,
    site: Site | AnyPath | None = None,
) -> CalibrationResult:
    """Calibrate a microphone and its camera's own scale, measure its noise, test its gain.

    Parameters
    ----------
    by : Tone, BesideMeter or DataSheet, optional
        What tells the sound pressure at full scale.
    readings : sequence of (float, float)
        Numbers the camera showed, each with the level in dB FS meanwhile.
    filmed : Filmed, optional
        The same, the levels looked up in a recording.
    noise : sequence of (Visit or path, float or str), optional
        Recordings of a very quiet room at two gains or more, each with its gain: dB relative to
        the recorded gain, or a setting of the site file.
    steady : Visit or path, optional
        A recording of a steady 1 kHz tone and nine claps, to find gain control.
    site : Site or path, optional
        For its gain settings, and the full scale that turns noise into dB(A).

    Raises
    ------
    RecordingError, SettingError
        A file or value cannot be used; one line that says why and what to do.
    """
    known = site_of(site)
    found, apart_db, notices = _full_scale(by)
    pairs = [*readings, *([] if filmed is None else _readings_at(filmed))]
    full_db = known.microphone.spl_at_full_scale_db if found is None else found.spl_at_full_scale_db
    held = None
    if steady is not None:
        held = steadiness(*_one_microphone(steady))
        if held.gain_control:
            notices.append(notice("gain control", "found"))
    result = CalibrationResult(
        found,
        fit_display(pairs) if pairs else None,
        tuple(pairs),
        tuple(notices),
        noise=_own_noise(noise, known) if noise else None,
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


def _full_scale(
    by: Tone | BesideMeter | DataSheet | None,
) -> tuple[Calibration | None, float | None, list[Notice]]:
    """The calibration, how far apart two tones are, and what makes them doubtful."""
    match by:
        case DataSheet(sensitivity_dbfs):
            return calibrations.from_sensitivity(sensitivity_dbfs), None, []
        case BesideMeter(recording, laeq_db):
            measured = measure(recording)
            _refuse_silence(measured)
            cautions = quality_notices(measured, Scale())
            notices = [one for one in cautions if one.code in ("clipped", "truncated")]
            return calibrations.from_meter(laeq_db, measured.levels.laeq_db), None, notices
        case Tone(recording, level_db, second):
            heard, channel = _one_microphone(recording)
            found = calibrations.from_tone(heard, level_db, channel)
            if second is None:
                return found, None, []
            apart_db = _tones_apart_db(found, recording, level_db, second)
            off_db = abs(apart_db - calibrations.TONES_APART_DB)
            if off_db <= calibrations.TONES_WITHIN_DB:
                return found, apart_db, []
            # two full scales that contradict each other are none
            return None, apart_db, [notice("nonlinear", apart_db=apart_db)]
        case _:
            return None, None, []


def _visit(recording: Visit | AnyPath) -> Visit:
    return recording if isinstance(recording, Visit) else Visit(recording)


def _one_microphone(recording: Visit | AnyPath) -> tuple[Recording, int]:
    """The sound of what was heard by one microphone, and its channel: never the mean of all."""
    visit = _visit(recording)
    return recording_of(visit.source).part(visit.part), visit.channel or 1


def _readings_at(filmed: Filmed) -> list[Reading]:
    """Numbers the camera showed, each with the level that was heard then."""
    # the level at moments is looked up, so its rows must be kept
    measured = measure(filmed.recording, keep_levels=True)
    assert measured.laf is not None  # the levels are kept
    name = str(measured.path)
    return calibrations.readings_at(measured.laf / 100, filmed.shown_at, name, measured.row_s)


def _tones_apart_db(
    found: Calibration, first: Visit | AnyPath, tone_db: float, second: Visit | AnyPath
) -> float:
    """What the 20 dB between a calibrator's two levels became in the recordings."""
    other_db = sum(calibrations.TONE_LEVELS_DB) - tone_db
    heard, channel = _one_microphone(second)
    other = calibrations.from_tone(heard, other_db, channel)
    # two full scales that ought to be one: their difference is what 20 dB became
    off_db = found.spl_at_full_scale_db - other.spl_at_full_scale_db
    apart_db = calibrations.TONES_APART_DB + (off_db if tone_db < other_db else -off_db)
    if abs(apart_db + calibrations.TONES_APART_DB) <= calibrations.TONES_WITHIN_DB:
        way = "louder" if tone_db < other_db else "quieter"
        raise RecordingError(
            f"{_visit(first).name}: is {-apart_db:.1f} dB {way} than {_visit(second).name}, yet "
            f"{tone_db:g} dB is said of it and {other_db:g} dB of the other: swap the two files"
        )
    return apart_db


def _own_noise(recordings: Sequence[tuple[Visit | AnyPath, float | str]], site: Site) -> OwnNoise:
    quiet: list[tuple[float, float]] = []
    seen: list[tuple[Path, Centi]] = []
    for heard, said in recordings:
        path = _visit(heard).name
        gain_db = site.gain_db_of(said) if isinstance(said, str) else float(said)
        check_gain(gain_db, f"--noise {path}: gain")
        measured = measure(heard, keep_levels=True)
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
