"""One trigger on the recordings of a survey, at every gain that was simulated.

Entry points: `trials_of`, `levels_at`, `Trial`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from audiolevel.counting.expected import Expected
from audiolevel.counting.predicted import Prediction
from audiolevel.ground.arrays import Centi, IntArray
from audiolevel.ground.errors import RecordingError
from audiolevel.metering.annotations import inside
from audiolevel.metering.gain import SimulatedGain
from audiolevel.metering.measurement import Measurement
from audiolevel.planning.prediction import swept_with
from audiolevel.planning.survey import Survey, refuse_level
from audiolevel.triggers.trigger import Trigger


@dataclass(frozen=True, eq=False)
class Trial:
    """One trigger on one recording at one gain.

    Attributes
    ----------
    measurement : Measurement
    gain : SimulatedGain
    trigger : Trigger
        Its level in dB FS at this gain.
    firings : tuple of (float, float)
        Time in seconds and level in dB FS of each firing.
    marked : tuple of bool
        Whether each lies in a marked stretch: a wanted sound, and no false firing.
    prediction : Prediction
        From all recordings together, of this setting and those that a plan tries.
    row : int
        Of this setting in the prediction.
    fired : sequence of arrays of int64
        Rows of this recording at which it fired, by setting of the prediction.
    """

    measurement: Measurement
    gain: SimulatedGain
    trigger: Trigger
    firings: tuple[tuple[float, float], ...]
    marked: tuple[bool, ...]
    prediction: Prediction
    row: int
    fired: Sequence[IntArray] = ()

    @property
    def expected(self) -> Expected:
        """Firings to expect of this setting."""
        return self.prediction.at(self.row)


def trials_of(survey: Survey, trigger: Trigger) -> list[Trial]:
    """Every gain that was simulated, on every recording.

    Parameters
    ----------
    survey : Survey
        Of measurements with the gains to try.
    trigger : Trigger
        A threshold's level in the unit of the survey's scale.

    Returns
    -------
    list of Trial
        By gain, then by recording.

    Raises
    ------
    RecordingError
        A level history at a gain at which its sound would clip, or may.
    SettingError
        A level above full scale or far below all that was heard, or a change whose window has
        fewer than four rows of a coarse log.
    """
    trials = []
    for i, gain in enumerate(survey.measurements[0].gains):
        # the level is said in SPL; more gain moves the same sound pressure up the scale
        at_gain = trigger.in_full_scale(survey.scale, gain.gain_db)
        if trigger.mode == "threshold":
            refuse_level(survey, at_gain.at_db, gain.gain_db)
        simulated = [one.gains[i] for one in survey.measurements]
        levels = levels_at(survey, i)
        counts, row = swept_with(survey, levels, at_gain, gain.gain_db)
        trials += [
            Trial(
                measurement,
                own,
                at_gain,
                _firings(laf, rows[row], survey.row_s),
                tuple(inside(rows[row], marks, len(laf), survey.row_s).tolist()),
                counts.prediction,
                row,
                rows,
            )
            for measurement, own, laf, rows, marks in zip(
                survey.measurements, simulated, levels, counts.fired, survey.marks, strict=True
            )
        ]
    return trials


def levels_at(survey: Survey, index: int) -> list[Centi]:
    """LAF of every recording at one of the gains that were simulated.

    Raises
    ------
    RecordingError
        As `trials_of`.
    """
    return [_levels(one, one.gains[index]) for one in survey.measurements]


def _levels(measurement: Measurement, gain: SimulatedGain) -> Centi:
    if gain.laf is None and not measurement.has_peaks:
        raise RecordingError(
            f"{measurement.path}: has no sample_peak_db, so whether it would clip at "
            f"{gain.gain_db:+g} dB is not known; give the recording, or a gain "
            "up to the recorded one"
        )
    if gain.laf is None:
        raise RecordingError(
            f"{measurement.path}: is a level history, and at {gain.gain_db:+g} dB it would clip, "
            "which only the sound can show; give the recording"
        )
    return gain.laf


def _firings(laf: Centi, rows: IntArray, row_s: float) -> tuple[tuple[float, float], ...]:
    # a row is known at its end, hence row + 1; hundredths to dB FS
    return tuple((round((row + 1) * row_s, 3), float(laf[row]) / 100) for row in rows.tolist())
