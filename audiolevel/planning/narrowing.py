"""What would narrow a prediction most, and by how much.

The last visit is put beside those made once more, at another hour or on another day, and the
prediction is made again. Two days of a log are counted at the level itself.

Conventions: widths are those of the interval of the level for a limit, in dB.

Entry points: `steps_that_narrow`, `Step`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting.belief import LEVEL_SLOPE_NP_PER_DB
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.predicted import Prediction
from audiolevel.counting.rates import predict
from audiolevel.counting.schedule import HOURS

LOG_DAYS = 2
# a Tuesday; only its being one and the same day matters
_ANY_DAY = datetime(2024, 6, 4, 11)
# nobody is sent out at three in the morning if any hour of the day is active
_VISITING_HOURS = range(7, 22)


@dataclass(frozen=True)
class Step:
    """What is left of the uncertainty after one step more.

    Attributes
    ----------
    step : str
        "another hour": one more visit, as long as the last, at `hour` of the same day; "another
        day": the same on another day; "two days of log": of the camera or of a meter.
    hour : int or None
        That is heard least so far.
    now_db, after_db : float
        Half the width of the interval of the level for the limit: now, and as expected then.
    """

    step: str
    hour: int | None
    now_db: float
    after_db: float


def steps_that_narrow(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    limit_per_day: float,
    conditions: Conditions,
    *,
    extrapolate: bool,
) -> tuple[Step, ...]:
    """What each step would leave, the one that narrows most first; empty if no level is known.

    Parameters
    ----------
    settings_db, visits, conditions, extrapolate
        As for `rates.predict`.
    limit_per_day : float
        Firings a day for which a level is looked for.
    """
    if any(visit.start is None for visit in visits):
        visits = [replace(visit, start=_ANY_DAY) for visit in visits]
        # the invented start must not bring in the traffic of its hour
        conditions = replace(conditions, traffic=None)
    prediction = predict(settings_db, visits, conditions, extrapolate=extrapolate)
    now = _half_width(prediction, limit_per_day)
    if now is None or not now > 0:
        return ()
    hour = _hour_heard_least(prediction)
    start = visits[-1].start or _ANY_DAY
    steps = []
    for step, days in (("another hour", 0), ("another day", 1)):
        later = start.replace(hour=hour, minute=0) + timedelta(days=days)
        further = [*visits, replace(visits[-1], start=later)]
        after = _half_width(
            predict(settings_db, further, conditions, extrapolate=extrapolate), limit_per_day
        )
        if after is not None:
            steps.append(Step(step, hour, now, after))
    steps.append(Step("two days of log", None, now, _after_log(prediction, now, limit_per_day)))
    return tuple(sorted(steps, key=lambda one: one.after_db))


def _half_width(prediction: Prediction, limit_per_day: float) -> float | None:
    found = prediction.level_for_limit(limit_per_day)
    if found is None or found.high_db is None or found.low_db is None:
        return None
    return (found.high_db - found.low_db) / 2


def _hour_heard_least(prediction: Prediction) -> int:
    """The active hour that lies farthest from those heard; by day if there is any, the first."""
    heard = prediction.exposure.hours_heard
    # without start times no hour is known as heard, and all are equally far
    hours = [] if heard is None else np.flatnonzero(heard).tolist()
    share = np.ones(HOURS) if prediction.active is None else prediction.active
    awake = [hour for hour in _VISITING_HOURS if share[hour] > 0]
    return max(
        awake or np.flatnonzero(share).tolist(),
        # around the clock: 23 h and 1 h are two apart; max keeps the first of equals
        key=lambda hour: min((min(abs(hour - h), 24 - abs(hour - h)) for h in hours), default=0),
    )


def _after_log(prediction: Prediction, now_db: float, limit_per_day: float) -> float:
    """Half width after two days' count at a setting that keeps the limit, and what is known now."""
    from scipy.special import stdtrit

    belief = prediction.exposure.belief
    # two days of one week, and ln of N counts, whose variance is about 1/N
    chance_db2 = 1 / (LOG_DAYS * limit_per_day + 0.5) / LEVEL_SLOPE_NP_PER_DB**2
    sd_db = math.sqrt(belief.day_db**2 / LOG_DAYS + belief.week_db**2 + chance_db2)
    log_db = float(stdtrit(belief.freedom, (1 + prediction.confidence) / 2)) * sd_db
    # two independent measurements of one level: precisions add
    return 1 / math.sqrt(1 / now_db**2 + 1 / log_db**2)
