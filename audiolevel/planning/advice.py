"""What does a prediction mean in words, and what would make it better?

Entry points: `explain` (one setting), `advice` (the whole prediction).
"""

import math

import numpy as np

from audiolevel.counting.rates import Prediction

JEFFREYS_NONE_SEEN = 2.51  # 97.5 % limit of a Poisson mean when none was seen


def explain(prediction: Prediction, row: int) -> str:
    """One sentence on the setting of that row: how often, how sure, and on what grounds."""
    high = _number(float(prediction.rate_high_per_day[row]))
    heard = _minutes(prediction.heard_s)
    method = str(prediction.method[row])
    if method == "upper limit":
        kind = "so loud" if prediction.reach_db is not None else "so sudden"
        return f"fewer than {high} a day: nothing {kind} in {heard}"
    rate = f"{_number(float(prediction.per_day[row]))} a day"
    low = _number(float(prediction.rate_low_per_day[row]))
    one_low, one_high = prediction.low_per_day[row], prediction.high_per_day[row]
    days = f"rate {low} to {high}, a single day {one_low:.0f} to {one_high:.0f}"
    if method == "counted":
        return f"about {rate} ({days}): {prediction.count[row]} in {heard}"
    if prediction.count[row]:
        return f"about {rate} ({days}): only {prediction.count[row]} in {heard}, so extrapolated"
    return f"perhaps {rate} ({days}): louder than anything heard in {heard}, so extrapolated"


def advice(prediction: Prediction, limit_per_day: float | None = None) -> list[str]:
    """What limits the prediction and what would help most, most important first.

    Parameters
    ----------
    prediction : Prediction
    limit_per_day : float, optional
        The count that must not be exceeded; says how long to listen for it.
    """
    hints = []
    if prediction.hours_heard is None or prediction.by_hour is None:
        hints.append(
            "a day is taken as 24 hours like the sample's: a sample from a busy hour overstates "
            "the day, one from a quiet hour understates it"
        )
    if prediction.days_heard < 3:
        hints.append(
            "three to five visits of ten minutes on different days and hours beat one long one"
        )
    hours = _hours_to_hear(prediction)
    if hours:
        hints.append(f"not heard yet, and worth a visit: {hours}")
    if limit_per_day is not None:
        needed_s = JEFFREYS_NONE_SEEN * math.exp(prediction.spread) * 86400 / limit_per_day
        if prediction.heard_s < needed_s:
            more = _minutes(needed_s - prediction.heard_s)
            hints.append(
                f"to show by counting alone that a setting keeps {limit_per_day:g} a day, listen "
                f"{more} more"
            )
    return hints


def _hours_to_hear(prediction: Prediction) -> str:
    """Blocks of the day without a minute heard: busy day, evening peak, night."""
    if prediction.hours_heard is None:
        return ""
    blocks = {
        "the morning (7 to 12 h)": range(7, 12),
        "the afternoon (12 to 16 h)": range(12, 16),
        "the evening peak (16 to 19 h)": range(16, 19),
        "the night (22 to 5 h)": [22, 23, 0, 1, 2, 3, 4],
    }
    quiet = [name for name, hours in blocks.items() if prediction.hours_heard[hours].sum() < 60]
    return ", ".join(quiet)


def _minutes(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    if seconds < 3 * 3600:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.0f} h"


def _number(value: float) -> str:
    """Two significant figures: more would claim too much."""
    if value < 0.05:
        return "0"
    digits = 1 - math.floor(math.log10(value))
    return f"{np.round(value, digits):,.{max(digits, 0)}f}"
