"""From the levels of a survey to the firings of a trigger, per hour and per day.

The one way to a prediction: `plan` and `trial` both go it, with the schedule, the traffic, the
marked sounds and the gain of the same survey, and with the same settings beside the one in
question, because how counts fall with the level tells what a louder hour would bring. So they
cannot disagree.

Entry points: `swept`, `swept_with`, `settings_to_try`, `with_setting`, `SweptCounts`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import ceil, floor, log

import numpy as np

from audiolevel.counting.belief import BELIEF
from audiolevel.counting.exposure import Visit
from audiolevel.counting.loudest_peaks import separate_peaks
from audiolevel.counting.predicted import Prediction
from audiolevel.counting.rates import predict
from audiolevel.ground.arrays import Array, Centi, IntArray
from audiolevel.metering.annotations import Mark, hidden, inside
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import ROW_S
from audiolevel.planning.survey import Survey
from audiolevel.triggers.trigger import CUSTOM, Trigger, sweep

# sounds closer than this belong together (docs/counting.md)
SEPARATE_S = 10.0
_LEVEL_STEP_DB = 0.5
# settings go on so far above the loudest sound of a day; past that of less by what a day's is
# louder: sounds of a site fall by a factor e per some 3.5 dB (counting.belief)
_ABOVE_LOUDEST_DB = 10.0
_DAY_S = 86400.0
# whole decibels, 3 to 40; less than 3 dB is ripple of the background
_CHANGES_DB = np.arange(3.0, 41.0)


@dataclass(frozen=True, eq=False)
class SweptCounts:
    """What a trigger did on every recording of a survey at each of several settings.

    Attributes
    ----------
    fired : list of list of arrays
        Rows at which it fired, by recording and setting.
    visits : list of Visit
        What the counting makes of each recording.
    prediction : Prediction
        Of every setting, from all recordings together.
    """

    fired: list[list[IntArray]]
    visits: list[Visit]
    prediction: Prediction


def swept(
    survey: Survey, levels: Sequence[Centi], trigger: Trigger, settings_db: Array
) -> SweptCounts:
    """Sweep a trigger over the levels at one gain, and predict its false firings.

    Parameters
    ----------
    survey : Survey
    levels : one array of int16, shape (rows,), for each recording
        LAF at that gain in hundredths of a dB FS.
    trigger : Trigger
        Its mode and times; `settings_db` takes the place of its level or change.
    settings_db : array, shape (n,)
        Rising; dB FS at that gain, or dB of change.

    Returns
    -------
    SweptCounts
    """
    visits, fired, row_s = [], [], survey.row_s
    each = zip(survey.measurements, levels, survey.marks, survey.wet, strict=True)
    for measurement, laf, marks, wet in each:
        rows = sweep(laf, trigger, settings_db.tolist(), row_s)
        # what fires in a marked sound is a catch, not a false firing
        false = [int(np.count_nonzero(~inside(at, marks, len(laf), row_s))) for at in rows]
        one = _visit(measurement, false, hidden(laf, marks, row_s), trigger, marks)
        visits.append(replace(one, wet=wet))
        fired.append(rows)
    prediction = predict(settings_db, visits, survey.conditions, extrapolate=trigger.extrapolates)
    # without a re-arm time a firing still takes a row up and a row down
    apart_s = max(trigger.rearm_s, 2 * row_s)
    return SweptCounts(fired, visits, prediction.capped(apart_s))


def settings_to_try(survey: Survey, mode: str, gain_db: float = 0.0) -> Array:
    """Settings of a mode at a gain, rising: round numbers of the unit they are shown in.

    Returns
    -------
    array, shape (n,)
        Levels in dB FS at that gain, or dB of change.
    """
    # of what a function makes of its setting nothing is known
    if mode == CUSTOM:
        return np.zeros(0)
    if mode != "threshold":
        return _CHANGES_DB
    scale, levels = survey.scale, survey.levels
    # under L50 the background itself holds a threshold up
    low = floor(scale.shown(levels.percentiles_db["L50"]))
    more_db = BELIEF.scale_db * log(max(_DAY_S / survey.duration_s, 1.0))
    high = ceil(scale.shown(levels.lafmax_db) + more_db) + _ABOVE_LOUDEST_DB
    # half a step more, so that the highest is among them
    shown = np.arange(low, high + _LEVEL_STEP_DB / 2, _LEVEL_STEP_DB)
    # round numbers as shown are none in dB FS; the gain moves all alike
    return np.round([scale.full_scale(level) for level in shown], 6) + gain_db


def with_setting(settings_db: Array, at_db: float) -> tuple[Array, int]:
    """Settings with one more among them, and the row it has there."""
    # rounded so that a setting that is there already is not there twice
    settings = np.unique(np.round(np.append(settings_db, at_db), 6))
    return settings, int(np.abs(settings - at_db).argmin())


def swept_with(
    survey: Survey, levels: Sequence[Centi], trigger: Trigger, gain_db: float
) -> tuple[SweptCounts, int]:
    """Sweep a trigger at one gain over what a plan tries and its own setting, and that row.

    Parameters
    ----------
    survey, levels
        As in `swept`.
    trigger : Trigger
        Its level in dB FS at that gain.
    gain_db : float
        Relative to the recording.
    """
    tried = settings_to_try(survey, trigger.mode, gain_db)
    settings, row = with_setting(tried, trigger.at_db)
    return swept(survey, levels, trigger, settings), row


def _visit(
    measurement: Measurement,
    counts: Sequence[int],
    laf: Centi,
    trigger: Trigger,
    marks: Sequence[Mark],
) -> Visit:
    """A recording as the counting sees it: firings at each setting, and its separate peaks."""
    peaks, row_s = None, measurement.row_s
    if trigger.extrapolates:
        # peaks that could not fire one after the other, or not hold long enough, are no firings
        apart_s = max(SEPARATE_S, trigger.rearm_s)
        peaks = separate_peaks(laf / 100, row_s, apart_s=apart_s, hold_s=trigger.hold_s)
    levels = measurement.levels
    # the marked stretches are no part of the time listened to
    lengths = [
        mark.length_s if row_s == ROW_S else row_s * _rows_in(mark.rows(len(laf), row_s))
        for mark in marks
    ]
    # a recording that is all mark still listened to one row: no division by zero
    listened_s = measurement.heard_s - sum(lengths)
    return Visit(
        counts=np.asarray(counts, dtype=np.int64),
        duration_s=max(listened_s, row_s),
        peaks_db=peaks,
        start=_heard_from(measurement),
        l10_db=levels.percentiles_db["L10"],
    )


def _heard_from(measurement: Measurement) -> datetime | None:
    """When the first sound was heard: a recorder may have begun before its microphone."""
    if measurement.start is None or not measurement.unheard or measurement.unheard[0][0]:
        return measurement.start
    return measurement.start + timedelta(seconds=measurement.unheard[0][1] * measurement.row_s)


def _rows_in(rows: slice) -> int:
    return int(rows.stop - rows.start)
