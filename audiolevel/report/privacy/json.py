"""The JSON of a privacy review, with its sheet."""

from collections.abc import Sequence
from dataclasses import asdict
from math import isfinite

from audiolevel.ground.intervals import Interval
from audiolevel.ground.records import Object, number, significant
from audiolevel.privacy.audibility import (
    DISTANCES_M,
    FARTHEST_M,
    FOLLOWED_INDEX,
    PlaceAudibility,
    Radii,
)
from audiolevel.privacy.mitigation import Mitigation
from audiolevel.privacy.read_aloud import Walked
from audiolevel.privacy.review import Review
from audiolevel.privacy.speech_detection import MEASURED
from audiolevel.privacy.speech_security import ENHANCED_DB, WORD_DB
from audiolevel.report.document import Document, as_object
from audiolevel.report.json_objects import on_camera_of, setting_of, warnings_of
from audiolevel.report.words.decisions import mitigation_cost, mitigation_text
from audiolevel.version import __version__


def _setting(review: Review) -> Object | None:
    """What the review speaks of, as the plan says it; None where there is nothing to set."""
    plan, option = review.plan, review.plan.recommended
    if option is None:
        return None
    trigger, gain_db = option.trigger, option.gain_db
    camera = on_camera_of(trigger, gain_db, plan.survey.site)
    return {"gain_db": gain_db, **setting_of(trigger, gain_db, plan.survey), **camera}


def as_json(review: Review, sheet: Document) -> Object:
    """The object of `privacy`."""
    share, recorded = review.share, review.recorded
    return {
        "audiolevel": __version__,
        "reference": review.plan.survey.scale.unit,
        "calibration_assumed": review.calibration_assumed,
        "setting": _setting(review),
        "heard_s": number(review.plan.survey.duration_s, 3),
        **_audibility(review),
        "speech_share": None if share is None else number(share.share.best, 4),
        "speech_share_low": None if share is None else number(share.share.low, 4),
        "speech_share_high": None if share is None else number(share.share.high, 4),
        "speech_found_share": None if share is None else number(share.detected_share, 4),
        "speech_error_rates": asdict(MEASURED),
        "captured": None
        if recorded is None
        else {
            "clip_s": number(recorded.clip_s),
            **_minutes_of("recorded", recorded.recorded),
            "recorded_most_min_of_a_day": significant(recorded.most),
            **_minutes_of("speech", recorded.speech),
        },
        "measures": [_mitigation(one) for one in review.mitigations],
        "warnings": warnings_of(review.warnings),
        "sheet": as_object(sheet),
    }


# while the camera is on, the farther end first
_RADII = {
    "": "farthest",
    "_best": "active",
    "_heard": "heard",
    "_heard_low": "weaker",
    "_heard_high": "stronger",
    "_usual": "usual",
}


def _audibility(review: Review) -> Object:
    """Index and radius, by gain, vocal effort, hour and place."""
    radii = review.at_gain(review.gain_db)
    return {
        "intelligibility": [
            {
                "gain_db": number(one.gain_db),
                "effort": one.effort,
                "distance_m": distance,
                "sii": number(one.quiet[i], 4),
                "sii_typical": number(one.typical[i], 4),
                "sii_loud": number(one.loud[i], 4),
            }
            for one in review.curves
            for i, distance in enumerate(DISTANCES_M)
        ],
        "thresholds": {
            "word_ratio_db": WORD_DB,
            "sentences_index": FOLLOWED_INDEX,
            "enhanced_db": ENHANCED_DB,
        },
        "radius_gain_db": number(review.gain_db),
        "radius_beyond_m": FARTHEST_M,
        "active_hours": {
            "all_heard": review.listened.everywhen,
            "heard": list(review.listened.hours),
            "quieter_db": number(review.listened.quieter_db.best),
            "quieter_high_db": number(review.listened.quieter_db.high),
        },
        **{
            f"radius{key}_m": {one.effort: _radii(getattr(one, what)) for one in radii}
            for key, what in _RADII.items()
        },
        "radius_by_hour_m": [
            {"hour": hour, **{effort: _radii(value) for effort, value in radius.items()}}
            for hour, radius in sorted(review.by_hour.items())
        ],
        "places": [_place(one) for one in review.places],
        "walk_test": [_walked(one) for one in review.walked],
    }


def _place(place: PlaceAudibility) -> Object:
    return {
        "name": place.name,
        "distance_m": place.distance_m,
        "caught_share": number(place.share, 4),
        "caught": {effort: value.value for effort, value in place.caught.items()},
        "sii": {effort: number(value, 4) for effort, value in place.index.items()},
        "ratio_db": {effort: number(value) for effort, value in place.ratio_db.items()},
    }


def _walked(one: Walked) -> Object:
    return {
        "distance_m": one.reading.distance_m,
        "voice": one.reading.voice,
        "understood": number(one.understood.best, 4),
        "understood_low": number(one.understood.low, 4),
        "understood_high": number(one.understood.high, 4),
        "computed_low": number(one.computed.low, 4),
        "computed_high": number(one.computed.high, 4),
        "verdict": one.verdict,
    }


def _radii(radii: Radii) -> dict[str, float | None]:
    return {"word": _metres_of(radii.words_m), "sentences": _metres_of(radii.sentences_m)}


def _mitigation(one: Mitigation) -> Object:
    return {
        "text": mitigation_text(one),
        "cost": mitigation_cost(one),
        **_minutes_of("recorded", one.recorded),
        **_minutes_of("speech", one.speech),
        "detection": number(one.detection, 4),
        "radius_m": None if one.radii is None else _radii(one.radii),
    }


def _metres_of(value: float | None) -> float | None:
    """Metres for JSON; null where it lies beyond what is claimed."""
    # JSON has no infinity: `radius_beyond_m` says how far null means
    return number(value, 2) if value is not None and isfinite(value) else None


def _minutes_of(what: str, minutes: Interval | None) -> dict[str, float | None]:
    # no setting, so no minutes; the keys stay
    values: Sequence[float | None] = (None, None, None)
    if minutes is not None:
        values = (minutes.best, minutes.low, minutes.high)
    names = (f"{what}_min_per_day", f"{what}_low_min_per_day", f"{what}_high_min_per_day")
    return {name: significant(value) for name, value in zip(names, values, strict=True)}
