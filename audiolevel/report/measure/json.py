"""The JSON of measurements: levels, onsets, clipping, cautions."""

from collections.abc import Sequence

import numpy as np

from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object, number, significant
from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.onsets import Onsets
from audiolevel.report.json_objects import levels_of
from audiolevel.report.words.cautions import notice_text
from audiolevel.version import __version__

ONSETS_LISTED_FROM_DB = 3.0
ONSET_STEPS_DB = (6, 10, 15, 20)


def as_json(measurements: Sequence[tuple[Measurement, Sequence[Notice]]], scale: Scale) -> Object:
    """The object of `measure`: one entry a recording."""
    return {
        "audiolevel": __version__,
        "recordings": [recording_json(one, notices, scale) for one, notices in measurements],
    }


def recording_json(measurement: Measurement, notices: Sequence[Notice], scale: Scale) -> Object:
    """One recording as `measure` tells it."""
    clipping = measurement.levels.clipping
    onsets, rises = measurement.onsets, measurement.rises
    big = None if onsets is None else onsets.of_at_least(ONSETS_LISTED_FROM_DB)
    clipping_known = "clipped" not in measurement.lacking
    return {
        "path": str(measurement.path),
        "start": measurement.start.isoformat() if measurement.start else None,
        "duration_s": number(measurement.duration_s, 3),
        "row_s": measurement.row_s,
        "sample_rate_hz": measurement.sample_rate_hz,
        "channels": measurement.channels,
        "bandwidth_hz": number(measurement.bandwidth_hz, 0),
        "reference": scale.unit,
        **levels_of(measurement.levels, scale),
        "clipping": {
            "clipped_share": significant(clipping.clipped_share) if clipping_known else None,
            "longest_run_s": number(clipping.longest_run_s) if clipping_known else None,
            "verdict": clipping.verdict if clipping_known else None,
        },
        "onset_count": None if onsets is None else len(onsets),
        "onsets": None if big is None else _onsets_of(big),
        "onsets_per_hour": None if onsets is None else onset_rates(onsets, measurement.duration_s),
        "rises_within_1_s_per_hour": None
        if rises is None
        else {
            f"{step} dB": number(3600 * seen / measurement.duration_s)
            for step, seen in rises.items()
        },
        "channel_levels": [levels_of(levels, scale) for levels in measurement.channel_levels],
        "channel_faults": [
            {"channel": n, "fault": fault} for n, fault in measurement.channel_faults
        ],
        "warnings": [one.code for one in notices],
        "warning_texts": _texts(notices),
    }


def _texts(notices: Sequence[Notice]) -> dict[str, str]:
    """The sentence of each code; of two cautions with one code, both sentences."""
    texts: dict[str, list[str]] = {}
    for one in notices:
        texts.setdefault(one.code, []).append(notice_text(one))
    return {code: "; ".join(said) for code, said in texts.items()}


def _onsets_of(onsets: Onsets) -> list[Object]:
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
