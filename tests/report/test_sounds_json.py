"""The built-in sounds as JSON: every one, with levels and bands of equal length."""

import json

import numpy as np
import pytest

from audiolevel.report.sounds.json import as_json, rendering_as_json
from audiolevel.sounds.catalogue import SOUNDS, find


def test_each_sound_is_there_with_a_level_for_each_band() -> None:
    result = as_json(SOUNDS)
    json.dumps(result, allow_nan=False)
    assert [one["name"] for one in result["sounds"]] == [one.name for one in SOUNDS]
    for one in result["sounds"]:
        assert len(one["band_hz"]) == len(one["band_db"])
        assert one["lowest_dba"] <= one["level_dba"] <= one["highest_dba"]


def test_a_rendering_has_its_peak() -> None:
    result = rendering_as_json(find("shout"), "a.wav", 3.0, 130.0, np.array([0.1, -0.5]))
    assert result["peak_dbfs"] == pytest.approx(20 * np.log10(0.5), abs=0.005)
    assert (result["sound"], result["distance_m"], result["path"]) == ("shout", 3.0, "a.wav")
