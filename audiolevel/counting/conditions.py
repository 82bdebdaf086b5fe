"""Under which conditions firings are asked for: when the trigger is active, and what passes.

Entry point: `Conditions`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from audiolevel.counting.belief import WET_SHARE
from audiolevel.counting.schedule import HOURS, Schedule, read_schedule
from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError

DAY_S = 86400.0


@dataclass(frozen=True)
class Conditions:
    """What a prediction is asked for, whatever the setting.

    Parameters
    ----------
    schedule : Schedule
        Minutes of the week in which the trigger is active.
    traffic : sequence of float, "published" or None
        Relative flow by hour, which carries the count to hours not heard. None: a day is 24 hours
        like the sample's.
    wet_share : float
        Share of the days to come on which the road is wet.
    confidence : float
        Of all intervals, between 0.5 and 1.
    seed : int
        Of the draws.

    Raises
    ------
    SettingError
        If the confidence or the share is no such number.
    """

    schedule: Schedule = field(default_factory=lambda: read_schedule(()))
    traffic: Sequence[float] | str | None = None
    wet_share: float = WET_SHARE
    confidence: float = 0.95
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what is no confidence and no share."""
        if not 0.5 < self.confidence < 1:
            raise SettingError(f"confidence: {self.confidence:g} must lie above 0.5 and below 1")
        if not (math.isfinite(self.wet_share) and 0 <= self.wet_share <= 1):
            raise SettingError(f"wet_share: {self.wet_share:g} is not between 0 and 1")

    @cached_property
    def active(self) -> Array | None:
        """Share of each hour of an active day that is active, (24,); None if always active."""
        return None if self.schedule.always else self.schedule.share_active_by_hour()

    @property
    def active_or_all(self) -> Array:
        """The same, ones if always active."""
        return np.ones(HOURS) if self.active is None else self.active
