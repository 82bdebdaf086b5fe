"""What the JSON of several commands shares: units, nulls, codes."""

import json

import numpy as np
import pytest

from audiolevel.ground.notices import notice
from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.statistics import Levels
from audiolevel.report.json_objects import levels_of, setting_of, warnings_of
from audiolevel.triggers.trigger import Trigger
from tests.made_street import plan


def _levels() -> Levels:
    """A sine of 1 kHz at −20 dB FS (AES17), on which A and C weighting change nothing."""
    sine = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(5 * 16_000) / 16_000)
    return measure(recording_of_array(sine, 16_000)).levels


def test_levels_are_in_the_unit_of_the_scale_but_the_sample_peak() -> None:
    plain, shown = levels_of(_levels(), Scale()), levels_of(_levels(), Scale(110.0))
    for name in ("laeq_db", "lceq_db", "lzeq_db"):
        assert plain[name] == pytest.approx(-20.0, abs=0.05)
        assert shown[name] == pytest.approx(90.0, abs=0.05)
    # LAE is LAeq and 10 lg of the seconds (IEC 61672-1:2013, 3.11)
    assert plain["lae_db"] == pytest.approx(-20.0 + 10 * np.log10(5), abs=0.05)
    assert plain["sample_peak_dbfs"] == shown["sample_peak_dbfs"] == -20.0
    json.dumps(shown, allow_nan=False)


def test_a_setting_is_named_by_its_mode() -> None:
    # 110 dB SPL fill its scale as recorded
    survey = plan().survey
    threshold = setting_of(Trigger("threshold", -30.0, hold_s=0.1), 0.0, survey)
    assert (threshold["mode"], threshold["level_db"], threshold["hold_s"]) == ("threshold", 80, 0.1)
    assert not {"change_db", "window_s"} & set(threshold)
    rise = setting_of(Trigger("rise", 12.0, window_s=0.5), -12.0, survey)
    assert (rise["change_db"], rise["window_s"]) == (12.0, 0.5)
    assert "level_db" not in rise


def test_a_caution_is_a_code_and_a_sentence() -> None:
    (told,) = warnings_of([notice("channel dead", channel=2).of("gate.wav")])
    assert told["code"] == "channel dead"
    assert told["text"].startswith("gate.wav: channel 2 carries no sound")
