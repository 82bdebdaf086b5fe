"""A plan's JSON: what it expects at the setting it recommends, and the same JSON corrected.

The plan is read from its own JSON: the setting it recommended, the rate it expected, the curve of
counts against level, and how the firings spread over the hours. A corrected plan is the same JSON
with another setting and what is now known of it; it keeps the first plan's expectation and every
day counted since, so that following it up again starts from the same knowledge.

Conventions: levels in the plan's unit; a day is a day's active hours.

Entry points: `read_plan`, `expectation_of`, `Expectation`, `corrected`.
"""

import json
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np

from audiolevel.counting import traffic as flows
from audiolevel.counting.belief import (
    CHANGE_SLOPE_NP_PER_DB,
    LEVEL_SLOPE_NP_PER_DB,
    WET_DB,
    WET_SHARE,
)
from audiolevel.counting.day_counts import DayCount
from audiolevel.counting.schedule import Schedule, read_schedule
from audiolevel.followup.bayes import STRETCH_SD, PlanPrior
from audiolevel.followup.plan_checks import check_plan
from audiolevel.followup.shapes import shapes_of
from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.ground.errors import SettingError
from audiolevel.ground.intervals import Interval
from audiolevel.ground.texts import read_text
from audiolevel.planning.plan_record import (
    CurveRecord,
    ExpectedRecord,
    FollowedRecord,
    Hours,
    LimitRecord,
    OptionRecord,
    PlanRecord,
    plan_of_object,
)

# Rises, falls and changes rarer than some hundred a day fall off less alike from site to site than
# levels do.
CHANGE_STRETCH_SD = 0.5


@dataclass(frozen=True, eq=False)
class Expectation:
    """What a plan expects of the option it recommends.

    Attributes
    ----------
    plan : PlanRecord
    option : OptionRecord
        The one it recommends.
    curve : CurveRecord
        Counts against the setting, of the option's mode and gain.
    set_db : float
        Its level or change.
    earlier : tuple of DayCount
        Days followed up before; `prior` is what the first plan expected before them.
    counted_s : tuple of (float, float)
        Times that they cover, seconds since 1970 (UTC), as far as the plan says.
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
    weather : (float, float)
        How often a wet road makes the site louder, and by how much in dB.
    """

    plan: PlanRecord
    option: OptionRecord
    curve: CurveRecord
    set_db: float
    earlier: tuple[DayCount, ...]
    counted_s: tuple[tuple[float, float], ...]
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
    weather: tuple[float, float]

    def most_in(self, active_s: float) -> float:
        """Firings that so many seconds can hold at most: one each re-arm time."""
        return math.floor(active_s / self.rearm_s) + 1 if self.rearm_s > 0 else math.inf


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
    read = read_record(path)
    try:
        return expectation_of(read)
    except SettingError as error:
        raise SettingError(f"{Path(path)}: {error}") from error


def read_record(path: str | os.PathLike[str]) -> PlanRecord:
    """The records of a plan's file.

    Parameters
    ----------
    path : path

    Raises
    ------
    SettingError
        If the file is no plan.
    """
    where = Path(path)
    text = read_text(where)
    try:
        plan = json.loads(text, parse_constant=_no_number)
    # nested deeper than anything a plan holds
    except (ValueError, RecursionError) as error:
        raise SettingError(f"{where}: is not JSON; make it by audiolevel plan --json") from error
    try:
        read = plan_of_object(plan)
        check_plan(read)
    except SettingError as error:
        raise SettingError(f"{where}: {error}") from error
    return read


def _no_number(text: str) -> float:
    """NaN and Infinity, which Python reads and JSON does not know."""
    raise ValueError(f"{text} is no number")


def expectation_of(plan: PlanRecord) -> Expectation:
    """What a plan expects of the option it recommends.

    Parameters
    ----------
    plan : PlanRecord

    Returns
    -------
    Expectation

    Raises
    ------
    SettingError
        It recommends nothing, or has no rate at any setting.
    """
    option = plan.recommended
    if option is None:
        raise SettingError("recommends nothing, so there is nothing to compare")
    # of a corrected plan the first one, or its days would be counted twice
    first = option if plan.followed is None else plan.followed.planned
    days = () if plan.followed is None else plan.followed.day_counts
    schedule = read_schedule(plan.schedule.active)
    weight, by_traffic = _weight(first.expected.by_hour, schedule)
    # none listed: all hours heard, or hours not known
    not_heard = np.zeros(flows.HOURS, dtype=bool)
    not_heard[list(first.expected.hours_not_heard or ())] = True
    # of the mode and gain that are set; another gain's levels mean other sounds
    curve = _curve_of(plan, option)
    return Expectation(
        plan=plan,
        option=option,
        curve=curve,
        set_db=option.setting_db,
        earlier=days,
        counted_s=() if plan.followed is None else plan.followed.counted_s or (),
        unit=plan.reference if option.mode == "threshold" else "dB of change",
        limit_per_day=plan.false_triggers_per_day_limit,
        confidence=first.expected.confidence,
        per_day=_or_nan(option.expected.per_day),
        prior=_prior(curve, first),
        schedule=schedule,
        zone=plan.schedule.zone,
        weight=weight,
        carried_over=not_heard,
        by_traffic=by_traffic,
        rearm_s=option.rearm_s,
        weather=_weather(plan),
    )


def _weather(plan: PlanRecord) -> tuple[float, float]:
    """Of the plan; what is usual where it does not say."""
    if plan.weather is None:
        return WET_SHARE, WET_DB
    return plan.weather.wet_share, plan.weather.wet_db


def _curve_of(plan: PlanRecord, option: OptionRecord) -> CurveRecord:
    for curve in plan.curves:
        # gains are compared as the plan wrote them, to the same two digits
        if curve.mode == option.mode and curve.gain_db == option.gain_db:
            return curve
    raise SettingError("curves: none is of the recommended mode and gain; plan again")


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else float(value)


def _prior(curve: CurveRecord, option: OptionRecord) -> PlanPrior:
    is_level = option.mode == "threshold"
    slope = LEVEL_SLOPE_NP_PER_DB if is_level else CHANGE_SLOPE_NP_PER_DB
    best, low, high = (
        [_or_nan(one) for one in of]
        for of in (curve.per_day, curve.rate_low_per_day, curve.rate_high_per_day)
    )
    end_score = NormalDist().inv_cdf((1 + option.expected.confidence) / 2)
    seen = option.expected.seen
    sd = STRETCH_SD if is_level else CHANGE_STRETCH_SD
    # the plan's own curve around a setting seen k times is sure to about 0.7/√k
    # 0.1 is left however many were seen, as the site may differ from its sample
    counted_sd = math.hypot(0.1, 0.7 / math.sqrt(seen)) if seen else sd
    quantiles = option.expected.rate_quantiles
    return PlanPrior(
        at_db=option.setting_db,
        shares=np.asarray(quantiles.shares, dtype=np.float64),
        rates_per_day=np.array([_or_nan(rate) for rate in quantiles.per_day]),
        shapes=shapes_of(curve.settings_db, best, (low, high), end_score, slope),
        # never less sure than before any plan
        stretch_sd=min(sd, counted_sd),
    )


def _weight(by_hour: Hours | None, schedule: Schedule) -> tuple[Array, bool]:
    """Days' worth of an active second in each hour: the active seconds of a mean day give 1."""
    active = schedule.share_active_by_hour()
    per_active_hour = np.ones(flows.HOURS)
    if by_hour is not None and sum(rate or 0.0 for rate in by_hour) > 0:
        # firings of an hour over its active part: what one whole active hour would have
        share = np.asarray(by_hour, dtype=np.float64)
        # hours never active have no weight, and must not divide by zero
        per_active_hour = np.divide(share, active, out=np.zeros(flows.HOURS), where=active > 0)
    # seconds times the weights, so that a mean day's active seconds are worth one day
    total_s = float(per_active_hour @ active) * flows.HOUR_S
    return per_active_hour / total_s, by_hour is not None


# --- the corrected plan --------------------------------------------------------------------------


def corrected(
    expectation: Expectation,
    set_db: float,
    shown: tuple[float, float] | None,
    rates_per_day: Sequence[float],
    day: Interval,
    level_for_limit: LimitRecord,
    days: Sequence[DayCount],
    counted_s: Sequence[tuple[float, float]],
) -> PlanRecord:
    """The plan with the setting of now recommended, and what is known of it.

    Parameters
    ----------
    expectation : Expectation
        Of the plan before.
    set_db : float
        What is to be set now.
    shown : (float, float) or None
        That on the camera's own scale, with its uncertainty.
    rates_per_day : sequence of float
        Rate at that setting: best, low, high, in this order, then its quantiles at the shares of
        the plan.
    day : Interval
        Of one day's count there.
    level_for_limit : LimitRecord
    days : sequence of DayCount
        All days counted since the first plan.
    counted_s : sequence of (float, float)
        The times that their logs cover, seconds since 1970 (UTC).

    Returns
    -------
    PlanRecord
        Its `reason`, a sentence, is left empty.
    """
    plan, option = expectation.plan, expectation.option
    first = option if plan.followed is None else plan.followed.planned
    # the field of the other kind stays empty
    changes: dict[str, Any] = {"level_db" if option.mode == "threshold" else "change_db": set_db}
    if set_db != option.setting_db:
        # detection and storage were worked out for the setting before
        changes |= {"detection": (), "storage": None, "margin_db": None}
        changes["display_level"], changes["display_uncertainty"] = shown or (None, None)
    recommended = replace(
        option,
        **changes,
        basis=_basis(set_db, level_for_limit),
        level_for_limit=level_for_limit,
        expected=_expected(option.expected, rates_per_day, day),
    )
    return replace(
        plan,
        recommended=recommended,
        reason="",
        reliable=True,
        followed=FollowedRecord(
            planned=first,
            days=tuple((one.at_db, one.count, one.exposure) for one in days),
            # told only if somebody said what the weather was
            louder_db=tuple(one.louder_db for one in days)
            if any(one.louder_db for one in days)
            else None,
            counted_s=tuple(counted_s),
        ),
    )


def _basis(set_db: float, limit: LimitRecord) -> str:
    """How a setting keeps the limit, in the words of a plan."""
    if limit.safe_db is not None and set_db >= limit.safe_db:
        return "safe"
    return "best" if limit.best_db is not None and set_db >= limit.best_db else "none"


def _expected(before: ExpectedRecord, rates: Sequence[float], day: Interval) -> ExpectedRecord:
    # four figures, as the plan's own JSON has
    best, low, high, *quantiles = (float(f"{rate:.4g}") for rate in rates)
    # the log says how many, the plan's traffic still says when
    scale = best / before.per_day if before.per_day else 1.0

    def scaled(hours: Hours | None) -> Hours | None:
        if hours is None:
            return None
        return tuple(None if rate is None else float(f"{rate * scale:.4g}") for rate in hours)

    return replace(
        before,
        # of the recording's hours, which the log has not asked about
        per_hour=None,
        per_hour_low=None,
        per_hour_high=None,
        per_day=best,
        rate_low_per_day=low,
        rate_high_per_day=high,
        low_per_day=day.low,
        high_per_day=day.high,
        method="counted",
        by_hour=scaled(before.by_hour),
        by_hour_low=scaled(before.by_hour_low),
        by_hour_high=scaled(before.by_hour_high),
        rate_quantiles=replace(before.rate_quantiles, per_day=tuple(quantiles)),
    )
