"""A plan whose true curve is known, and logs made by hand or at random."""

import math
from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from audiolevel.followup.event_log import Log
from audiolevel.planning.plan_record import (
    SCHEMA,
    CurveRecord,
    ExpectedRecord,
    LevelsRecord,
    OptionRecord,
    PlanRecord,
    QuantilesRecord,
    ScheduleRecord,
)

MONDAY = datetime(2024, 6, 3, tzinfo=UTC).timestamp()


SHARES = [0.005, 0.025, 0.1, 0.25, 0.5, 0.75, 0.9, 0.975, 0.995]


SCORES = [-2.576, -1.96, -1.2816, -0.6745, 0.0, 0.6745, 1.2816, 1.96, 2.576]


ACTIVE = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]


def plan_of(
    rate: float = 40.0,
    sd: float = 0.3,
    limit: float = 40.0,
    by_hour: Any = None,
    active: Sequence[str] = (),
    catching_db: float | None = None,
    **expected: Any,
) -> PlanRecord:
    """A plan whose true curve falls by 0.42 neper a decibel, set at 75 dB for `rate` a day."""
    levels = np.arange(60.0, 90.0)
    per_day = rate * np.exp(-0.42 * (levels - 75.0))
    of_setting: dict[str, Any] = {
        "per_hour": rate / 24,
        "per_hour_low": None,
        "per_hour_high": None,
        "per_day": rate,
        "rate_low_per_day": rate * math.exp(-1.96 * sd),
        "rate_high_per_day": rate * math.exp(1.96 * sd),
        "low_per_day": 15.0,
        "high_per_day": 90.0,
        "confidence": 0.95,
        "method": "counted",
        "by_hour": by_hour,
        "by_hour_low": None,
        "by_hour_high": None,
        "hours_not_heard": (0, 1, 2, 3),
        "seen": 30,
        "rate_quantiles": QuantilesRecord(
            shares=tuple(SHARES),
            per_day=tuple(rate * math.exp(sd * score) for score in SCORES),
        ),
    }
    option = OptionRecord(
        gain_db=0.0,
        gain_setting=2.0,
        mode="threshold",
        level_db=75.0,
        hold_s=0.0,
        rearm_s=10.0,
        release_db=2.0,
        display_level=50.0,
        display_uncertainty=1.0,
        basis="best",
        expected=ExpectedRecord(**{**of_setting, **expected}),
        level_for_limit=None,
        catching_db=catching_db,
        caught="surely",
        margin_db=None,
        detection=(),
        storage=None,
    )
    louder = replace(option, gain_db=12.0, display_level=62.0)
    low, high = per_day * math.exp(-1.96 * sd), per_day * math.exp(1.96 * sd)
    curve = CurveRecord(
        gain_db=0.0,
        mode="threshold",
        settings_db=tuple(levels.tolist()),
        seen=tuple(np.round(per_day).astype(int).tolist()),
        per_day=tuple(per_day.tolist()),
        rate_low_per_day=tuple(low.tolist()),
        rate_high_per_day=tuple(high.tolist()),
        low_per_day=tuple(low.tolist()),
        high_per_day=tuple(high.tolist()),
        method=("counted",) * len(levels),
        display_levels=tuple((levels - 25.0).tolist()),
        # a scale is less well known the farther it is from where it was read
        display_uncertainties=tuple((1.0 + 0.1 * abs(levels - 75.0)).tolist()),
    )
    silent: dict[str, Any] = dict.fromkeys(one.name for one in fields(LevelsRecord))
    return PlanRecord(
        audiolevel="0",
        schema=SCHEMA,
        reference="dB SPL",
        heard_s=1200.0,
        false_triggers_per_day_limit=limit,
        recommended=option,
        reason="",
        case="both",
        alternatives=(),
        runners_up=(),
        options=(option, louder),
        gains=(),
        levels=LevelsRecord(**{**silent, "percentiles_db": {}}),
        bandwidth_hz=8000.0,
        gain_control="not tested",
        evidence=(),
        ceiling_dbfs=0.0,
        curves=(curve,),
        schedule=ScheduleRecord(
            active=tuple(active), zone="", hours_active_per_day=None, days_active_per_week=None
        ),
        reliable=True,
        warnings=(),
        advice=(),
    )


def log_of(times_s: Any, days: float = 7.0, **changes: Any) -> Any:
    log = Log(
        name="log.csv",
        fired_s=MONDAY + np.sort(np.asarray(times_s, dtype=float)),
        other_s=np.empty(0),
        covered=((MONDAY, MONDAY + days * 86400),),
        zone=UTC,
        own_span=False,
        kinds_known=True,
        recorded_s=math.nan,
        notices=(),
    )
    return replace(log, **changes)


def spread_over(count: Any, days: float = 7.0, seed: int = 1) -> Any:
    """Firings at random, none within the re-arm time of another."""
    rng = np.random.default_rng(seed)
    return rng.choice(int(days * 8640), count, replace=False) * 10.0
