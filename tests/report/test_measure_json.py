"""The JSON of a measurement: onsets by hand, the levels of each channel, no NaN."""

import json

import numpy as np
import pytest

from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import measure
from audiolevel.metering.onsets import Onsets
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.recordings import recording_of_array
from audiolevel.report.measure.json import as_json, onset_rates, recording_json
from tests.made_street import RATE_HZ, heard, wave_of


def _onsets(difference_db: list[float], rate: list[float]) -> Onsets:
    start = np.arange(float(len(rate)))
    return Onsets(start, start + 0.1, np.array(difference_db), np.array(rate))


def test_onsets_an_hour_are_counted_by_step_and_rate() -> None:
    # six in half an hour; a rate counts only for a step of 3 dB or more
    onsets = _onsets([2.0, 6.0, 9.9, 10.0, 15.5, 30.0], [300.0, 10.0, 19.0, 50.0, 99.0, 200.0])
    found = onset_rates(onsets, 1800.0)
    assert found["by_step"] == {"6 dB": 10.0, "10 dB": 6.0, "15 dB": 4.0, "20 dB": 2.0}
    assert found["by_rate"] == {
        "10 dB/s": 10.0,
        "20 dB/s": 6.0,
        "50 dB/s": 6.0,
        "100 dB/s": 2.0,
        "200 dB/s": 2.0,
    }
    assert found["largest_db"] == 30.0
    assert onset_rates(_onsets([], []), 1800.0)["largest_db"] is None


def test_each_recording_is_an_entry_with_its_cautions() -> None:
    one = heard()
    notices = quality_notices(one, Scale())
    result = as_json([(one, notices), (one, [])], Scale())
    first, second = result["recordings"]
    assert first["warnings"] == list(first["warning_texts"]) == ["short", "uncalibrated"]
    assert second["warnings"] == []
    assert first["duration_s"] == 180.0
    assert first["start"] == "2026-03-03T12:00:00"
    assert all(onset["level_difference_db"] >= 3 for onset in first["onsets"])
    assert first["onset_count"] >= len(first["onsets"]) >= 40  # a passage every four seconds
    json.dumps(result, allow_nan=False)


def test_channels_are_told_one_by_one() -> None:
    both = np.column_stack([wave_of(10.0, 1), 0.5 * wave_of(10.0, 1)])
    result = recording_json(measure(recording_of_array(both, RATE_HZ)), [], Scale(110.0))
    left, right = (channel["laeq_db"] for channel in result["channel_levels"])
    assert left - right == pytest.approx(6.02, abs=0.02)
    # the mean square of both: 10 lg((1 + 1/4)/2) = −2.04 dB
    assert result["laeq_db"] - left == pytest.approx(-2.04, abs=0.02)
    assert result["reference"] == "dB SPL"


def test_silence_has_numbers_too() -> None:
    silent = measure(recording_of_array(np.zeros(RATE_HZ), RATE_HZ))
    json.dumps(recording_json(silent, [], Scale()), allow_nan=False)
