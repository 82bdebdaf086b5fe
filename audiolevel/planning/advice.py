"""What limits a prediction, and what would help most.

Entry points: `prediction_advice`, `narrowing_advice`.
"""

import math
from datetime import datetime

from audiolevel.counting.predicted import Prediction
from audiolevel.counting.schedule import HOURS
from audiolevel.counting.traffic import published
from audiolevel.ground.arrays import Array
from audiolevel.ground.notices import Notice, notice
from audiolevel.planning.narrowing import steps_that_narrow
from audiolevel.planning.option import Option
from audiolevel.planning.survey import Survey

_ANY_WEEKDAY = datetime(2024, 6, 4)
# nobody is sent out at three in the morning if any hour of the day is active
_VISITING_HOURS = range(7, 22)
JEFFREYS_NONE_SEEN = 2.51  # 97.5 % limit of a Poisson mean when none was seen
# a minute that strays into a block is not having listened to it
_LEAST_HEARD_S = 60.0
# blocks of the day that differ in what passes: busy day, evening peak, and the hours with less
# than two fifths of a mean hour's traffic; not the parts that noise is rated by
_BLOCKS = {
    "morning": range(7, 12),
    "afternoon": range(12, 16),
    "evening peak": range(16, 19),
    "night": (22, 23, 0, 1, 2, 3, 4),
}


def prediction_advice(
    prediction: Prediction,
    limit_per_day: float,
    *,
    shown: bool = False,
) -> list[Notice]:
    """What limits the prediction and what would help most, most important first.

    Parameters
    ----------
    prediction : Prediction
    limit_per_day : float
        The count that must not be exceeded; says how long to listen for it.
    shown : bool
        Whether counting alone shows already that the setting chosen keeps the limit.
    """
    share = prediction.conditions.active_or_all
    advice = []
    if prediction.exposure.hours_heard is None or prediction.by_hour is None:
        advice.append(notice("a day like the sample", hours=float(share.sum())))
    known = prediction.exposure
    if known.levels_apart_db is not None:
        sure_db = known.half_width_db(prediction.confidence)
        advice.append(notice("visits differ", apart_db=known.levels_apart_db, sure_db=sure_db))
    if prediction.unlike:
        # the active hours are among those heard, and the others only blur them
        cause = "heard too" if prediction.hours_not_heard == () else ""
        advice.append(notice("hours unlike", cause, hour=_hour_most_alike(prediction)))
    blocks = _blocks_not_heard(prediction, share)
    if blocks:
        advice.append(notice("hours not heard", blocks=";".join(blocks)))
    # long enough that hearing nothing at all would already keep the limit, spread included
    day_s = 3600 * float(share.sum())
    needed_s = JEFFREYS_NONE_SEEN * math.exp(prediction.spread) * day_s / limit_per_day
    if prediction.exposure.heard_s < needed_s and not shown:
        more_s = needed_s - prediction.exposure.heard_s
        advice.append(notice("listen longer", limit_per_day=limit_per_day, more_s=more_s))
    return advice


def _blocks_not_heard(prediction: Prediction, share: Array) -> list[str]:
    """Blocks of the day that the trigger is active in and nobody heard, `name from to`."""
    heard_s = prediction.exposure.hours_heard
    if heard_s is None:
        return []
    blocks = []
    for name, hours in _BLOCKS.items():
        active = [hour for hour in hours if share[hour] > 0]
        if active and heard_s[active].sum() < _LEAST_HEARD_S:
            # an hour lasts to the next one; the night wraps from 23 to 0
            blocks.append(f"{name} {active[0]} {(active[-1] + 1) % HOURS}")
    return blocks


def _hour_most_alike(prediction: Prediction) -> int:
    """The active hour whose usual traffic is nearest to the mean of the active ones; by day."""
    share = prediction.conditions.active_or_all
    # any weekday's: only which hour is usual is asked
    flow = published(_ANY_WEEKDAY)
    mean = float(flow @ share / share.sum())
    hours = [hour for hour in range(HOURS) if share[hour] > 0]
    return min(
        [h for h in hours if h in _VISITING_HOURS] or hours, key=lambda h: abs(flow[h] - mean)
    )


def narrowing_advice(survey: Survey, option: Option) -> list[Notice]:
    """The one step that would narrow the level for the limit most, and by how much.

    Parameters
    ----------
    survey : Survey
    option : Option
        The recommended one; only levels have a tail that another visit narrows.
    """
    curve = option.curve
    # changes have no tail to move, and without visits there is nothing to repeat
    if option.trigger.mode != "threshold" or not curve.visits:
        return []
    steps = steps_that_narrow(
        curve.prediction.settings_db,
        curve.visits,
        survey.site.limits.false_triggers_per_day,
        survey.conditions,
        extrapolate=option.trigger.extrapolates,
    )
    if not steps or steps[0].after_db >= steps[0].now_db:
        return []
    best = steps[0]
    facts = {"now_db": best.now_db, "after_db": best.after_db}
    return [notice("narrows most", best.step, hour=best.hour, **facts)]
