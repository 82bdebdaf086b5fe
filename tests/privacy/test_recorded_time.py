"""Minutes a day by hand and by drawing."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from audiolevel.ground.intervals import Interval
from audiolevel.planning.storage import share_of_day
from audiolevel.privacy.recorded_time import recorded_time
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.site.sections import Site


def test_clips_that_overlap_are_one() -> None:
    # by drawing: 2,000 firings a day at random, clips of 30 s laid over each other
    rng = np.random.default_rng(3)
    seconds = np.zeros(200 * 86_400, dtype=bool)
    for at in rng.integers(0, len(seconds), 200 * 2000):
        seconds[at : at + 30] = True
    assert float(share_of_day(2000, 30)) == pytest.approx(seconds.mean(), abs=0.003)
    # by hand: 20 clips of 30 s hardly overlap, 600 s of 86,400
    assert float(share_of_day(20, 30)) * 86_400 == pytest.approx(600, rel=0.004)
    assert float(share_of_day(0, 30)) == 0.0


def test_minutes_multiply_rate_and_share() -> None:
    share = SpeechShare(0.1, Interval(0.1, 0.05, 0.2), 0.95)

    class Prediction:
        per_day = np.array([40.0])
        rate_low_per_day, rate_high_per_day = np.array([10.0]), np.array([100.0])
        high_per_day = np.array([200.0])
        method = np.array(["counted"])
        by_hour = active = None

    class Curve:
        prediction = Prediction()

    class Option:
        curve, row = Curve(), 0

    site = replace(Site(), storage=replace(Site().storage, before_s=5.0, after_s=20.0))
    option: Any = Option()  # no more of an option is looked at
    found = recorded_time(option, site, share)
    assert found.speech is not None
    assert found.recorded.best is not None
    # by hand: 40 × 25 s = 16.67 min, less what overlaps (0.6 %)
    assert found.recorded.best == pytest.approx(16.67, rel=0.01)
    # a single day may have twice as many as the mean of the busiest: 200 × 25 s = 83.3 min
    assert found.most == pytest.approx(83.3, rel=0.06)
    assert found.speech.best == pytest.approx(found.recorded.best * 0.1)
    assert found.speech.low == pytest.approx(found.recorded.low * 0.05)
    assert found.speech.high == pytest.approx(found.recorded.high * 0.2)
    busy = replace(site, storage=replace(site.storage, other_recording_share=0.5))
    assert recorded_time(option, busy, share).recorded.best == pytest.approx(
        720 + 16.57 / 2, rel=0.01
    )
