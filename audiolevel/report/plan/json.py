"""The JSON of a plan: its records, filled.

Entry points: `as_json`, `plan_record`, `tried_objects`, `curve_record`, `expected_record`.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import zip_longest

import numpy as np

from audiolevel.counting.belief import WET_DB
from audiolevel.counting.predicted import SAFE_SHARE, LevelForLimit, Prediction
from audiolevel.counting.schedule import read_schedule
from audiolevel.ground.arrays import Array
from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object, to_object
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.evidence import Evidence
from audiolevel.planning.option import Option
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan
from audiolevel.planning.plan_record import (
    RATE_SHARES,
    SCHEMA,
    THOUSAND_YEARS_DAYS,
    CurveDetectionRecord,
    CurveRecord,
    CurveStorageRecord,
    DetectionRecord,
    EvidenceRecord,
    ExpectedRecord,
    GainRecord,
    Hours,
    LevelsRecord,
    LimitRecord,
    NoticeRecord,
    OptionRecord,
    PlanRecord,
    QuantilesRecord,
    ScheduleRecord,
    StorageRecord,
    WeatherRecord,
)
from audiolevel.planning.storage import CardLife, card_life_of
from audiolevel.planning.survey import Survey, bandwidth_hz
from audiolevel.report.json_objects import filled, levels_of, on_camera_of, setting_of
from audiolevel.report.words.cautions import advice_text, notice_text
from audiolevel.report.words.reasons import reason
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import Trigger
from audiolevel.version import __version__


def as_json(plan: SitePlan) -> Object:
    """A plan as an object of JSON (`planning.plan_record` says what each key means)."""
    made = plan_record(plan)
    each = zip(made.curves, plan.options, strict=True)
    return to_object(replace(made, curves=tuple(_with_reach(*pair, plan) for pair in each)))


def plan_record(plan: SitePlan) -> PlanRecord:
    """The records of a plan but for `caught_within_m`, which takes as long as all the rest."""
    option, survey = plan.recommended, plan.survey
    return PlanRecord(
        audiolevel=__version__,
        schema=SCHEMA,
        reference=survey.scale.unit,
        heard_s=survey.duration_s,
        false_triggers_per_day_limit=plan.limit_per_day,
        detection_asked=survey.site.limits.detection,
        recommended=None if option is None else _option(option, plan),
        reason=reason(plan),
        case=plan.choice.case,
        alternatives=tuple(_option(one, plan) for one in plan.choice.alternatives),
        asked=None if plan.asked is None else _option(plan.asked, plan),
        runners_up=tuple(_option(one, plan) for one in plan.choice.by_mode if one is not option),
        options=tuple(_option(one, plan) for one in plan.options),
        gains=tuple(_gain(gain, plan) for gain in plan.gains),
        levels=LevelsRecord(**levels_of(survey.levels, survey.scale)),
        bandwidth_hz=bandwidth_hz(survey.measurements),
        gain_control=survey.site.microphone.gain_control,
        evidence=tuple(_evidence(one) for one in survey.evidence),
        ceiling_dbfs=plan.ceiling_db if survey.has_peaks else None,
        curves=tuple(_curve(one, plan) for one in plan.options),
        schedule=_schedule(survey.site),
        weather=WeatherRecord(
            wet_share=survey.site.site.wet_share,
            wet_db=WET_DB,
        ),
        reliable=plan.reliable,
        warnings=tuple(_notice(one) for one in plan.warnings),
        advice=tuple(advice_text(one) for one in plan.advice),
    )


def _notice(notice: Notice) -> NoticeRecord:
    return NoticeRecord(code=notice.code, text=notice_text(notice))


def _schedule(site: Site) -> ScheduleRecord:
    active, zone = site.schedule.active, site.schedule.zone
    return filled(ScheduleRecord, read_schedule(active), active=active, zone=zone)


def _option(option: Option, plan: SitePlan) -> OptionRecord:
    # every level is told in the unit of `reference`, at this option's gain
    shift = plan.survey.shift_db(option.trigger.mode, option.gain_db)
    catching_db = option.highest_catching_db
    return filled(
        OptionRecord,
        option,
        **setting_of(option.trigger, option.gain_db, plan.survey),
        **on_camera_of(option.trigger, option.gain_db, plan.survey.site),
        expected=expected_record(option.curve.prediction, option.row),
        level_for_limit=_limit(option.curve.limit_within_scale, shift),
        catching_db=None if catching_db is None else catching_db + shift,
        detection=tuple(_detection(one, option.row) for one in option.curve.detections),
        storage=_storage(plan.card_life(option)),
    )


def expected_record(prediction: Prediction, row: int) -> ExpectedRecord:
    """What is expected of one setting, with its limits."""
    expected = prediction.at(row)
    rates = tuple(prediction.rate_quantiles(row, RATE_SHARES).tolist())
    by_hour = ("by_hour", "by_hour_low", "by_hour_high")
    return filled(
        ExpectedRecord,
        expected,
        per_hour=expected.per_hour.best,
        per_hour_low=expected.per_hour.low,
        per_hour_high=expected.per_hour.high,
        per_day=expected.rate.best,
        rate_low_per_day=expected.rate.low,
        rate_high_per_day=expected.rate.high,
        low_per_day=expected.count.low,
        high_per_day=expected.count.high,
        **{name: _hours(getattr(prediction, name), row) for name in by_hour},
        # no start time: which hours were heard is not known
        hours_not_heard=prediction.hours_not_heard,
        rate_quantiles=QuantilesRecord(shares=RATE_SHARES, per_day=rates),
    )


def _hours(by_hour: Array | None, row: int) -> Hours | None:
    # nan in a row that has only an upper limit: null for the whole day
    if by_hour is None or not np.isfinite(by_hour[row]).all():
        return None
    return tuple(by_hour[row].tolist())


def _limit(limit: LevelForLimit | None, shift_db: float) -> LimitRecord | None:
    return None if limit is None else filled(LimitRecord, limit.shifted(shift_db))


def _evidence(one: Evidence) -> EvidenceRecord:
    return filled(
        EvidenceRecord,
        one,
        events=len(one.offsets_db),
        median_offset_db=one.median_db,
        before_db=one.before.mean_db,
        before_spread_db=one.before.unknown_db,
        after_db=one.after.mean_db,
        after_spread_db=one.after.unknown_db,
    )


def _detection(curve: DetectionCurve, row: int) -> DetectionRecord:
    variation = curve.variation
    return filled(
        DetectionRecord,
        curve,
        in_recording=curve.distance_m is None,
        probability=float(curve.probability[row]),
        low=float(curve.low[row]),
        high=float(curve.high[row]),
        offset_db=None if variation is None else variation.mean_db,
        event_spread_db=None if variation is None else variation.event_db,
        mean_spread_db=None if variation is None else variation.unknown_db,
    )


def _storage(life: CardLife | None) -> StorageRecord | None:
    if life is None:
        return None
    # JSON has no infinity, so null there needs this to tell it from not known
    return filled(StorageRecord, life, never_fills=life.days_kept > THOUSAND_YEARS_DAYS)


def curve_record(
    survey: Survey,
    gain_db: float,
    mode: str,
    prediction: Prediction,
    detections: Sequence[DetectionCurve] = (),
) -> CurveRecord:
    """Every setting of a mode at a gain, with what it would do."""
    shift = survey.shift_db(mode, gain_db)
    return CurveRecord(
        gain_db=gain_db,
        mode=mode,
        settings_db=tuple((prediction.settings_db + shift).tolist()),
        seen=tuple(prediction.count.tolist()),
        **{name: tuple(getattr(prediction, name).tolist()) for name in _RATES},
        method=tuple(str(one) for one in prediction.method),
        day_rate_90_per_day=tuple(prediction.day_rate_quantiles(SAFE_SHARE).tolist()),
        **_displayed(survey.site, mode, prediction),
        detection=tuple(_swept_detection(one) for one in detections),
        storage=_swept_storage(survey.site, prediction),
    )


def tried_objects(
    survey: Survey,
    gain_db: float,
    trigger: Trigger,
    prediction: Prediction,
    row: int,
    detections: Sequence[DetectionCurve] = (),
) -> tuple[Object, Object]:
    """A setting without a plan, as a page tries it: as an option, and the curve it is on."""
    expected = to_object(expected_record(prediction, row))
    option = {"gain_db": gain_db, **setting_of(trigger, gain_db, survey), "expected": expected}
    curve = curve_record(survey, gain_db, trigger.mode, prediction, detections)
    return option, to_object(curve)


def _curve(option: Option, plan: SitePlan) -> CurveRecord:
    curve = option.curve
    return curve_record(plan.survey, curve.gain_db, curve.mode, curve.prediction, curve.detections)


def _with_reach(made: CurveRecord, option: Option, plan: SitePlan) -> CurveRecord:
    """A curve with how far its settings catch each sound as often as asked."""
    share = plan.survey.site.limits.detection
    ranges = next((found for of, found in plan.ranges if of is option.curve), [])
    within_m = [tuple(one.reaches_m(share) for one in of_sound) for of_sound in ranges]
    # marked sounds come after those placed, and nothing tells how far they would carry
    detection = tuple(
        replace(one, caught_within_m=within)
        for one, within in zip_longest(made.detection or (), within_m)
    )
    return replace(made, detection=detection)


_RATES = ("per_day", "rate_low_per_day", "rate_high_per_day", "low_per_day", "high_per_day")
_CARD = ("days_kept", "low_days", "high_days", "recorded_share")


def _displayed(site: Site, mode: str, prediction: Prediction) -> dict[str, tuple[float, ...]]:
    line, levels = site.display.line, prediction.settings_db.tolist()
    if line is None or mode != "threshold":
        return {}
    return {
        "display_levels": tuple(line.shown(at_db) for at_db in levels),
        "display_uncertainties": tuple(line.uncertainty(at_db) for at_db in levels),
    }


def _swept_detection(curve: DetectionCurve) -> CurveDetectionRecord:
    swept = {name: tuple(getattr(curve, name).tolist()) for name in ("probability", "low", "high")}
    return filled(CurveDetectionRecord, curve, in_recording=curve.distance_m is None, **swept)


def _swept_storage(site: Site, prediction: Prediction) -> CurveStorageRecord | None:
    rows = range(len(prediction.settings_db))
    lives = [card_life_of(site, prediction, row) for row in rows]
    known = [one for one in lives if one is not None]
    if not known:
        return None
    return CurveStorageRecord(
        **{name: tuple(getattr(one, name) for one in known) for name in _CARD}
    )


def _gain(gain: GainMargins, plan: SitePlan) -> GainRecord:
    return filled(
        GainRecord,
        gain,
        gain_setting=gain.setting,
        noise_dbfs=gain.noise_db,
        wanted_clipped=tuple(wanted.name for wanted in plan.lost_to_clipping(gain)),
    )
