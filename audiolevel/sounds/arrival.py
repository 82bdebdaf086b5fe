"""A wanted sound as it arrives at the microphone."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.metering.decibels import level_db
from audiolevel.sounds.synthesis import laf_course_db, lafmax_db
from audiolevel.sounds.variation import CERTAIN, Variation


@dataclass(frozen=True)
class WantedSound:
    """A wanted sound at the microphone.

    Attributes
    ----------
    name : str
    distance_m : float
    samples : array, shape (n,)
        At the recorded gain; full scale is 1, and more than that is still there.
    rate_hz : int
    variation : Variation
        How far an event's level may lie from that of `samples`.
    must : bool
        Whether it has a say in what is set.
    """

    name: str
    distance_m: float
    samples: Array
    rate_hz: int
    variation: Variation = CERTAIN
    must: bool = True

    @cached_property
    def peak_db(self) -> float:
        """Highest sample re full scale at the recorded gain."""
        # nothing but zeros reads −200 dB, the level of digital silence
        return float(20 * np.log10(max(np.abs(self.samples).max(), 1e-10)))

    @cached_property
    def lafmax_db(self) -> float:
        """Its LAFmax in dB FS at the recorded gain, unclipped."""
        # that is re a mean square of 1, but 0 dB FS is one of 0.5: 3.01 dB more
        return lafmax_db(self.samples, self.rate_hz) + float(level_db(1.0))

    def clips_at(self, gain_db: float) -> bool:
        """Whether it is heard only up to full scale at this gain."""
        return self.peak_db + gain_db > 0

    def course_db(self, gain_db: float = 0.0) -> Array:
        """Its LAF by itself, every 10 ms from silence, dB FS at this gain; shape (rows,)."""
        return laf_course_db(self.samples, self.rate_hz, gain_db=gain_db)
