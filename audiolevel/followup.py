"""What should be set now, after what the camera logged?

Each log is held against the plan (`comparison`, `stuck`); all logs together, at the settings they
were made at, say which level keeps the limit and how sure that is (`belief`).

Entry points: `follow`, `Followup`.

Method and evidence: docs/followup.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.belief import Belief, DayCount, believe
from audiolevel.cautions import Caution
from audiolevel.comparison import Checked, check
from audiolevel.eventlog import Log
from audiolevel.promise import Promise
from audiolevel.stuck import stuck

VERDICTS = ("as expected", "more", "fewer", "stuck", "cannot tell")
FEW = 3.0  # under so many firings expected, none at all says nothing


@dataclass(frozen=True, eq=False)
class Followup:
    """All logs together; the last one is at the setting of today."""

    promise: Promise
    logs: tuple[Checked, ...]
    belief: Belief
    verdict: str
    best_db: float
    safe_db: float
    low_db: float
    high_db: float
    rate_at_best: tuple[float, float, float]
    cautions: tuple[Caution, ...]

    @property
    def last(self) -> Checked:
        """The log made last."""
        return self.logs[-1]

    @property
    def shift_db(self) -> tuple[float, float, float]:
        """From the last setting to the level for the limit: best, low, high."""
        at = self.last.at_db
        return self.best_db - at, self.low_db - at, self.high_db - at


def follow(
    promise: Promise, logs: Sequence[tuple[Log, float]], earlier: Sequence[DayCount] = ()
) -> Followup:
    """Compare logs with the plan, each made at its own setting, the latest last.

    Parameters
    ----------
    promise : Promise
    logs : sequence of (Log, level or change in the plan's unit)
    earlier : sequence of DayCount
        Days that were followed up before.
    """
    from audiolevel import sayings

    alone = believe(promise.planned, [], changed=False)
    checked = [_check(promise, alone, log, at_db) for log, at_db in logs]
    days = [*earlier, *(day for one in checked for day in one.day_counts)]
    belief = believe(promise.planned, days)
    out = (1 - promise.confidence) / 2
    levels = belief.quantiles(belief.level_for(promise.limit_per_day), [0.5, 0.9, out, 1 - out])
    best, safe, low, high = (float(level) for level in levels)
    rates = np.exp(belief.quantiles(belief.log_rate_at(best), [0.5, out, 1 - out]))
    return Followup(
        promise=promise,
        logs=tuple(checked),
        belief=belief,
        verdict=sayings.verdict(promise, checked[-1]),
        best_db=best,
        safe_db=safe,
        low_db=low,
        high_db=high,
        rate_at_best=(float(rates[0]), float(rates[1]), float(rates[2])),
        cautions=tuple(sayings.cautions(promise, checked)),
    )


