"""Which keys does the JSON of each command have?

Plain dictionaries, ready for `json.dumps`. What is not known is null, never NaN; every quantity has
its unit in its key.
"""

from collections.abc import Iterable, Sequence
from math import inf, isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audiolevel import __version__, storage
from audiolevel.calibration import Calibration, DisplayLine, Scale
from audiolevel.catalogue import Sound
from audiolevel.cautions import Caution
from audiolevel.choosing import Option
from audiolevel.counting import LevelForLimit, Prediction
from audiolevel.curves import Catch
from audiolevel.dayparts import ByPart
from audiolevel.gain import Room
from audiolevel.listening import Heard
from audiolevel.onsets import Onsets
from audiolevel.planning import Plan
from audiolevel.schedule import read_schedule
from audiolevel.site import Site
from audiolevel.summary import Levels
from audiolevel.trials import Trial
from audiolevel.triggers import Trigger

Object = dict[str, Any]
Array = NDArray[np.float64]

ONSETS_LISTED_FROM_DB = 3.0
ONSET_STEPS_DB = (6, 10, 15, 20)
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


def warnings_of(cautions: Iterable[Caution]) -> list[Object]:
    """Cautions as objects of code and text."""
    return [{"code": caution.code, "text": caution.text} for caution in cautions]


# --- measure -------------------------------------------------------------------------------------


def measured(heard: Sequence[tuple[Heard, list[Caution]]], scale: Scale) -> Object:
    """The object of `measure`: one entry a recording."""
    return {
        "audiolevel": __version__,
        "recordings": [recording(one, cautions, scale) for one, cautions in heard],
    }


def recording(heard: Heard, cautions: list[Caution], scale: Scale) -> Object:
    """One recording as `measure` tells it."""
    clipping = heard.levels.clipping
    big = heard.onsets.of_at_least(ONSETS_LISTED_FROM_DB)
    return {
        "path": str(heard.path),
        "start": heard.start.isoformat() if heard.start else None,
        "duration_s": number(heard.duration_s, 3),
        "sample_rate_hz": heard.sample_rate_hz,
        "channels": heard.channels,
        "reference": scale.unit,
        **levels_of(heard.levels, scale),
        "clipping": {
            "clipped_share": significant(clipping.clipped_share),
            "longest_run_s": number(clipping.longest_run_s),
            "verdict": clipping.verdict,
        },
        "onset_count": len(heard.onsets),
        "onsets": _onsets(big),
        "onsets_per_hour": onset_rates(heard.onsets, heard.duration_s),
        "rises_within_1_s_per_hour": {
            f"{step} dB": number(3600 * seen / heard.duration_s)
            for step, seen in heard.rises.items()
        },
        "channel_levels": [levels_of(levels, scale) for levels in heard.channel_levels],
        "channel_faults": [{"channel": n, "fault": fault} for n, fault in heard.channel_faults],
        "warnings": [caution.code for caution in cautions],
        "warning_texts": {caution.code: caution.text for caution in cautions},
    }


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


def _onsets(onsets: Onsets) -> list[Object]:
    columns = (
        onsets.start_s,
        onsets.end_s,
        onsets.level_difference_db,
        onsets.onset_rate_db_per_s,
        onsets.prominence,
    )
    return [
        {
            "start_s": number(start),
            "end_s": number(end),
            "level_difference_db": number(difference),
            "onset_rate_db_per_s": number(rate),
            "prominence": number(p, 3),
        }
        for start, end, difference, rate, p in zip(*(c.tolist() for c in columns), strict=True)
    ]


def onset_rates(onsets: Onsets, duration_s: float) -> Object:
    """Onsets an hour by the step they make and by how fast they make it, and the largest."""
    hours = duration_s / 3600
    difference, rate = onsets.level_difference_db, onsets.onset_rate_db_per_s
    return {
        "by_step": {
            f"{step} dB": number(np.count_nonzero(difference >= step) / hours)
            for step in ONSET_STEPS_DB
        },
        "by_rate": {
            f"{least} dB/s": number(np.count_nonzero((rate >= least) & (difference >= 3)) / hours)
            for least in (10, 20, 50, 100, 200)
        },
        "largest_db": number(float(difference.max())) if len(onsets) else None,
    }


# --- trial ---------------------------------------------------------------------------------------


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


def tried(trial: Trial, scale: Scale) -> Object:
    """One trial, with each of its firings."""
    gain_db, trigger = trial.sound.gain_db, trial.trigger
    threshold = trigger.mode == "threshold"
    at = scale.shown(trigger.at_db, gain_db) if threshold else trigger.at_db
    return {
        "path": str(trial.heard.path),
        "gain_db": gain_db,
        **setting_of(trigger, at),
        "reference": scale.unit,
        "clipped_share": significant(trial.sound.clipped_share),
        "count": len(trial.fired),
        "duration_s": number(trial.heard.duration_s, 3),
        "expected": expected_of(trial.prediction, 0),
        "triggers": [
            {"time_s": number(time), "level_db": number(scale.shown(level, gain_db))}
            for time, level in trial.fired
        ],
    }


# --- plan ----------------------------------------------------------------------------------------


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


def _held(kept: storage.Kept | None) -> Object | None:
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


def _caught(catch: Catch, row: int) -> Object:
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


def _room(room: Room, setting: float | None, lost: list[str]) -> Object:
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


# --- calibrate -----------------------------------------------------------------------------------


def calibrated(
    found: Calibration | None, display: DisplayLine | None, cautions: Sequence[Caution]
) -> Object:
    """The object of `calibrate`."""
    return {
        "audiolevel": __version__,
        "spl_at_full_scale_db": None if found is None else number(found.spl_at_full_scale_db),
        "display": None
        if display is None
        else {
            "slope": number(display.slope, 4),
            "offset": number(display.offset, 3),
            "residual_db": number(display.residual_db),
        },
        "uncertainty_db": None if found is None else number(found.uncertainty_db),
        "method": "display readings" if found is None else found.method,
        "warnings": warnings_of(cautions),
    }


# --- sounds --------------------------------------------------------------------------------------


def catalogued(sounds: Sequence[Sound]) -> Object:
    """The object of `sounds`."""
    return {"audiolevel": __version__, "sounds": [_sound(sound) for sound in sounds]}


def _sound(sound: Sound) -> Object:
    return {
        "name": sound.name,
        "measure": sound.measure,
        "level_dba": sound.level_db,
        "at_m": sound.at_m,
        "lowest_dba": sound.range_db[0],
        "highest_dba": sound.range_db[1],
        "duration_s": sound.duration_s,
        "band_hz": [number(hz, 1) for hz in sound.band_hz],
        "band_db": list(sound.band_db),
        "time_course": sound.time_course,
        "source": sound.source,
        "certainty": sound.certainty,
        "shape_source": sound.shape_source,
        "shape_certainty": sound.shape_certainty,
    }


def rendered(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> Object:
    """The object of `sounds --render`."""
    return {
        "audiolevel": __version__,
        "path": path,
        "sound": sound.name,
        "distance_m": distance_m,
        "spl_at_full_scale_db": spl_at_full_scale_db,
        "peak_dbfs": number(float(20 * np.log10(np.abs(samples).max()))),
    }
