"""Which keys does the JSON of every command share?

Plain dictionaries, ready for `json.dumps`. What is not known is null, never NaN; every quantity has
its unit in its key.
"""

from collections.abc import Iterable
from math import isfinite
from typing import Any

import numpy as np

from audiolevel.arrays import Array
from audiolevel.counting.rates import Prediction
from audiolevel.metering.calibration import Scale
from audiolevel.metering.statistics import Levels
from audiolevel.notices import Notice
from audiolevel.report.wording import notice_text
from audiolevel.triggers.trigger import Trigger

Object = dict[str, Any]
# of the rate, so that a log can be held against the whole of what was believed
RATE_SHARES = (0.005, 0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975, 0.995)


def number(value: float | None, digits: int = 2) -> float | None:
    """A number for JSON: rounded, null where there is none."""
    if value is None or not isfinite(value):
        return None
    return round(float(value), digits)


def significant(value: float | None) -> float | None:
    """A count for JSON, to four significant figures; null where there is none."""
    if value is None or not isfinite(value):
        return None
    return float(f"{value:.4g}")


def warnings_of(cautions: Iterable[Notice]) -> list[Object]:
    """Cautions as objects of code and text."""
    return [{"code": caution.code, "text": notice_text(caution)} for caution in cautions]


def levels_of(levels: Levels, scale: Scale) -> Object:
    """The levels of a recording, in the unit of the scale (sample peak always re full scale)."""

    def shown(level: float) -> float | None:
        return number(scale.shown(level))

    return {
        "laeq_db": shown(levels.laeq_db),
        "lceq_db": shown(levels.lceq_db),
        "lzeq_db": shown(levels.lzeq_db),
        "lafmax_db": shown(levels.lafmax_db),
        "lasmax_db": shown(levels.lasmax_db),
        "lafmin_db": shown(levels.lafmin_db),
        "lae_db": shown(levels.lae_db),
        "lcpeak_db": shown(levels.lcpeak_db),
        "sample_peak_dbfs": number(levels.sample_peak_db),
        "percentiles_db": {name: shown(level) for name, level in levels.percentiles_db.items()},
    }


def setting_of(trigger: Trigger, at: float) -> Object:
    """A trigger's settings under their names; `at` is its level or change as shown."""
    if trigger.mode == "threshold":
        own: Object = {"level_db": number(at)}
    else:
        own = {"change_db": number(at), "window_s": trigger.window_s}
    return {
        "mode": trigger.mode,
        **own,
        "hold_s": trigger.hold_s,
        "rearm_s": trigger.rearm_s,
        "release_db": trigger.release_db,
    }


def expected_of(prediction: Prediction, row: int) -> Object:
    """What is expected of one setting, with its limits."""
    return {
        "per_hour": significant(prediction.per_hour[row]),
        "per_hour_low": significant(prediction.per_hour_low[row]),
        "per_hour_high": significant(prediction.per_hour_high[row]),
        "per_day": significant(prediction.per_day[row]),
        "rate_low_per_day": significant(prediction.rate_low_per_day[row]),
        "rate_high_per_day": significant(prediction.rate_high_per_day[row]),
        "low_per_day": significant(prediction.low_per_day[row]),
        "high_per_day": significant(prediction.high_per_day[row]),
        "confidence": prediction.confidence,
        "method": str(prediction.method[row]),
        "by_hour": _hours(prediction.by_hour, row),
        "by_hour_low": _hours(prediction.by_hour_low, row),
        "by_hour_high": _hours(prediction.by_hour_high, row),
        "hours_not_heard": None
        if prediction.hours_heard is None
        else np.flatnonzero(prediction.hours_heard == 0).tolist(),
        "seen": int(prediction.count[row]),
        "rate_quantiles": {
            "shares": list(RATE_SHARES),
            "per_day": [significant(x) for x in prediction.rate_quantiles(row, RATE_SHARES)],
        },
    }


def _hours(by_hour: Array | None, row: int) -> list[float | None] | None:
    if by_hour is None or not np.isfinite(by_hour[row]).all():
        return None
    return [significant(one) for one in by_hour[row]]
