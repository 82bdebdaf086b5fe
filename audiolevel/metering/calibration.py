"""The recording's decibels, sound pressure and the camera's own scale, and how they relate.

`Scale` turns dB FS into dB SPL where the microphone is calibrated, and says which of the two a
level is in. `DisplayLine` is the line from dB FS at the detector to the number the camera shows.
The other functions find them: from a sound calibrator's tone, a meter's reading, a data sheet, or
paired readings.

Conventions: dB FS as in `metering.meter`; `spl_at_full_scale_db` is the SPL of a sine that just
fills the scale at the recorded gain, so at a gain g higher the same full scale is g dB less SPL.

Entry points: `Scale`, `Calibration`, `CalibrationMethod`, `from_tone`, `from_meter`,
`from_sensitivity`, `fit_display`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from math import isfinite

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.metering.decibels import level_db
from audiolevel.metering.recordings import Recording
from audiolevel.metering.silence import SILENT_DB

# IEC 60942:2017: calibrators give 94 or 114 dB at 1 kHz; 0.4 dB is the level limit of class 2 and
# 2 % its limit for frequency (both from memory)
TONE_HZ = 1000.0
TONE_LEVELS_DB = (94.0, 114.0)
# each level is good to 0.4 dB, but their difference is one instrument's and better (judgement)
TONES_APART_DB = 20.0
TONES_WITHIN_DB = 0.5
_TONE_WITHIN = 0.02
_CALIBRATOR_DB = 0.4
# a tone that moves by more is a calibrator that is not held still
_STEADY_WITHIN_DB = 0.3
_FEWEST_SECONDS = 3
# all other sound of the second is then 12.8 dB or more below the tone
_TONE_SHARE = 0.95
# common practice: a hand-held class 2 meter beside the camera's microphone agrees within 1.5 dB,
# a data sheet's typical sensitivity within 3 dB once the microphone sits in a housing
_METER_DB = 1.5
_DATA_SHEET_DB = 3.0
_DISPLAY_MISFIT_DB = 3.0
# common practice: a number read off a moving display beside a level of the same second
_READING_DB = 1.0
_NORMAL_95 = 1.96
# no level of a microphone lies beyond; a number shown may be of any scale
_LEVELS_DB, _NUMBERS = 300.0, 1e9
# a level that moves by more makes a number noted a second late another level's
_STEADY_SOUND_DB = 6.0


@dataclass(frozen=True)
class Scale:
    """The unit that levels are given in.

    Attributes
    ----------
    spl_at_full_scale_db : float or None
        SPL of a sine that just fills the scale at the recorded gain; None is not calibrated.
    """

    spl_at_full_scale_db: float | None = None

    @property
    def unit(self) -> str:
        """The label that goes with every level."""
        return "dB FS" if self.spl_at_full_scale_db is None else "dB SPL"

    def shown(self, level_dbfs: float, gain_db: float = 0.0) -> float:
        """A level in dB FS at a gain (dB relative to the recording), in this unit."""
        return level_dbfs + self._shift(gain_db)

    def full_scale(self, level: float, gain_db: float = 0.0) -> float:
        """A level in this unit, in dB FS at a gain: the inverse of `shown`."""
        return level - self._shift(gain_db)

    def _shift(self, gain_db: float) -> float:
        # a gain g higher lets a sound g dB weaker fill the scale
        return 0.0 if self.spl_at_full_scale_db is None else self.spl_at_full_scale_db - gain_db


@dataclass(frozen=True)
class DisplayLine:
    """The camera's own scale: shown = slope · level + offset, the level in dB FS at the detector.

    `residual_db` is the largest distance of a reading from the line, in dB of level; `levels_db`
    are the levels that were read, rising.
    """

    slope: float
    offset: float
    residual_db: float
    levels_db: tuple[float, ...] = ()

    def shown(self, level_dbfs: float) -> float:
        """What the camera shows at this level."""
        return self.slope * level_dbfs + self.offset

    def uncertainty(self, level_dbfs: float) -> float:
        """Of the number shown at this level, 95 % to each side.

        The prediction interval of a straight line (Draper and Smith, Applied Regression Analysis,
        3rd ed. 1998, section 1.4), with each reading good to 1 dB or what the residuals say.
        """
        levels = np.array(self.levels_db)
        spread = float(((levels - levels.mean()) ** 2).sum())
        each_db = max(_READING_DB, self.residual_db)
        away = (level_dbfs - float(levels.mean())) ** 2 / spread
        return _NORMAL_95 * self.slope * each_db * float(np.sqrt(1 / len(levels) + away))

    def beyond_db(self, level_dbfs: float) -> float:
        """How far a level lies outside those that were read; 0 within."""
        return max(self.levels_db[0] - level_dbfs, level_dbfs - self.levels_db[-1], 0.0)


class CalibrationMethod(Enum):
    """What a calibration rests on."""

    TONE = "calibrator tone"
    METER = "sound level meter LAeq"
    DATA_SHEET = "data-sheet sensitivity"


@dataclass(frozen=True)
class Calibration:
    """The SPL at full scale, how it was found and how far off it may be.

    Attributes
    ----------
    spl_at_full_scale_db : float
    uncertainty_db : float
        Half width of the interval that holds it with 95 %.
    method : CalibrationMethod
    tone_level_db, tone_s : float or None
        Of a calibrator's tone: its SPL, and the seconds of it that were used.
    """

    spl_at_full_scale_db: float
    uncertainty_db: float
    method: CalibrationMethod
    tone_level_db: float | None = None
    tone_s: int | None = None


def fit_display(readings: Sequence[tuple[float, float]]) -> DisplayLine:
    """The line through pairs of readings, by least squares.

    Parameters
    ----------
    readings : sequence of (float, float)
        What the camera showed, and the level in dB FS meanwhile.

    Returns
    -------
    DisplayLine

    Raises
    ------
    SettingError
        Values that are no levels or numbers, fewer than two different levels, a scale that falls
        as the level rises, or readings that contradict each other by more than 3 dB.
    """
    try:
        pairs = [(float(shown), float(level)) for shown, level in readings]
    except (TypeError, ValueError) as error:
        raise SettingError(
            "display.readings: give pairs of a number shown and a level in dB FS, like [22, -52]"
        ) from error
    for number, db in pairs:
        # nan lies in no range; a level read above full scale is of another unit, or the number
        if not (abs(number) <= _NUMBERS and -_LEVELS_DB <= db <= 0.0):
            form = "[22, -52] (dB SPL less the SPL at full scale)"
            form = f"[{db:g}, {number:g}]" if number < 0 < db else form
            raise SettingError(
                f"display.readings: {number:g} at {db:g} dB FS: no level lies there; give the "
                f"number shown first, then dB FS between {-_LEVELS_DB:g} and 0, like {form}"
            )
    # one column each; no reading at all gives two empty ones, refused below
    shown, level = np.array(pairs, dtype=np.float64).reshape(-1, 2).T
    if len(np.unique(level)) < 2 or len(np.unique(shown)) < 2:
        raise SettingError(
            "display.readings: two different levels and two different numbers shown are needed; "
            "read the scale in a lull and in traffic, like [[22, -52], [58, -38]]"
        )
    slope, offset = np.polyfit(level, shown, 1)
    if slope <= 0:
        raise SettingError(
            "display.readings contradict each other: the number shown falls as the level rises; "
            "give the number shown first, then dB FS, like [22, -52]"
        )
    # over the slope, a distance in the camera's numbers is one in dB of level
    off_db = np.abs(shown - (slope * level + offset)) / slope
    if off_db.max() > _DISPLAY_MISFIT_DB:
        worst = int(off_db.argmax())
        raise SettingError(
            f"display.readings contradict each other: {shown[worst]:g} at {level[worst]:g} dB lies "
            f"{off_db[worst]:.1f} dB off the line through all; read it again"
        )
    levels_db = tuple(sorted(level.tolist()))
    return DisplayLine(float(slope), float(offset), float(off_db.max()), levels_db)


def readings_at(
    laf_db: Array,
    shown_at: Sequence[tuple[float, float]],
    name: str,
    interval_s: float = 0.01,
) -> list[tuple[float, float]]:
    """Levels of a recording at the moments at which the camera's scale was read.

    Parameters
    ----------
    laf_db : array, shape (rows,)
        LAF, dB FS.
    shown_at : sequence of (float, float)
        Seconds into the recording, each with the number the camera showed then.
    name : str
        Of the recording, for errors.
    interval_s : float
        Between two rows.

    Returns
    -------
    list of (float, float)
        Number shown, and the energy mean of LAF within a second to each side: a person notes a
        number about so long after it was shown.

    Raises
    ------
    SettingError
        A moment lies outside the recording, or its level was not steady within 6 dB, or there is
        nothing but digital silence.
    """
    rows_per_s = 1 / interval_s
    readings = []
    for at_s, shown in shown_at:
        if not isfinite(at_s):
            raise SettingError(f"{name}: has no moment at {at_s:g} s; give seconds")
        first, last = round((at_s - 1) * rows_per_s), round((at_s + 1) * rows_per_s)
        around = laf_db[max(first, 0) : last]
        # the second after the moment may be cut off by the end, the moment itself may not
        if at_s < 0 or last > len(laf_db) + rows_per_s or not len(around):
            raise SettingError(
                f"{name}: has no moment at {at_s:g} s; it is {len(laf_db) / rows_per_s:.0f} s long"
            )
        if float(np.ptp(around)) > _STEADY_SOUND_DB:
            raise SettingError(
                f"{name}: the level moves by {float(np.ptp(around)):.0f} dB around {at_s:g} s; "
                "note the number while a steady sound plays"
            )
        if float(around.max()) <= SILENT_DB:
            raise SettingError(
                f"{name}: holds only digital silence around {at_s:g} s; check the microphone"
            )
        # a mean of energies; one of decibels would read too low wherever the level moves
        readings.append((shown, float(10 * np.log10(np.mean(10 ** (around / 10))))))
    return readings


def from_sensitivity(dbfs_at_94_db_spl: float) -> Calibration:
    """From a data sheet's sensitivity.

    Parameters
    ----------
    dbfs_at_94_db_spl : float
        dB FS at 94 dB SPL (1 Pa), 1 kHz, at the recorded gain.

    Returns
    -------
    Calibration

    Raises
    ------
    SettingError
        A sensitivity that is not below 0 dB FS, or too low to be one.
    """
    # 200 dB SPL at full scale is the most that a site file takes
    if not -106.0 <= dbfs_at_94_db_spl < 0.0:
        raise SettingError(
            f"sensitivity {dbfs_at_94_db_spl:g} dB FS at 94 dB SPL: must lie between -106 and 0; "
            "mV/Pa or dBV/Pa are other units"
        )
    # 94 dB SPL is 1 Pa: 20 lg(1 Pa / 20 µPa) = 93.98 dB
    return Calibration(94.0 - dbfs_at_94_db_spl, _DATA_SHEET_DB, CalibrationMethod.DATA_SHEET)


def from_meter(meter_laeq_db: float, recording_laeq_db: float) -> Calibration:
    """From a sound level meter beside the camera's microphone.

    Parameters
    ----------
    meter_laeq_db : float
        LAeq that the meter showed, dB SPL.
    recording_laeq_db : float
        LAeq of the recording of the same minutes, dB FS.

    Returns
    -------
    Calibration

    Raises
    ------
    SettingError
        A reading that no meter gives.
    """
    if not 10.0 < meter_laeq_db < 150.0:
        raise SettingError(f"meter reading {meter_laeq_db:g} dB: LAeq lies between 10 and 150 dB")
    spl_at_full_scale_db = meter_laeq_db - recording_laeq_db
    return Calibration(spl_at_full_scale_db, _METER_DB, CalibrationMethod.METER)


@dataclass(frozen=True)
class _Seconds:
    """Each second of a recording: its level, how much of it is one tone, and where that lies."""

    level_db: Array
    tone_share: Array
    tone_hz: Array
    clipped: BoolArray


def from_tone(recording: Recording, tone_level_db: float = 94.0, channel: int = 1) -> Calibration:
    """From a recording of a sound calibrator (1 kHz at 94 or 114 dB SPL; IEC 60942).

    The longest stretch of whole seconds is used that hold a tone within 2 % of 1 kHz, at a level
    steady within 0.3 dB.

    Parameters
    ----------
    recording : Recording
    tone_level_db : float
        SPL of the calibrator, 94 or 114 dB.
    channel : int
        From 1.

    Returns
    -------
    Calibration

    Raises
    ------
    RecordingError
        There is no such stretch of 3 s; says what there is instead.
    """
    seconds = _by_second(recording, channel - 1)
    tonal = (seconds.tone_share >= _TONE_SHARE) & (
        np.abs(seconds.tone_hz / TONE_HZ - 1) <= _TONE_WITHIN
    )
    stretch = _longest_steady(seconds.level_db, tonal)
    if stretch.stop - stretch.start < _FEWEST_SECONDS:
        raise RecordingError(f"{recording.path}: {_why_no_tone(seconds, tonal)}")
    if seconds.clipped[stretch].any():
        raise RecordingError(
            f"{recording.path}: the calibrator's tone clips; "
            "record it again at a lower gain or with the 94 dB setting"
        )
    steady = seconds.level_db[stretch]
    # energy mean in dB FS; 0.5 is the mean square of a full-scale sine
    mean_db = float(level_db(np.mean(0.5 * 10 ** (steady / 10))))
    spread = float(np.ptp(steady)) / 2
    return Calibration(
        tone_level_db - mean_db,
        # independent uncertainties add as squares
        float(np.hypot(_CALIBRATOR_DB, spread)),
        CalibrationMethod.TONE,
        tone_level_db=tone_level_db,
        tone_s=len(steady),
    )


def _by_second(recording: Recording, channel: int) -> _Seconds:
    rate = recording.rate_hz
    per_second: list[tuple[float, float, float, bool]] = []
    for block in recording.blocks():
        # a last part of a second is left out, so that every spectrum has bins of 1 Hz
        whole = len(block) // rate * rate
        for piece in block[:whole, channel].reshape(-1, rate).astype(np.float64):
            per_second.append(_one_second(piece, rate, recording.clip_amplitude))
    # one row a second; the reshape also suits a recording shorter than one
    level, share, hertz, clipped = np.array(per_second, dtype=np.float64).reshape(-1, 4).T
    return _Seconds(level, share, hertz, clipped > 0)


def _one_second(
    piece: Array, rate_hz: int, clip_amplitude: float
) -> tuple[float, float, float, bool]:
    # Hann: a tone between two bins stays within the eleven that are summed below
    window = np.hanning(len(piece))
    spectrum = np.abs(np.fft.rfft(piece * window)) ** 2
    # bins are 1 Hz apart; wind and handling below 100 Hz would hide the tone from a plain total
    spectrum[:100] = 0
    top = int(spectrum.argmax())
    tone, total = spectrum[max(top - 5, 0) : top + 6].sum(), spectrum.sum()
    return (
        # Parseval: twice for the one-sided spectrum, over the window's own energy
        float(level_db(2 * tone / (len(piece) * (window**2).sum()))),
        float(tone / total) if total > 0 else 0.0,
        float(top * rate_hz / len(piece)),
        bool(np.abs(piece).max() >= clip_amplitude),
    )


def _longest_steady(level: Array, tonal: BoolArray) -> slice:
    """The longest run of tonal seconds whose levels stay within the limit of each other."""
    best, start = slice(0, 0), 0
    for end in range(1, len(level) + 1):
        # both ends only move forward: a stretch that breaks the limit never mends by growing
        while start < end and not (
            tonal[start:end].all() and np.ptp(level[start:end]) <= _STEADY_WITHIN_DB
        ):
            start += 1
        if end - start > best.stop - best.start:
            best = slice(start, end)
    return best


def _why_no_tone(seconds: _Seconds, tonal: BoolArray) -> str:
    if len(seconds.level_db) < _FEWEST_SECONDS:
        return f"is too short; record the calibrator for {2 * _FEWEST_SECONDS} s or more"
    if not (seconds.tone_share >= _TONE_SHARE).any():
        share = 100 * seconds.tone_share.max()
        return (
            f"holds no steady tone (at best {share:.0f} % of a second's sound is one tone); "
            "record the calibrator alone, fitted tightly on the microphone"
        )
    if not tonal.any():
        hertz = float(np.median(seconds.tone_hz[seconds.tone_share >= _TONE_SHARE]))
        return f"holds a tone at {hertz:.0f} Hz, not 1000 Hz; use a 1 kHz sound calibrator"
    varies = float(np.ptp(seconds.level_db[tonal])) if tonal.sum() > 1 else 0.0
    return (
        f"the 1 kHz tone is not steady for {_FEWEST_SECONDS} s (its level varies by "
        f"{varies:.1f} dB); hold the calibrator still and record again"
    )
