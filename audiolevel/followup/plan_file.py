"""A plan's JSON: what it expects at the setting it recommends, and the same JSON corrected.

The plan is read from its own JSON: the setting it recommended, the rate it expected, the curve of
counts against level, and how the firings spread over the hours. A corrected plan is the same JSON
with another setting and what is now known of it; it keeps the first plan's expectation and every
day counted since, so that following it up again starts from the same knowledge.

Conventions: levels in the plan's unit; a day is a day's active hours.

Entry points: `read_plan`, `expectation_of`, `Expectation`, `corrected`.
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

from audiolevel.arrays import Array, BoolArray
from audiolevel.counting import traffic as flows
from audiolevel.counting.day_counts import DayCount
from audiolevel.counting.schedule import Schedule, read_schedule
from audiolevel.errors import SettingError
from audiolevel.followup.bayes import SLOPE_NP_PER_DB, STRETCH_SD, PlanPrior, shape_of
from audiolevel.intervals import Interval

# Rises, falls and changes rarer than some hundred a day fall off more slowly, and less alike from
# site to site, than levels do.
CHANGE_NP_PER_DB = 0.2
CHANGE_STRETCH_SD = 0.5


@dataclass(frozen=True, eq=False)
class Expectation:
    """What a plan expects of the option it recommends.

    Attributes
    ----------
    plan : dict
        The plan's JSON.
    option : dict
        The option, as in the plan's JSON.
    set_db : float
        Its level or change.
    earlier : tuple of DayCount
        Days followed up before; `prior` is what the first plan expected before them.
    unit : str
        Of levels and changes: "dB SPL", "dB FS" or "dB of change".
    limit_per_day : float
        Firings a day that are allowed.
    confidence : float
        Of the plan's intervals.
    per_day : float
        Best estimate; nan where the plan gave only an upper limit.
    schedule : Schedule
        Active hours.
    zone : str
        Name of the camera's time zone; "" if the plan does not say.
    weight : array, shape (24,)
        Expected firings of an active second of each hour of the day, in days' worth.
    carried_over : array of bool, shape (24,)
        Hours that no recording covers.
    by_traffic : bool
        The weights come from the plan's hours; otherwise all active hours count alike.
    rearm_s : float
        Dead time after a firing.
    """

    plan: dict[str, Any]
    option: dict[str, Any]
    set_db: float
    earlier: tuple[DayCount, ...]
    unit: str
    limit_per_day: float
    confidence: float
    per_day: float
    prior: PlanPrior
    schedule: Schedule
    zone: str
    weight: Array
    carried_over: BoolArray
    by_traffic: bool
    rearm_s: float


def read_plan(path: str | os.PathLike[str]) -> Expectation:
    """What the plan of `audiolevel plan --json` expects of the option it recommends.

    Parameters
    ----------
    path : path

    Returns
    -------
    Expectation

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
        return expectation_of(plan)
    except SettingError as error:
        raise SettingError(f"{where}: {error}") from error
    except (AttributeError, KeyError, TypeError, StopIteration, ValueError, IndexError) as error:
        raise SettingError(
            f"{where}: is a plan of another version, without what a follow-up needs; plan again"
        ) from error


def expectation_of(plan: dict[str, Any]) -> Expectation:
    """What a plan's JSON, already read, expects of the option it recommends.

    Parameters
    ----------
    plan : dict
        As `audiolevel plan --json` writes it; it is not changed.

    Returns
    -------
    Expectation

    Raises
    ------
    SettingError
        The plan has no rate at any setting.
    KeyError, TypeError, StopIteration, ValueError, IndexError, AttributeError
        It is a plan of another version.
    """
    option = plan["recommended"]
    followed = plan.get("followed", {})
    first = followed.get("planned", option)
    expected = first["expected"]
    schedule = read_schedule(plan.get("schedule", {}).get("active", []))
    weight, by_traffic = _weight(expected["by_hour"], schedule)
    not_heard = np.zeros(flows.HOURS, dtype=bool)
    not_heard[expected.get("hours_not_heard") or []] = True
    return Expectation(
        plan=plan,
        option=option,
        set_db=setting_of(option),
        earlier=tuple(
            DayCount(float(at_db), int(count), float(exposure))
            for at_db, count, exposure in followed.get("days", [])
        ),
        unit=str(plan["reference"]) if option["mode"] == "threshold" else "dB of change",
        limit_per_day=float(plan["false_triggers_per_day_limit"]),
        confidence=float(expected["confidence"]),
        per_day=_or_nan(option["expected"]["per_day"]),
        prior=_prior(plan, first, setting_of(first)),
        schedule=schedule,
        zone=str(plan.get("schedule", {}).get("zone", "")),
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


def _prior(plan: dict[str, Any], option: dict[str, Any], at_db: float) -> PlanPrior:
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
    return PlanPrior(
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
    if by_hour is not None and sum(by_hour) > 0:
        share = np.asarray(by_hour, dtype=np.float64)
        per_active_hour = np.divide(share, active, out=np.zeros(flows.HOURS), where=active > 0)
    total_s = float(per_active_hour @ active) * flows.HOUR_S
    return per_active_hour / total_s, by_hour is not None


# --- the corrected plan --------------------------------------------------------------------------


def corrected(
    expectation: Expectation,
    set_db: float,
    rates_per_day: Sequence[float],
    day: Interval,
    level_for_limit: dict[str, float],
    days: Sequence[DayCount],
) -> dict[str, Any]:
    """The plan with another setting recommended, and what is known of it.

    Parameters
    ----------
    expectation : Expectation
        Of the plan before.
    set_db : float
        What is to be set now.
    rates_per_day : sequence of float
        Rate at that setting: best, low, high, in this order, then its quantiles at the shares of
        the plan.
    day : Interval
        Of one day's count there.
    level_for_limit : dict
        As in the plan's JSON.
    days : sequence of DayCount
        All days counted since the first plan.

    Returns
    -------
    dict
        JSON of a plan; `reason`, a sentence, is left empty.
    """
    plan = copy.deepcopy(expectation.plan)
    followed = plan.get("followed", {})
    first = followed.get("planned", plan["recommended"])
    plan["followed"] = {
        "planned": copy.deepcopy(first),
        "days": [[one.at_db, one.count, one.exposure] for one in days],
    }
    option = plan["recommended"]
    shown = _displayed(plan, option, set_db - setting_of(option))
    option["level_db" if option["mode"] == "threshold" else "change_db"] = set_db
    option["display_level"] = shown
    option["level_for_limit"] = level_for_limit
    # detection and storage were worked out for the setting before
    option["detection"], option["storage"] = [], None
    _expect(option["expected"], rates_per_day, day)
    plan["reason"] = ""
    plan["reliable"] = True
    return plan


def _expect(expected: dict[str, Any], rates: Sequence[float], day: Interval) -> None:
    before = expected["per_day"]
    best, low, high, *quantiles = (float(f"{rate:.4g}") for rate in rates)
    if expected.get("by_hour") is not None and before:
        scale = best / before
        for name in ("by_hour", "by_hour_low", "by_hour_high"):
            if expected.get(name) is not None:
                expected[name] = [float(f"{one * scale:.4g}") for one in expected[name]]
    expected["per_day"], expected["rate_low_per_day"], expected["rate_high_per_day"] = (
        best,
        low,
        high,
    )
    expected["low_per_day"], expected["high_per_day"] = day.low, day.high
    for name in ("per_hour", "per_hour_low", "per_hour_high"):
        expected[name] = None  # of the recording's hours, which the log has not asked about
    expected["method"] = "counted"
    expected["rate_quantiles"]["per_day"] = quantiles


def _displayed(plan: dict[str, Any], option: dict[str, Any], shift_db: float) -> float | None:
    """The camera's own scale at a level `shift_db` higher, by two options that show it."""
    shown = option.get("display_level")
    places = {
        (one["level_db"] + one["gain_db"], one["display_level"])
        for one in plan["options"]
        if one["mode"] == "threshold" and one.get("display_level") is not None
    }
    if shown is None or len({place for place, _ in places}) < 2:
        return None
    low, high = min(places), max(places)
    slope = (high[1] - low[1]) / (high[0] - low[0])
    return round(float(shown + slope * shift_db), 1)
