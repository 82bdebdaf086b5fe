"""The JSON of a follow-up: the comparison with each log, the level to set, the corrected plan."""

from dataclasses import replace
from datetime import datetime

from audiolevel.followup.comparison import LogComparison, PeriodComparison
from audiolevel.followup.decision import Reason
from audiolevel.followup.event_log import Log
from audiolevel.followup.verdict import Followup, corrected_plan
from audiolevel.ground.records import Object, number, significant, to_object
from audiolevel.report.json_objects import warnings_of
from audiolevel.report.words.decisions import decision_text, fault_text
from audiolevel.version import __version__


def as_json(result: Followup) -> Object:
    """The object of `followup`."""
    expectation, decision, shift = result.expectation, result.decision, result.shift_db
    return {
        "audiolevel": __version__,
        **_log(result.last),
        "verdict": result.verdict.value,
        "keep": decision.keep,
        "set_db": number(decision.set_db),
        "gain_db": number(expectation.option.gain_db),
        "gain_setting": expectation.option.gain_setting,
        "display_level": None if result.shown is None else number(result.shown[0]),
        "display_uncertainty": None if result.shown is None else number(result.shown[1]),
        "limit_kept": result.limit_kept,
        "detection": [
            {
                "sound": one.sound,
                "distance_m": number(one.distance_m),
                "before": number(one.before, 3),
                "now": number(one.now, 3),
            }
            for one in result.caught
        ],
        "reason": decision.reason.value,
        "fault": fault_code(result),
        "stuck": None if result.fault is None else fault_text(result.fault),
        "confidence": expectation.confidence,
        "unit": expectation.unit,
        "false_triggers_per_day_limit": expectation.limit_per_day,
        "shift_db": number(shift.best),
        "shift_low_db": number(shift.low),
        "shift_high_db": number(shift.high),
        "level_for_limit": {
            "best_db": number(decision.level.best),
            "safe_db": number(decision.safe_db),
            "low_db": number(decision.level.low),
            "high_db": number(decision.level.high),
        },
        "logs": [_log(one) for one in result.comparisons],
        "warnings": warnings_of(result.notices),
    }


def _log(one: LogComparison) -> Object:
    recorded_s = one.log.recorded_s
    return {
        "log": one.log.name,
        "read_as": _read_as(one.log),
        "setting_db": number(one.at_db),
        "louder_db": number(one.louder_db),
        "expected_per_day": significant(one.expected_per_day.best),
        "observed_per_day": significant(one.observed_per_day),
        "observed_days": number(one.days, 4),
        "observed_hours": number(one.covered_s / 3600, 3),
        "exposure_days": number(one.exposure, 4),
        "observed_count": one.count,
        "low_per_day": significant(one.expected_per_day.low),
        "high_per_day": significant(one.expected_per_day.high),
        "p_value": significant(one.p_value),
        # nan, which becomes null, where the log has no lengths
        "recorded_min_per_day": significant(recorded_s / 60 / one.days),
        "by_day": [_period(row, "date") for row in one.by_day],
        "by_hour": [_period(row, "hour") for row in one.by_hour],
        "hours_standing_out": [int(row.name) for row in one.by_hour if row.stands_out],
    }


def _read_as(log: Log) -> Object:
    first, last = log.rows_s or (None, None)
    return {
        "first": None if first is None else datetime.fromtimestamp(first, log.zone).isoformat(),
        "last": None if last is None else datetime.fromtimestamp(last, log.zone).isoformat(),
        "firings": int(log.fired_s.size),
        # how its times were read: dmy, mdy, ymd, epoch, name; null where there was no choice
        "form": log.form if log.form not in ("", "named") else None,
    }


def _period(row: PeriodComparison, name: str) -> Object:
    # a date is never carried over; only an hour can be one that nobody heard
    extra = {"carried_over": row.carried_over} if name == "hour" else {}
    return {
        name: int(row.name) if name == "hour" else row.name,
        "covered_h": number(row.covered_h, 3),
        "expected": significant(row.expected.best),
        "low": significant(row.expected.low),
        "high": significant(row.expected.high),
        "observed": row.observed,
        "stands_out": row.stands_out,
        **extra,
    }


def fault_code(result: Followup) -> str | None:
    """What is wrong with the camera, as a code; None if nothing looks wrong."""
    if result.fault is not None:
        return result.fault.kind.value
    return Reason.HEARS_LESS.value if result.decision.reason is Reason.HEARS_LESS else None


def corrected_plan_json(result: Followup) -> Object:
    """The plan's JSON with what to set now, and the reason for it in words."""
    return to_object(replace(corrected_plan(result), reason=decision_text(result.decision)))
