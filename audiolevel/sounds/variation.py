"""How far a sound's level at the microphone may lie from the one worked out for it.

Two kinds of spread are kept apart. From one event to the next sources differ (one pane, another
pane) and so does what lies between: both are drawn anew each time and make a chance out of what
would be a step. What is not known of the mean, of the source and of the calibration, is the same
for every event of a site: it makes the chance itself uncertain. Marked sounds teach the second.

Entry points: `Variation`, `CERTAIN`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np

# Standard deviation of what reflections, ground and wind make of the way, up to some tens of
# metres: half the ±5 dB of common practice, and near the ±3 dB that ISO 9613-2:1996, table 5,
# gives for the mean below 100 m and 5 m of height (from memory)
PROPAGATION_SPREAD_DB = 2.5
# a user's own level: a hand-held meter is good to 1.5 dB, and a few events are not all (judgement)
MEASURED_MEAN_SPREAD_DB = 2.0
# of a sound of the user's own that says nothing of it: between a device and a blow (judgement)
USUAL_EVENT_SPREAD_DB = 4.0


@dataclass(frozen=True)
class Variation:
    """Offsets of a sound's level from the one worked out, in dB.

    Attributes
    ----------
    mean_db : float
        Best estimate of the mean offset; 0 until something teaches otherwise.
    event_db : float
        Standard deviation from one event to the next, the way of the sound included.
    unknown_db : float
        Standard deviation of what is not known of the mean, the calibration included.
    """

    mean_db: float = 0.0
    event_db: float = 0.0
    unknown_db: float = 0.0

    @property
    def predictive_db(self) -> float:
        """Standard deviation of the next event, with all that is not known."""
        return hypot(self.event_db, self.unknown_db)

    def taught(self, offsets_db: Sequence[float], *, lean: bool = False) -> Variation:
        """What is believed once events were heard: the conjugate normal update.

        Parameters
        ----------
        offsets_db : sequence of float
            Measured less worked-out level of each event.
        lean : bool
            Believe the events alone: what was known before has been contradicted.

        Returns
        -------
        Variation
            The spread from event to event is kept as it was; it is known before.

        Notes
        -----
        Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, section 2.5: precisions add, means
        are weighed by them.
        """
        heard = np.asarray(offsets_db, dtype=np.float64)
        # nothing heard, or a mean that is known for certain: nothing to learn
        if not heard.size or (self.unknown_db == 0.0 and not lean):
            return self
        # of the mean of n events; a spread of nothing would be infinitely sure
        sampling = max(self.event_db, 0.1) ** 2 / heard.size
        if lean:
            return Variation(float(heard.mean()), self.event_db, float(np.sqrt(sampling)))
        precision = 1.0 / self.unknown_db**2 + 1.0 / sampling
        mean = (self.mean_db / self.unknown_db**2 + float(heard.mean()) / sampling) / precision
        return Variation(mean, self.event_db, float(precision**-0.5))


# a level that is known exactly, as in a test signal
CERTAIN = Variation()
