"""Chance of detection of each wanted sound against distance.

Entry points: `range_curves`, `RangeCurve`, `falling`.
"""

from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, Centi
from audiolevel.metering.annotations import hidden
from audiolevel.planning.choice import Option
from audiolevel.planning.placement import (
    in_rows,
    moment_weights,
    on_background,
    placing_background,
)
from audiolevel.planning.survey import Survey
from audiolevel.planning.wanted import at_distance
from audiolevel.sounds.detection import detect

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
    arriving = survey.arriving
    # a wanted sound has a sound pressure, and without calibration none in dB FS
    if arriving is None:
        return []
    background = placing_background(survey.measurements)
    # hundredths of a decibel to decibels
    site_db = on_background(survey, background, _quiet_levels(survey, option.gain_db)) / 100
    weights = moment_weights(survey, background)
    curves = []
    # strict: a site's sounds arrive in its order
    for wanted, known in zip(survey.site.wanted, survey.wanted, strict=True):
        detections = []
        for metres in DISTANCES_M:
            arrived = at_distance(wanted, metres, arriving)
            detections += detect(
                site_db,
                in_rows(arrived.course_db(option.gain_db), survey),
                [(option.trigger, [option.trigger.at_db])],
                interval_s=survey.row_s,
                weights=weights,
                confidence=survey.confidence,
                # ±5 % is enough for a curve on paper, and needs fewer placements
                half_width=0.05,
                seed=survey.seed,
                # what marked sounds taught of it, at any distance
                variation=known.variation,
            )
        # one setting was asked for at each distance
        at_distances = [one for (one,) in detections]
        share = np.array([one.probability for one in at_distances])
        low, high = falling(
            share,
            np.array([one.low for one in at_distances]),
            np.array([one.high for one in at_distances]),
        )
        curves.append(RangeCurve(arrived.name, np.array(DISTANCES_M), share, low, high))
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


def _quiet_levels(survey: Survey, gain_db: float) -> list[Centi]:
    """LAF of each recording at a gain, with the marked sounds taken out."""
    simulated = [
        next(gain for gain in one.gains if gain.gain_db == gain_db) for one in survey.measurements
    ]
    return [
        hidden(gain.laf, marks, survey.row_s)
        for gain, marks in zip(simulated, survey.marks, strict=True)
        if gain.laf is not None
    ]
