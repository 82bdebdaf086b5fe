"""What limits a prediction, and what would help most.

Entry point: `prediction_advice`.
"""

import math

from audiolevel.counting.rates import Prediction
from audiolevel.notices import Notice, notice

JEFFREYS_NONE_SEEN = 2.51  # 97.5 % limit of a Poisson mean when none was seen
ENOUGH_DAYS = 3
_LEAST_HEARD_S = 60.0
# blocks of the day that differ in what passes: busy day, evening peak, night
_BLOCKS = {
    "morning": range(7, 12),
    "afternoon": range(12, 16),
    "evening peak": range(16, 19),
    "night": (22, 23, 0, 1, 2, 3, 4),
}


def prediction_advice(prediction: Prediction, limit_per_day: float) -> list[Notice]:
    """What limits the prediction and what would help most, most important first.

    Parameters
    ----------
    prediction : Prediction
    limit_per_day : float
        The count that must not be exceeded; says how long to listen for it.
    """
    advice = []
    if prediction.hours_heard is None or prediction.by_hour is None:
        advice.append(notice("a day like the sample"))
    if prediction.days_heard < ENOUGH_DAYS:
        advice.append(notice("more visits"))
    blocks = _blocks_not_heard(prediction)
    if blocks:
        advice.append(notice("hours not heard", blocks=";".join(blocks)))
    needed_s = JEFFREYS_NONE_SEEN * math.exp(prediction.spread) * 86400 / limit_per_day
    if prediction.heard_s < needed_s:
        more_s = needed_s - prediction.heard_s
        advice.append(notice("listen longer", limit_per_day=limit_per_day, more_s=more_s))
    return advice


def _blocks_not_heard(prediction: Prediction) -> list[str]:
    heard_s = prediction.hours_heard
    if heard_s is None:
        return []
    return [name for name, hours in _BLOCKS.items() if heard_s[list(hours)].sum() < _LEAST_HEARD_S]
