"""Which keys does the JSON of a privacy review have?

Entry point: `reviewed`.
"""

from collections.abc import Sequence
from math import isfinite
from typing import Any

from audiolevel import __version__
from audiolevel.privacy.audibility import DISTANCES_M, FARTHEST_M, UNDERSTOOD_INDEX
from audiolevel.privacy.recorded_time import Minutes
from audiolevel.privacy.review import Review
from audiolevel.privacy.speech_detection import MEASURED
from audiolevel.records import number, significant
from audiolevel.report.json_objects import warnings_of
from audiolevel.report.sheet import Sheet


def reviewed(found: Review, made: Sheet) -> dict[str, Any]:
    """The object of `privacy`."""
    share, captured = found.share, found.captured
    radii = found.at_gain(found.gain_db)
    return {
        "audiolevel": __version__,
        "reference": found.plan.survey.scale.unit,
        "calibration_assumed": found.assumed,
        "heard_s": number(found.plan.survey.duration_s, 3),
        "intelligibility": [
            {
                "gain_db": number(one.gain_db),
                "effort": one.effort,
                "distance_m": distance,
                "sii": number(one.quiet[i], 4),
                "sii_typical": number(one.typical[i], 4),
                "sii_loud": number(one.loud[i], 4),
            }
            for one in found.carried
            for i, distance in enumerate(DISTANCES_M)
        ],
        "radius_index": UNDERSTOOD_INDEX,
        "radius_gain_db": number(found.gain_db),
        "radius_beyond_m": FARTHEST_M,
        "radius_m": {one.effort: _metres_of(one.radius_m) for one in radii},
        "radius_low_m": {one.effort: _metres_of(one.radius_low_m) for one in radii},
        "radius_high_m": {one.effort: _metres_of(one.radius_high_m) for one in radii},
        "radius_typical_m": {one.effort: _metres_of(one.radius_typical_m) for one in radii},
        "radius_10_db_quieter_m": {one.effort: _metres_of(one.radius_quieter_m) for one in radii},
        "radius_by_hour_m": [
            {"hour": hour, **{effort: _metres_of(value) for effort, value in radius.items()}}
            for hour, radius in sorted(found.by_hour.items())
        ],
        "places": [
            {
                "name": place.name,
                "distance_m": place.distance_m,
                "sii": {effort: number(value, 4) for effort, value in place.index.items()},
                "sii_typical": {e: number(value, 4) for e, value in place.typical.items()},
            }
            for place in found.places
        ],
        "speech_share": None if share is None else number(share.best, 4),
        "speech_share_low": None if share is None else number(share.low, 4),
        "speech_share_high": None if share is None else number(share.high, 4),
        "speech_found_share": None if share is None else number(share.found_share, 4),
        "speech_error_rates": {
            "hits_at_10_db": MEASURED.hits_at_10_db,
            "hits_at_0_db": MEASURED.hits_at_0_db,
            "hits_at_minus_10_db": MEASURED.hits_at_minus_10_db,
            "false_alarms": MEASURED.false_alarms,
            "false_alarms_worst": MEASURED.false_alarms_worst,
        },
        "captured": None
        if captured is None
        else {
            "clip_s": number(captured.clip_s),
            **_minutes_of("recorded", captured.recorded),
            **_minutes_of("speech", captured.speech),
        },
        "measures": [
            {
                "text": measure.text,
                "cost": measure.cost,
                **_minutes_of("speech", measure.speech),
                "detection": number(measure.detection, 4),
                "radius_m": None if measure.radius_m is None else _metres_of(measure.radius_m),
            }
            for measure in found.measures
        ],
        "warnings": warnings_of(found.warnings),
        "sheet": {
            "title": made.title,
            "sections": [
                {
                    "title": one.title,
                    "paragraphs": list(one.paragraphs),
                    "table": None
                    if one.table is None
                    else {"head": list(one.table.head), "rows": [list(r) for r in one.table.rows]},
                    "points": list(one.points),
                }
                for one in made.sections
            ],
        },
    }


def _metres_of(value: float) -> float | None:
    """Metres for JSON; null where it lies beyond what is claimed."""
    return number(value, 2) if isfinite(value) else None


def _minutes_of(what: str, minutes: Minutes | None) -> dict[str, float | None]:
    values: Sequence[float | None] = (None, None, None)
    if minutes is not None:
        values = (minutes.best, minutes.low, minutes.high)
    names = (f"{what}_min_per_day", f"{what}_low_min_per_day", f"{what}_high_min_per_day")
    return {name: significant(value) for name, value in zip(names, values, strict=True)}
