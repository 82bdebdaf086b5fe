"""Curves at every gain: a shift where nothing clips, levels of their own where the input does."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.counting.predicted import LevelForLimit
from audiolevel.planning.curves import Curve, curve_at
from tests.made_street import SITE, plan, survey
from tests.triggers.test_trigger import slow_firings


def _curve(mode: str, gain_db: float) -> Curve:
    return next(one for one in plan().curves if (one.mode, one.gain_db) == (mode, gain_db))


def test_there_is_a_curve_for_each_mode_of_the_site_at_each_gain() -> None:
    found = [(one.mode, one.gain_db) for one in plan().curves]
    assert found == [(m, g) for m in ("threshold", "rise") for g in (-12.0, 0.0, 18.0)]


@pytest.mark.parametrize("mode", ["threshold", "rise"])
def test_a_gain_that_only_shifts_has_the_counts_of_a_sweep_of_its_own(mode: str) -> None:
    shifted = _curve(mode, -12.0)
    settings = shifted.prediction.settings_db
    own = curve_at(survey(), 0, -12.0, mode, settings)
    assert np.array_equal(shifted.prediction.count, own.prediction.count)
    recorded = _curve(mode, 0.0).prediction.settings_db
    assert settings == pytest.approx(recorded - (12.0 if mode == "threshold" else 0.0))


def test_a_gain_that_clips_is_swept_on_the_levels_the_input_would_show() -> None:
    clipped, plain = _curve("threshold", 18.0).prediction, _curve("threshold", 0.0).prediction
    assert clipped.settings_db == pytest.approx(plain.settings_db + 18.0)
    # a wave that fills the scale all the time is a square of 0 dB + 3.01: nothing reads above
    assert clipped.count[clipped.settings_db > 3.1].max() == 0
    laf = survey().measurements[0].gains[2].laf
    assert laf is not None
    row = int(np.argmin(np.abs(clipped.settings_db + 6)))
    at = float(clipped.settings_db[row])
    recount = slow_firings(laf / 100, SITE.trigger.trigger("threshold", at))
    assert clipped.count[row] == len(recount)  # nothing of it in the marks
    assert clipped.count[row] <= plain.count[row]


def test_a_limit_above_full_scale_is_never_read() -> None:
    curve = _curve("threshold", 0.0)
    above = LevelForLimit(-4.0, 1.0, -9.0, 2.0)
    seen = replace(curve, limit=above).limit_within_scale
    assert seen is not None
    assert (seen.low_db, seen.best_db, seen.safe_db, seen.high_db) == (-9.0, -4.0, None, None)
    beyond = LevelForLimit(4.0, 5.0, 1.0, 6.0)
    assert replace(curve, limit=beyond).limit_within_scale is None
    assert replace(curve, mode="rise", limit=beyond).limit_within_scale == beyond


def test_sounds_of_the_site_file_go_before_marked_ones() -> None:
    curve = _curve("threshold", 0.0)
    assert [one.sound for one in curve.detections] == ["vehicle horn", "shout"]
    assert [one.sound for one in curve.required] == ["vehicle horn"]
    marked = replace(curve, detections=curve.detections[1:])
    assert [one.sound for one in marked.required] == ["shout"]
    none = replace(curve, detections=())
    assert set(none.least_probability().tolist()) == {1.0}
    least = curve.least_probability()
    assert np.array_equal(least, curve.detections[0].probability)
