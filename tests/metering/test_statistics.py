"""Sums, percentiles and clipping of a whole recording."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.metering.decibels import centibels
from audiolevel.metering.statistics import Summary
from tests.conformance import as_rows


def _fed(history: np.ndarray, parts: int = 1) -> Summary:
    summary = Summary()
    for part in np.array_split(history, parts):
        summary.add(as_rows(part))
    return summary


def test_percentiles_are_those_of_numpy_without_keeping_the_samples() -> None:
    history = np.round(np.random.default_rng(4).normal(-40, 8, 123_457), 2)
    summary = _fed(history, parts=50)
    for percent in (1, 5, 10, 50, 90, 95, 99):
        exact = np.percentile(history, 100 - percent)
        assert summary.exceeded_db(percent) == pytest.approx(exact, abs=0.011)


def test_gaussian_levels_follow_the_published_relation() -> None:
    # ISO 1996-2:2017 Annex I: LAeq = L50 + 0.115 s²; with s = 5 dB: 2.875 dB above L50
    history = np.random.default_rng(5).normal(-40, 5, 2_000_000)
    levels = _fed(history).levels()
    assert levels.laeq_db - levels.percentiles_db["L50"] == pytest.approx(2.875, abs=0.03)
    assert levels.percentiles_db["L10"] == pytest.approx(-40 + 6.408, abs=0.03)


def test_sound_exposure_level_is_leq_plus_ten_lg_seconds() -> None:
    levels = _fed(np.full(6000, -30.0)).levels()
    assert levels.lae_db == pytest.approx(-30 + 10 * np.log10(60), abs=1e-6)


def test_two_summaries_together_are_one() -> None:
    history = np.round(np.random.default_rng(6).normal(-40, 8, 20_000), 2)
    one, first, second = _fed(history), _fed(history[:7000]), _fed(history[7000:])
    first.include(second)
    assert first.levels().laeq_db == pytest.approx(one.levels().laeq_db, abs=1e-9)
    assert first.levels().percentiles_db == one.levels().percentiles_db


@pytest.mark.parametrize("parts", [1, 2, 7, 100])
def test_longest_run_of_clipping_goes_on_from_block_to_block(parts: int) -> None:
    clipped = np.zeros(1000)
    clipped[150:190] = 0.5
    clipped[700:707] = 1.0
    rows = as_rows(np.full(1000, -30.0))
    summary = Summary()
    for part in np.array_split(np.arange(1000), parts):
        piece = rows[slice(part[0], part[-1] + 1)]
        summary.add(replace(piece, clipped=clipped[part]))
    found = summary.clipping()
    assert found.longest_run_s == pytest.approx(0.40)
    assert found.clipped_share == pytest.approx((40 * 0.5 + 7) / 1000)
    assert found.verdict == "heavy"


def test_a_summary_without_silence_is_that_of_the_sound() -> None:
    sound = np.round(np.random.default_rng(4).normal(-40, 8, 20_000), 2)
    silence = np.full(30_000, -200.0)
    left = _fed(np.append(sound, silence)).without(centibels(silence))
    alone = _fed(sound)
    assert left.rows == alone.rows
    own, other = left.levels(), alone.levels()
    assert own.percentiles_db == other.percentiles_db
    assert own.lafmin_db == pytest.approx(other.lafmin_db, abs=0.011)
    assert own.laeq_db == pytest.approx(other.laeq_db, abs=1e-6)
