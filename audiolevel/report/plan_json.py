"""Which keys does the JSON of a plan have?

Entry point: `planned`.
"""

from math import inf

from audiolevel import __version__
from audiolevel.counting.day_parts import ByPart
from audiolevel.counting.rates import LevelForLimit
from audiolevel.counting.schedule import read_schedule
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import GainMargins
from audiolevel.planning import storage
from audiolevel.planning.choice import Option
from audiolevel.planning.curves import DetectionCurve
from audiolevel.planning.plan import Plan
from audiolevel.report.json_objects import (
    Object,
    expected_of,
    levels_of,
    number,
    setting_of,
    significant,
    warnings_of,
)
from audiolevel.site import Site


def planned(plan: Plan) -> Object:
    """The object of `plan`."""
    recommended = plan.recommended
    return {
        "audiolevel": __version__,
        "reference": plan.scale.unit,
        "heard_s": number(plan.heard_s, 3),
        "false_triggers_per_day_limit": plan.limit_per_day,
        "recommended": None if recommended is None else option_of(recommended, plan),
        "reason": plan.reason,
        "other_side": None if recommended is None else _other_side(recommended, plan.scale),
        "runners_up": [option_of(option, plan) for option in plan.by_mode[1:]],
        "options": [option_of(option, plan) for option in plan.options],
        "gains": [
            _room(room, setting, [wanted.name for wanted in plan.lost_to_clipping(room)])
            for room, setting in zip(plan.rooms, plan.settings, strict=True)
        ],
        "levels": levels_of(plan.levels, plan.scale),
        "ceiling_dbfs": number(plan.ceiling_db),
        "curves": [curve_of(option, plan.scale) for option in plan.options],
        "schedule": _schedule(plan.survey.site),
        "reliable": plan.reliable,
        "warnings": warnings_of(plan.warnings),
        "advice": list(plan.advice),
    }


def _schedule(site: Site) -> Object:
    active = read_schedule(site.schedule.active)
    return {
        "active": list(site.schedule.active),
        "zone": site.schedule.zone,
        "hours_active_per_day": number(active.hours_active_per_day, 4),
    }


def option_of(option: Option, plan: Plan) -> Object:
    """One option, its level in the unit of the plan's scale."""
    scale, site = plan.scale, plan.survey.site
    trigger, gain_db = option.trigger, option.gain_db
    threshold = trigger.mode == "threshold"
    at = scale.shown(trigger.at_db, gain_db) if threshold else trigger.at_db
    return {
        "gain_db": number(gain_db),
        "gain_setting": option.gain_setting,
        **setting_of(trigger, at),
        "display_level": number(option.display_level, 1),
        "basis": option.basis,
        "expected": expected_of(option.curve.prediction, option.row),
        "level_for_limit": _level_for_limit(
            option.curve.limit, scale.shown(0.0, gain_db) if threshold else 0.0
        ),
        "margin_db": number(option.margin_db),
        "detection": [_caught(catch, option.row) for catch in option.curve.catches],
        "by_part": _by_part(option.curve.by_part, scale.shown(0.0, gain_db) if threshold else 0.0),
        "storage": _held(storage.of_setting(site, option.curve.prediction, option.row)),
    }


def _by_part(by_part: ByPart | None, shift_db: float) -> Object | None:
    """Settings by day, evening and night, where the recordings cover two of them."""
    if by_part is None:
        return None
    return {
        "pays": by_part.pays,
        "all_day_db": number(by_part.common_db + shift_db),
        "parts": [
            {
                "part": one.part,
                "limit_per_day": significant(one.limit_per_day),
                "best_db": number(one.best_db + shift_db),
                "low_db": number(one.low_db + shift_db),
                "high_db": number(one.high_db + shift_db),
                "gain_db": number(one.gain_db),
                "per_day_at_all_day_db": significant(one.per_day_at_common),
            }
            for one in by_part.parts
        ],
    }


def _held(kept: storage.CardLife | None) -> Object | None:
    if kept is None:
        return None
    return {
        "days_kept": significant(kept.days_kept),
        "low_days": significant(kept.low_days),
        "high_days": significant(kept.high_days),
        "recorded_share": significant(kept.recorded_share),
        "never_fills": kept.days_kept == inf,
        "dominated_by_other": kept.dominated_by_other,
    }


def _other_side(option: Option, scale: Scale) -> Object | None:
    """Where the limits cannot both be met: the setting that catches enough, and what it costs."""
    row = option.other_side_row
    if row is None:
        return None
    at = float(option.curve.prediction.settings_db[row])
    if option.trigger.mode == "threshold":
        at = scale.shown(at, option.gain_db)
    return {
        **setting_of(option.trigger, at),
        "expected": expected_of(option.curve.prediction, row),
        "detection": [_caught(catch, row) for catch in option.curve.catches],
    }


def _caught(catch: DetectionCurve, row: int) -> Object:
    return {
        "sound": catch.sound,
        "distance_m": catch.distance_m,
        "in_recording": catch.distance_m is None,
        "probability": number(catch.probability[row], 4),
        "low": number(catch.low[row], 4),
        "high": number(catch.high[row], 4),
    }


def _level_for_limit(limit: LevelForLimit | None, shift_db: float) -> Object | None:
    if limit is None:
        return None
    values = {
        "best_db": limit.best_db,
        "safe_db": limit.safe_db,
        "low_db": limit.low_db,
        "high_db": limit.high_db,
    }
    return {
        name: None if value is None else number(value + shift_db) for name, value in values.items()
    }


def curve_of(option: Option, scale: Scale) -> Object:
    """Counts against level for the mode and gain of an option: what a follow-up needs."""
    prediction = option.curve.prediction
    threshold = option.trigger.mode == "threshold"
    shift = scale.shown(0.0, option.gain_db) if threshold else 0.0
    return {
        "gain_db": number(option.gain_db),
        "mode": option.trigger.mode,
        "settings_db": [number(x + shift) for x in prediction.settings_db],
        "seen": prediction.count.tolist(),
        "per_day": [significant(x) for x in prediction.per_day],
        "rate_low_per_day": [significant(x) for x in prediction.rate_low_per_day],
        "rate_high_per_day": [significant(x) for x in prediction.rate_high_per_day],
        "method": [str(x) for x in prediction.method],
    }


def _room(room: GainMargins, setting: float | None, lost: list[str]) -> Object:
    return {
        "gain_db": number(room.gain_db),
        "gain_setting": setting,
        "clipped_share": significant(room.clipped_share),
        "headroom_db": number(room.headroom_db),
        "headroom_l10_db": number(room.headroom_l10_db),
        "footroom_db": number(room.footroom_db),
        "usable": room.usable,
        "estimated": room.estimated,
        "wanted_clipped": lost,
    }
