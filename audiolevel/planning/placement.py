"""Wanted sounds placed into the levels of a site: how often each fires the trigger.

A sound is placed at many moments of the recordings, weighed by the hours in which the trigger is
active; marked sounds are looked up where they are.

Entry points: `placed`, `marked`, `DetectionCurve`, `surroundings_of`, `in_rows`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audiolevel.ground.arrays import Array, Centi, IntArray
from audiolevel.ground.errors import RecordingError
from audiolevel.ground.intervals import wilson_interval
from audiolevel.metering.annotations import Mark, hidden
from audiolevel.metering.decibels import level_db, mean_square
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import ROW_S
from audiolevel.metering.silence import within
from audiolevel.planning.survey import Survey
from audiolevel.sounds.arrival import WantedSound
from audiolevel.sounds.detection import Detection, Surroundings, detect, surroundings
from audiolevel.sounds.variation import Variation
from audiolevel.triggers.trigger import Trigger

# two hours hold hundreds of vehicles; placing in more would cost time and tell no more
_PLACING_ROWS = 720_000
# spread over a long recording, so that its hours are all met
_PLACING_STRETCHES = 12


@dataclass(frozen=True)
class Stretch:
    """Rows `first` to `first + rows` of one recording."""

    measurement: Measurement
    first: int
    rows: int


@dataclass(frozen=True, eq=False)
class DetectionCurve:
    """How likely a wanted sound fires the trigger, at every setting.

    Attributes
    ----------
    sound : str
    distance_m : float or None
        None for a sound marked in the recording itself.
    probability, low, high : arrays, shape (settings,)
        Best estimate and ends of its interval, 0 to 1.
    variation : Variation or None
        What they were worked out with; None for a sound marked in the recording itself.
    must : bool
        Whether it has a say in what is set.
    out_of_reach : bool
        No setting catches it often enough, so that the choice is made for the others.
    """

    sound: str
    distance_m: float | None
    probability: Array
    low: Array
    high: Array
    variation: Variation | None = None
    must: bool = True
    out_of_reach: bool = False


def placed(
    survey: Survey,
    levels: Sequence[Centi],
    gain_db: float,
    grids: Mapping[str, Array],
    *,
    clip: bool,
) -> dict[str, list[DetectionCurve]]:
    """Every wanted sound placed into the site's levels; for each mode a curve a sound.

    Parameters
    ----------
    levels : one array of int16, shape (rows,), for each recording
        LAF at this gain in hundredths of a dB FS.
    gain_db : float
        Relative to the recording.
    grids : mapping of str to array
        The settings to try of each mode, rising.
    clip : bool
        Whether site and sound together may reach full scale at this gain.
    """
    curves: dict[str, list[DetectionCurve]] = {mode: [] for mode in grids}
    if not survey.wanted:
        return curves
    sweeps = [
        (survey.site.trigger.trigger(mode, float(grid[-1])), grid.tolist())
        for mode, grid in grids.items()
    ]
    around = surroundings_of(survey, levels, sweeps)
    for wanted in survey.wanted:
        course_db = in_rows(_course_db(wanted, gain_db, clip=clip), survey)
        try:
            by_mode = detect(
                around,
                course_db,
                variation=wanted.variation,
                confidence=survey.confidence,
                seed=survey.seed,
            )
        except RecordingError as error:
            names = ", ".join(one.path.name for one in survey.measurements)
            raise RecordingError(f"{names}: {error}") from error
        for mode, detections in zip(grids, by_mode, strict=True):
            curves[mode].append(_curve_of(wanted, detections))
    return curves


def surroundings_of(
    survey: Survey,
    levels: Sequence[Centi],
    sweeps: Sequence[tuple[Trigger, Sequence[float]]],
) -> Surroundings:
    """What a wanted sound meets in the site's levels at one gain, `levels` as in `placed`."""
    stretches = placing_stretches(survey.measurements)
    # marked sounds are hidden: two wanted sounds at once would be caught too easily
    quiet = [
        hidden(laf, marks, survey.row_s) for laf, marks in zip(levels, survey.marks, strict=True)
    ]
    return surroundings(
        _end_to_end(survey, stretches, quiet) / 100,
        sweeps,
        interval_s=survey.row_s,
        weights=moment_weights(survey, stretches),
    )


def placing_stretches(measurements: Sequence[Measurement]) -> tuple[Stretch, ...]:
    """Where to place sounds: all that was heard, or stretches spread over long recordings."""
    total = sum(one.rows for one in measurements)
    stretches = []
    for one in measurements:
        rows = one.rows
        if total <= _PLACING_ROWS:
            stretches.append(Stretch(one, 0, rows))
            continue
        # stretches by length, at least one a recording, however short
        share = max(1, round(_PLACING_STRETCHES * rows / total))
        # ten minutes of 10 ms rows
        length = min(rows, _PLACING_ROWS // _PLACING_STRETCHES)
        # first at the beginning, last at the end; a single one at the beginning
        firsts = np.linspace(0, rows - length, share).astype(np.int64).tolist()
        stretches += [Stretch(one, first, length) for first in firsts]
    return tuple(stretches)


def _end_to_end(
    survey: Survey, stretches: Sequence[Stretch], per_recording: Sequence[NDArray[Any]]
) -> Any:
    """An array a recording, shape (rows,) each, as one array over the stretches."""
    # found by identity: a stretch holds the very measurement of the survey
    of = {id(one): values for one, values in zip(survey.measurements, per_recording, strict=True)}
    return np.concatenate([of[id(s.measurement)][s.first : s.first + s.rows] for s in stretches])


def moment_weights(survey: Survey, stretches: Sequence[Stretch]) -> Array | None:
    """How much each row of the stretches counts: by the share of its hour that is active.

    Nothing in stretches of digital silence. None, all alike, without a schedule and without such
    stretches, or where no active hour was heard at all.
    """
    active = survey.conditions.active
    if active is None and not any(one.unheard for one in survey.measurements):
        return None
    # silence was no moment of the site
    heard = [~within(one.unheard, one.rows) for one in survey.measurements]
    audible = _end_to_end(survey, stretches, heard)
    weights = audible if active is None else audible * _active_share(stretches, active)
    # all zero would leave no moment to place anything at
    return np.asarray(weights, dtype=np.float64) if weights.any() else None


def _active_share(stretches: Sequence[Stretch], active: Array) -> Array:
    """Share of each row's hour in which the trigger is active; (rows,)."""
    parts = []
    for stretch in stretches:
        start = stretch.measurement.start
        if start is None:
            # no start time: any hour of the day is as likely
            parts.append(np.full(stretch.rows, active.mean()))
            continue
        # seconds since midnight
        begin_s = start.hour * 3600 + start.minute * 60 + start.second
        seconds = begin_s + (stretch.first + np.arange(stretch.rows)) * stretch.measurement.row_s
        # past midnight the day begins again
        parts.append(active[(seconds // 3600).astype(np.int64) % 24])
    return np.concatenate(parts)


def _course_db(wanted: WantedSound, gain_db: float, *, clip: bool) -> Array:
    """LAF of a sound by itself at the gain that its levels are placed in."""
    # levels know nothing of full scale: where it may be passed the sound is clipped by itself
    return wanted.course_db(gain_db) if clip else unclipped_course_db(wanted) + gain_db


def unclipped_course_db(wanted: WantedSound) -> Array:
    """LAF of the sound at the recorded gain as if nothing could clip."""
    # turned down until its peak is 1 dB below full scale, then its levels back up
    down_db = max(0.0, wanted.peak_db) + 1.0
    return wanted.course_db(-down_db) + down_db


def in_rows(course_db: Array, survey: Survey) -> Array:
    """The course of a sound, every 10 ms, in rows as the survey's level histories have them.

    Parameters
    ----------
    course_db : array, shape (rows of 10 ms,)
        LAF of the sound by itself, dB FS.

    Returns
    -------
    array, shape (rows,)
        The highest LAF of each row, or LAeq of each where the histories hold that; F weighting
        conserves energy.
    """
    one = survey.measurements[0]
    if one.row_s == ROW_S:
        return course_db
    # the sound begins with a row; the last is filled up with silence
    first = np.floor(np.arange(len(course_db)) * ROW_S / one.row_s + 1e-6)
    # where a new row begins; the prepended −1 makes the first one count
    edges = np.flatnonzero(np.diff(first, prepend=-1.0))
    # a coarse LAF row is the highest LAF within it
    if one.quantity == "LAF":
        highest: Array = np.maximum.reduceat(course_db, edges)
        return highest
    # mean square over the whole row: what the sound leaves empty counts as silence
    return level_db(np.add.reduceat(mean_square(course_db), edges) * ROW_S / one.row_s)


def _curve_of(wanted: WantedSound, detections: Sequence[Detection]) -> DetectionCurve:
    return DetectionCurve(
        wanted.name,
        wanted.distance_m,
        np.array([one.probability for one in detections]),
        np.array([one.low for one in detections]),
        np.array([one.high for one in detections]),
        wanted.variation,
        must=wanted.must,
    )


def comparable_marks(survey: Survey) -> list[list[Mark]]:
    """The marked sounds about as far off as the site file says, or at a distance nobody noted."""
    asked: dict[str, list[float]] = {}
    for sound in survey.wanted:
        asked.setdefault(sound.name, []).append(sound.distance_m)

    def near(mark: Mark) -> bool:
        distances = asked.get(mark.sound, [])
        if mark.distance_m is None:
            return bool(distances)
        # a quarter of the distance is 2 dB, less than a source differs from the next
        return any(1 / 1.25 <= mark.distance_m / metres <= 1.25 for metres in distances)

    return [[mark for mark in of if near(mark)] for of in survey.marks]


def marked(
    survey: Survey,
    levels: Sequence[Centi],
    fired: Sequence[Sequence[IntArray]],
    of_marks: Sequence[Sequence[Mark]] | None = None,
) -> list[DetectionCurve]:
    """The share of the marked sounds of each name in which the trigger fired.

    Parameters
    ----------
    levels : one array of int16, shape (rows,), for each recording
    fired : list of list of arrays
        Rows at which it fired, by recording and setting.
    of_marks : one sequence of Mark for each recording, optional
        Only these; by default all that are marked.
    """
    every = survey.marks if of_marks is None else of_marks
    names = sorted({mark.sound for marks in every for mark in marks})
    curves = []
    for name in names:
        hits = [
            [_fires_in(rows, mark.rows(len(laf), survey.row_s)) for rows in by_setting]
            for laf, marks, by_setting in zip(levels, every, fired, strict=True)
            for mark in marks
            if mark.sound == name
        ]
        # (marks, settings) to (settings,)
        share = np.mean(hits, axis=0)
        low, high = wilson_interval(share, len(hits), survey.confidence)
        curves.append(DetectionCurve(name, None, share, low, high))
    return curves


def _fires_in(rows: IntArray, span: slice) -> bool:
    # the first firing at or after the mark's beginning
    at = int(np.searchsorted(rows, span.start))
    return at < len(rows) and bool(rows[at] < span.stop)
