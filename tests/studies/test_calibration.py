"""Stated shares on measured places, reduced; the whole is `tests.studies.calibration`."""

import os

import numpy as np
import pytest
from scipy.stats import norm

from tests.studies.calibration import (
    all_cases,
    crps,
    inside,
    level_inside,
    of_program,
    score,
)
from tests.studies.rivals import simple
from tests.studies.visit_designs import DESIGNS, NIGHT

needs_levels = pytest.mark.skipif(
    "AUDIOLEVEL_REAL_LEVELS" not in os.environ,
    reason="real days: set AUDIOLEVEL_REAL_LEVELS to the folder of measured series",
)


def test_the_crps_of_a_normal_forecast_is_the_closed_formula():
    # Gneiting and Raftery (2007), J. Am. Stat. Assoc. 102, 359-378, eq. 5
    draws, z = norm.ppf((np.arange(4000) + 0.5) / 4000), 0.7
    closed = z * (2 * norm.cdf(z) - 1) + 2 * norm.pdf(z) - 1 / np.sqrt(np.pi)
    assert crps(draws, z) == pytest.approx(closed, abs=1e-3)


@needs_levels
def test_what_is_stated_is_true_on_streets_and_quiet_places():
    drawn = all_cases(5, DESIGNS[:-1], ("street 1", "street 3", "street 6", "quiet, minutes"))
    scores = of_program(drawn)
    # 155 cases: chance moves a share of 95 % by 2
    assert 88 <= inside(scores, 0.95).mean() <= 99.5
    assert 88 <= level_inside(scores, 0.95) <= 100
    assert np.mean([one.kept_day for one in scores]) >= 0.85
    rival = [score(case, simple(case)) for case in drawn]
    ours, theirs = (np.mean([one.crps_mean for one in of]) for of in (scores, rival))
    assert ours <= 1.03 * theirs


@needs_levels
def test_a_night_alone_is_promised_nothing():
    scores = of_program(all_cases(3, (NIGHT,), ("street 1", "quiet, minutes")))
    assert {one.safe_db for one in scores} == {np.inf}
