"""Chance of detection of each wanted sound against distance.

Entry points: `range_curves`, `RangeCurve`, `Carried`, `falling`.
"""

from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, Centi
from audiolevel.metering.annotations import hidden
from audiolevel.planning.option import Option
from audiolevel.planning.placement import (
    in_rows,
    moment_weights,
    on_background,
    placing_background,
)
from audiolevel.planning.survey import Survey
from audiolevel.planning.wanted import at_distance
from audiolevel.sounds.detection import Detection, detect

# 33 steps of 16 % from 1 to 120 m, which is 1.3 dB a step in a free field
DISTANCES_M = tuple(np.round(np.geomspace(1, 120, 33), 1).tolist())


@dataclass(frozen=True, eq=False)
class RangeCurve:
    """Chance of detection against distance; arrays of shape (distances,)."""

    sound: str
    distance_m: Array
    probability: Array
    low: Array
    high: Array

    def reaches_m(self, share: float) -> float | None:
        """The farthest tried distance at which the sound is caught that often."""
        enough = np.flatnonzero(self.probability >= share)
        return float(self.distance_m[enough[-1]]) if len(enough) else None


class Carried:
    """The wanted sounds of a survey carried to other distances, at one setting.

    Parameters
    ----------
    survey : Survey
        Calibrated: a wanted sound has a sound pressure.
    option : Option
        Its gain and trigger.
    """

    def __init__(self, survey: Survey, option: Option) -> None:
        background = placing_background(survey.measurements)
        # hundredths of a decibel to decibels
        self._site_db = on_background(survey, background, _quiet(survey, option.gain_db)) / 100
        self._weights = moment_weights(survey, background)
        self._survey, self._option = survey, option

    def at(self, index: int, distance_m: float) -> Detection:
        """The chance of a wanted sound, by its place in the site file, at a distance."""
        survey, option = self._survey, self._option
        assert survey.arriving is not None  # wanted sounds are placed only where they can arrive
        arrived = at_distance(survey.site.wanted[index], distance_m, survey.arriving)
        ((found,),) = detect(
            self._site_db,
            in_rows(arrived.course_db(option.gain_db), survey),
            [(option.trigger, [option.trigger.at_db])],
            interval_s=survey.row_s,
            weights=self._weights,
            confidence=survey.confidence,
            # ±5 % is enough for a curve on paper, and needs fewer placements
            half_width=0.05,
            seed=survey.seed,
            # what marked sounds taught of it, at any distance
            variation=survey.wanted[index].variation,
        )
        return found

    def caught_within_m(self, index: int, share: float) -> float | None:
        """The farthest of `DISTANCES_M` at which a sound is caught that often; None if at none."""
        # the chance falls with the distance, so that halving finds where it passes the share
        within, beyond = -1, len(DISTANCES_M)
        while beyond - within > 1:
            middle = (within + beyond) // 2
            enough = self.at(index, DISTANCES_M[middle]).probability >= share
            within, beyond = (middle, beyond) if enough else (within, middle)
        return DISTANCES_M[within] if within >= 0 else None


def range_curves(survey: Survey, option: Option) -> list[RangeCurve]:
    """Each wanted sound of the site, carried to many distances, at one setting.

    Parameters
    ----------
    survey : Survey
    option : Option
        Its gain and trigger.

    Returns
    -------
    list of RangeCurve
        Empty without a calibration.
    """
    # a wanted sound has a sound pressure, and without calibration none in dB FS
    if survey.arriving is None:
        return []
    carried = Carried(survey, option)
    curves = []
    for index, wanted in enumerate(survey.wanted):
        found = [carried.at(index, metres) for metres in DISTANCES_M]
        share = np.array([one.probability for one in found])
        ends = (np.array([one.low for one in found]), np.array([one.high for one in found]))
        curves.append(RangeCurve(wanted.name, np.array(DISTANCES_M), share, *falling(share, *ends)))
    return curves


def falling(share: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """Limits of a chance that can only fall along its array, each by what the others say.

    Parameters
    ----------
    share, low, high : arrays, shape (distances,)
        From near to far.

    Returns
    -------
    low, high : arrays, shape (distances,)

    Notes
    -----
    The same sound at the same moments is weaker from farther off: what limits the chance nearer
    limits it here, from above, and what limits it farther off from below. By themselves the ends
    say less than the middle: where none or all of the placements fired, nothing tells how much
    they share, and a moment of the site counts as one try (`sounds.detection`).
    """
    above = np.minimum.accumulate(high)
    below = np.maximum.accumulate(low[::-1])[::-1]
    # placements of each distance are its own, and their share may pass its neighbour's limit
    return np.minimum(below, share), np.maximum(above, share)


def _quiet(survey: Survey, gain_db: float) -> list[Centi]:
    """LAF of each recording at a gain, with the marked sounds taken out."""
    simulated = [
        next(gain for gain in one.gains if gain.gain_db == gain_db) for one in survey.measurements
    ]
    return [
        hidden(gain.laf, marks, survey.row_s)
        for gain, marks in zip(simulated, survey.marks, strict=True)
        if gain.laf is not None
    ]
