"""From how far would each wanted sound be caught by the recommended setting?

Entry points: `range_curves`, `RangeCurve`.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from audiolevel.arrays import Array
from audiolevel.metering.annotations import hidden
from audiolevel.planning.choice import Option
from audiolevel.planning.curves import Survey, moment_weights, on_background, placing_background
from audiolevel.planning.wanted import at_distance
from audiolevel.sounds.detection import detect

DISTANCES_M = tuple(np.round(np.geomspace(1, 120, 33), 1).tolist())


@dataclass(frozen=True)
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


def range_curves(survey: Survey, option: Option, folder: Path | None = None) -> list[RangeCurve]:
    """Each wanted sound of the site, carried to many distances, at one setting."""
    full_scale_db = survey.scale.spl_at_full_scale_db
    if full_scale_db is None:
        return []
    heard = [next(g for g in one.gains if g.gain_db == option.gain_db) for one in survey.heard]
    histories = [
        hidden(sound.laf, marks)
        for sound, marks in zip(heard, survey.marks, strict=True)
        if sound.laf is not None
    ]
    ground = placing_background(survey.heard)
    site_db = on_background(survey, ground, histories) / 100
    weights = moment_weights(survey, ground)
    rate_hz = survey.heard[0].sample_rate_hz or survey.wanted[0].rate_hz
    curves = []
    for wanted in survey.site.wanted:
        found = []
        for metres in DISTANCES_M:
            arrived = at_distance(
                wanted, metres, survey.site.air, full_scale_db, rate_hz, folder, survey.seed
            )
            found += detect(
                site_db,
                arrived.course_db(option.gain_db),
                [(option.trigger, [option.trigger.at_db])],
                weights=weights,
                confidence=survey.confidence,
                half_width=0.05,
                seed=survey.seed,
            )
        curves.append(
            RangeCurve(
                arrived.name,
                np.array(DISTANCES_M),
                np.array([one[0].probability for one in found]),
                np.array([one[0].low for one in found]),
                np.array([one[0].high for one in found]),
            )
        )
    return curves
