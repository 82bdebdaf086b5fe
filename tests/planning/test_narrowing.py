"""What would narrow an answer, held against what then does."""

from datetime import datetime, timedelta

import numpy as np
import pytest

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.planning.narrowing import steps_that_narrow

LEVELS = np.arange(60.0, 100.0)
MORNING = datetime(2024, 6, 4, 10)


def _visit(seed, start):
    rng = np.random.default_rng(seed)
    peaks = np.sort(60 + rng.normal(0, 1.5) + rng.exponential(3, rng.poisson(60)))[::-1]
    counts = (peaks >= LEVELS[:, None]).sum(axis=1)
    return Visit(counts, 600.0, peaks, start, l10_db=float(np.quantile(peaks, 0.9)))


def test_each_step_narrows_and_the_log_most():
    steps = steps_that_narrow(LEVELS, [_visit(0, MORNING)], 20, Conditions(), extrapolate=True)
    assert {one.step for one in steps} == {"another hour", "another day", "two days of log"}
    assert steps[0].step == "two days of log"
    ratio = {one.step: one.after_db / one.now_db for one in steps}
    assert 0 < ratio["two days of log"] < ratio["another day"] <= ratio["another hour"] < 1
    # heard at ten: the hour of daytime farthest from it is 21 h
    assert {one.hour for one in steps} == {21, None}


def test_the_width_expected_is_the_width_found():
    ratios = []
    for seed in range(12):
        first = _visit(seed, MORNING)
        second = _visit(seed + 100, MORNING.replace(hour=21) + timedelta(days=1))
        expected = next(
            one
            for one in steps_that_narrow(LEVELS, [first], 20, Conditions(), extrapolate=True)
            if one.step == "another day"
        )
        found = predict(LEVELS, [first, second], extrapolate=True)
        limit = found.level_for_limit(20)
        ratios.append((limit.high_db - limit.low_db) / 2 / expected.after_db)
    assert np.median(ratios) == pytest.approx(1, abs=0.15)


def test_nothing_is_said_where_no_level_is_known():
    silent = Visit(np.zeros(LEVELS.size, dtype=np.int64), 600.0)
    assert steps_that_narrow(LEVELS, [silent], 20, Conditions(), extrapolate=True) == ()
