"""Chance of detection of each wanted sound against distance.

Entry points: `range_curves`, `RangeCurve`, `Carried`, `falling`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.planning.option import Option
from audiolevel.planning.placement import in_rows, surroundings_of
from audiolevel.planning.survey import Survey
from audiolevel.planning.wanted import at_distance
from audiolevel.sounds.detection import Detection, detect
from audiolevel.triggers.trigger import Trigger

# 33 steps of 16 % from 1 to 120 m, which is 1.3 dB a step in a free field
DISTANCES_M = tuple(np.round(np.geomspace(1, 120, 33), 1).tolist())
# a chance changes slowly with distance: a curve needs every other
_DRAWN_M = DISTANCES_M[::2]


@dataclass(frozen=True, eq=False)
class RangeCurve:
    """Chance of detection against distance at one setting; arrays of shape (distances,)."""

    sound: str
    distance_m: Array
    probability: Array
    low: Array
    high: Array

    def reaches_m(self, share: float) -> float | None:
        """The farthest distance at which the sound is caught that often; None if at none tried."""
        enough = np.flatnonzero(self.probability >= share)
        if not len(enough):
            return None
        last = enough[-1]
        if last + 1 == len(self.distance_m):
            return float(self.distance_m[last])
        # between two of those tried, along decibels of spreading
        two = slice(last, last + 2)
        falls, log_m = -self.probability[two], np.log(self.distance_m[two])
        return float(np.exp(np.interp(-share, falls, log_m)))


class Carried:
    """The wanted sounds of a survey carried to other distances, at one gain.

    Parameters
    ----------
    survey : Survey
        Calibrated: a wanted sound has a sound pressure.
    gain_db : float
    sweeps : sequence of (Trigger, sequence of float)
        Triggers, each with the settings to try in place of its own.
    """

    def __init__(
        self, survey: Survey, gain_db: float, sweeps: Sequence[tuple[Trigger, Sequence[float]]]
    ) -> None:
        self._survey, self._gain_db = survey, gain_db
        simulated = [gain for one in survey.measurements for gain in one.gains]
        levels = [gain.laf for gain in simulated if gain.gain_db == gain_db]
        self._around = surroundings_of(survey, [one for one in levels if one is not None], sweeps)

    def at(self, index: int, distance_m: float) -> list[list[Detection]]:
        """The chances of a wanted sound, by its place in the site file, at a distance.

        A list for each sweep, with a chance for each of its settings.
        """
        survey = self._survey
        assert survey.arriving is not None  # wanted sounds are placed only where they can arrive
        arrived = at_distance(survey.site.wanted[index], distance_m, survey.arriving)
        return detect(
            self._around,
            in_rows(arrived.course_db(self._gain_db), survey),
            # what marked sounds taught of it, at any distance
            variation=survey.wanted[index].variation,
            confidence=survey.confidence,
            # ±5 % is enough for a curve on paper, and needs fewer placements
            half_width=0.05,
            seed=survey.seed,
        )

    def caught_within_m(self, index: int, share: float) -> float | None:
        """The farthest of `DISTANCES_M` at which a sound is caught that often; None if at none.

        At the first setting of the first sweep.
        """
        # the chance falls with the distance, so that halving finds where it passes the share
        within, beyond = -1, len(DISTANCES_M)
        while beyond - within > 1:
            middle = (within + beyond) // 2
            enough = self.at(index, DISTANCES_M[middle])[0][0].probability >= share
            within, beyond = (middle, beyond) if enough else (within, middle)
        return DISTANCES_M[within] if within >= 0 else None


def range_curves(survey: Survey, options: Sequence[Option]) -> list[list[list[RangeCurve]]]:
    """Each wanted sound of the site, carried to many distances, at every setting of some curves.

    Parameters
    ----------
    survey : Survey
    options : sequence of Option
        Of one gain; their curves' settings are tried.

    Returns
    -------
    list of list of list of RangeCurve
        By option, wanted sound and setting; empty without a calibration or a wanted sound.
    """
    # a wanted sound has a sound pressure, and without calibration none in dB FS
    if survey.arriving is None or not survey.wanted:
        return []
    sweeps = [(one.trigger, one.curve.prediction.settings_db.tolist()) for one in options]
    carried = Carried(survey, options[0].gain_db, sweeps)
    curves: list[list[list[RangeCurve]]] = [[] for _ in options]
    for index, wanted in enumerate(survey.wanted):
        found = [carried.at(index, metres) for metres in _DRAWN_M]
        # by distance, option and setting as they are found: distances become the innermost
        for of_option, swept in zip(curves, zip(*found, strict=True), strict=True):
            of_option.append([_curve(wanted.name, one) for one in zip(*swept, strict=True)])
    return curves


def _curve(sound: str, found: Sequence[Detection]) -> RangeCurve:
    """Of chances from near to far."""
    share, low, high = (
        np.array([getattr(one, name) for one in found]) for name in ("probability", "low", "high")
    )
    return RangeCurve(sound, np.array(_DRAWN_M), share, *falling(share, low, high))


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
