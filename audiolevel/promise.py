"""What did a plan promise, and how is the promise put right?

The plan is read from its own JSON: the setting it recommended, the rate it believed in, the curve of
counts against level, and how the firings spread over the hours. A corrected plan is the same JSON
with another setting and what is now believed of it; it keeps the first promise and every day counted
since, so that following it up again starts from the same knowledge.

Conventions: levels in the plan's unit; a day is a day's active hours.

Entry points: `read_plan`, `Promise`, `corrected`.
"""

import copy
import json
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audiolevel import traffic as flows
from audiolevel.belief import SLOPE_NP_PER_DB, STRETCH_SD, DayCount, Planned, shape_of
from audiolevel.errors import SettingError
from audiolevel.schedule import Schedule, read_schedule

Array = NDArray[np.float64]

# Rises, falls and changes rarer than some hundred a day fall off more slowly, and less alike from
# site to site, than levels do.
CHANGE_NP_PER_DB = 0.2
CHANGE_STRETCH_SD = 0.5


@dataclass(frozen=True, eq=False)
class Promise:
    """What a plan promised for one of its options.

    Attributes
    ----------
    option : dict
        The option, as in the plan's JSON.
    at_db : float
        Its level or change.
    per_day : float
        Best estimate; nan where the plan gave only an upper limit.
    weight : ndarray, shape (24,)
        Expected firings of an active second of each hour of the day, in days' worth.
    carried_over : ndarray of bool, shape (24,)
        Hours that nobody heard.
    by_traffic : bool
        The weights come from the plan's hours; otherwise all active hours count alike.
    """

    plan: dict[str, Any]
    option: dict[str, Any]
    at_db: float
    unit: str
    limit_per_day: float
    confidence: float
    per_day: float
    planned: Planned
    schedule: Schedule
    weight: Array
    carried_over: NDArray[np.bool_]
    by_traffic: bool
    rearm_s: float


def read_plan(path: str | os.PathLike[str]) -> Promise:
    """What the plan of `audiolevel plan --json` promised for the option it recommended.

    Raises
    ------
    SettingError
        If the file is no plan, or recommends nothing.
    """
    where = Path(path)
    try:
        plan = json.loads(where.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingError(f"{where}: cannot be read ({error.strerror}); check the name") from error
    except ValueError as error:
        raise SettingError(f"{where}: is not JSON; make it by audiolevel plan --json") from error
    if not isinstance(plan, dict) or "recommended" not in plan or "curves" not in plan:
        raise SettingError(f"{where}: is not a plan; make it by audiolevel plan --json")
    if plan["recommended"] is None:
        raise SettingError(f"{where}: recommends nothing, so there is nothing to compare")
    try:
        return _promise(plan, plan.get("followed", {}).get("planned", plan["recommended"]))
    except (KeyError, TypeError, StopIteration, ValueError) as error:
        if isinstance(error, SettingError):
            raise SettingError(f"{where}: {error}") from error
        raise SettingError(
            f"{where}: is a plan of another version, without what a follow-up needs; plan again"
        ) from error


def _promise(plan: dict[str, Any], option: dict[str, Any]) -> Promise:
    expected = option["expected"]
    at_db = setting_of(option)
    schedule = read_schedule(plan.get("schedule", {}).get("active", []))
    weight, by_traffic = _weight(expected["by_hour"], schedule)
    not_heard = np.zeros(flows.HOURS, dtype=bool)
    not_heard[expected.get("hours_not_heard") or []] = True
    return Promise(
        plan=plan,
        option=option,
        at_db=at_db,
        unit=str(plan["reference"]) if option["mode"] == "threshold" else "dB of change",
        limit_per_day=float(plan["false_triggers_per_day_limit"]),
        confidence=float(expected["confidence"]),
        per_day=_or_nan(expected["per_day"]),
        planned=_planned(plan, option, at_db),
        schedule=schedule,
        weight=weight,
        carried_over=not_heard,
        by_traffic=by_traffic,
        rearm_s=float(option["rearm_s"]),
    )


def setting_of(option: dict[str, Any]) -> float:
    """Level or change of an option."""
    return float(option["level_db" if option["mode"] == "threshold" else "change_db"])


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _planned(plan: dict[str, Any], option: dict[str, Any], at_db: float) -> Planned:
    curve = next(
        one
        for one in plan["curves"]
        if one["mode"] == option["mode"] and one["gain_db"] == option["gain_db"]
    )
    is_level = option["mode"] == "threshold"
    per_day = [_or_nan(one) for one in curve["per_day"]]
    slope = SLOPE_NP_PER_DB if is_level else CHANGE_NP_PER_DB
    shape = shape_of(curve["settings_db"], per_day, curve["seen"], slope)
    seen = int(option["expected"]["seen"])
    sd = STRETCH_SD if is_level else CHANGE_STRETCH_SD
    # the plan's own curve around a setting seen k times is sure to about 0.7/√k
    counted_sd = math.hypot(0.1, 0.7 / math.sqrt(seen)) if seen else sd
    quantiles = option["expected"]["rate_quantiles"]
    return Planned(
        at_db=at_db,
        shares=np.asarray(quantiles["shares"], dtype=np.float64),
        rates_per_day=np.asarray(quantiles["per_day"], dtype=np.float64),
        shape=shape,
        stretch_sd=min(sd, counted_sd),
    )


def _weight(by_hour: Sequence[float] | None, schedule: Schedule) -> tuple[Array, bool]:
    """Days' worth of an active second in each hour: the active seconds of a mean week give 7."""
    active = schedule.share_active_by_hour()
    per_active_hour = np.ones(flows.HOURS)
    if by_hour is not None:
        share = np.asarray(by_hour, dtype=np.float64)
        per_active_hour = np.divide(share, active, out=np.zeros(flows.HOURS), where=active > 0)
    total_s = float(per_active_hour @ active) * flows.HOUR_S
    return per_active_hour / total_s, by_hour is not None
