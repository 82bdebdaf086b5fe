"""What marked sounds say of the levels worked out for wanted ones.

A sound that was marked in the recording, at a known distance, has a level that can be measured.
Events of the same name at the same distance teach the mean level of that sound as it arrives here,
microphone and calibration included; where they contradict what was worked out, they are believed.

Entry points: `evidence_of`, `taught`, `Evidence`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.metering.annotations import Mark
from audiolevel.metering.decibels import level_db, mean_square
from audiolevel.metering.measurement import Measurement
from audiolevel.planning.wanted import Arriving, at_distance
from audiolevel.site.sections import Wanted
from audiolevel.sounds.arrival import WantedSound
from audiolevel.sounds.variation import Variation

# a median this far off is more than a wall or the ground makes of it
CONTRADICTS_DB = 3.0
# and it must be more than chance makes of so few events: 10 %, both sides
_CHANCE = 1.645
# a sound that would hardly rise above the road there says nothing of its level
_ABOVE_SITE_DB = 3.0
# what the road did just before the sound
_BEFORE_S = 2.0


@dataclass(frozen=True)
class Evidence:
    """Marked events of one wanted sound against the level worked out for them.

    Attributes
    ----------
    sound : str
    offsets_db : tuple of float
        Measured less worked out, LAFmax of each event.
    before, after : Variation
        What was believed of its level without the events and with them.
    contradicts : bool
        The events lie farther off than 3 dB and than chance allows.
    """

    sound: str
    offsets_db: tuple[float, ...]
    before: Variation
    after: Variation
    contradicts: bool

    @property
    def median_db(self) -> float:
        """Of the offsets."""
        return float(np.median(self.offsets_db))


def evidence_of(
    wanted: Sequence[Wanted],
    sounds: Sequence[WantedSound],
    measurements: Sequence[Measurement],
    arriving: Arriving,
) -> tuple[Evidence, ...]:
    """Evidence on every wanted sound that was marked at known distances.

    Parameters
    ----------
    wanted, sounds : sequences of the same length
        Of the site file, and as they arrive from the distances it gives.
    measurements : sequence of Measurement
        Recordings with their level histories, and what was marked in each.
    arriving : Arriving
        What the sounds were worked out with.
    """
    offsets: dict[str, list[float]] = {}
    # sounds twice in the site file, at two distances, are one sound here
    of_name = {sound.name: one for one, sound in zip(wanted, sounds, strict=True)}
    expected: dict[tuple[str, float], float] = {}
    for measurement in measurements:
        for mark in measurement.marks:
            if mark.sound not in of_name or mark.distance_m is None or not mark.wanted:
                continue
            key = (mark.sound, mark.distance_m)
            if key not in expected:
                arrived = at_distance(of_name[mark.sound], mark.distance_m, arriving)
                expected[key] = arrived.lafmax_db
            offset_db = _offset_db(mark, measurement, expected[key])
            if offset_db is not None:
                offsets.setdefault(mark.sound, []).append(offset_db)
    before = {sound.name: sound.variation for sound in sounds}
    together = _together_contradict(
        [(before[name], values) for name, values in offsets.items()],
        arriving.site.calibration_spread_db,
    )
    return tuple(
        _evidence(name, values, before[name], together=together) for name, values in offsets.items()
    )


def taught(sounds: Sequence[WantedSound], evidence: Sequence[Evidence]) -> tuple[WantedSound, ...]:
    """The wanted sounds with what the events taught of their levels."""
    after = {one.sound: one.after for one in evidence}
    # microphone and calibration are common to all: where the events contradict, what they say of
    # the sounds heard is the best there is for those not heard
    shift_db = 0.0
    if any(one.contradicts for one in evidence):
        shift_db = float(np.mean([one.after.mean_db for one in evidence]))
    return tuple(
        replace(
            sound,
            variation=after.get(
                sound.name,
                replace(sound.variation, mean_db=sound.variation.mean_db + shift_db),
            ),
        )
        for sound in sounds
    )


def _evidence(
    name: str, offsets_db: Sequence[float], before: Variation, *, together: bool
) -> Evidence:
    alone = _contradicts(float(np.median(offsets_db)), _median_error_db(before, len(offsets_db)))
    contradicts = alone or together
    return Evidence(
        name, tuple(offsets_db), before, before.taught(offsets_db, lean=contradicts), contradicts
    )


def _offset_db(mark: Mark, measurement: Measurement, expected_db: float) -> float | None:
    """Measured less expected LAFmax; None where the road would hide the sound."""
    laf = measurement.laf
    if laf is None:
        return None
    rows = mark.rows(len(laf), measurement.row_s)
    heard = laf[rows] / 100
    before = laf[max(0, rows.start - round(_BEFORE_S / measurement.row_s)) : rows.start] / 100
    if not len(heard) or not len(before):
        return None
    site = float(mean_square(before).mean())
    # asked of the expected level, not of the measured: else only the loud ones would count
    if expected_db < level_db(site) + _ABOVE_SITE_DB:
        return None
    total = float(mean_square(heard.max()))
    # at least half of what was read is the sound's, however loud the road was before
    alone = max(total - site, total / 2)
    return float(level_db(alone)) - expected_db


def _median_error_db(before: Variation, count: int) -> float:
    """Standard deviation of a median of so many events, with what is not known of the mean."""
    # a median of normal draws varies by π/2 more than their mean
    sampling = before.event_db**2 / count * (np.pi / 2 if count > 2 else 1.0)
    return sqrt(sampling + before.unknown_db**2)


def _contradicts(off_db: float, error_db: float) -> bool:
    return abs(off_db) > max(CONTRADICTS_DB, _CHANCE * error_db)


def _together_contradict(
    each: Sequence[tuple[Variation, Sequence[float]]], calibration_db: float
) -> bool:
    """Whether all sounds together lie off by more than chance: what they share is at fault."""
    if not each:
        return False
    precisions: Array = np.array(
        [_median_error_db(before, len(values)) ** -2 for before, values in each]
    )
    medians = np.array([np.median(values) for _, values in each])
    off_db = float(precisions @ medians / precisions.sum())
    # the calibration is one and the same for all and does not average out
    return _contradicts(off_db, sqrt(1.0 / float(precisions.sum()) + calibration_db**2))
