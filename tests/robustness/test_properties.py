"""What holds of any input: levels that follow the sound."""

import contextlib
import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from audiolevel.batch.changes import moves
from audiolevel.batch.overview import by_site_and_hour, drifts
from audiolevel.ground.errors import AudioLevelError
from audiolevel.metering.decibels import level_db, mean_square
from audiolevel.metering.measurement import measure
from audiolevel.metering.parts import Part
from audiolevel.metering.recordings import recording_of_array
from audiolevel.triggers.trigger import Trigger, firings
from tests.batch.test_overview import record_with

# a folder of a test serves all its examples: each writes its own file anew
ONE_FOLDER = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


WAVES = st.integers(0, 10**6).map(
    lambda seed: (
        np.repeat(10 ** np.random.default_rng(seed).uniform(-3, -1, 4), 8000)
        * np.random.default_rng(seed + 1).normal(0, 1, 32_000)
    )
)


@settings(deadline=None, max_examples=20)
@given(wave=WAVES, gain_db=st.floats(-40, 10))
def test_levels_rise_by_what_the_sound_is_made_louder(wave: np.ndarray, gain_db: float) -> None:
    louder = wave * 10 ** (gain_db / 20)
    assume(np.abs(louder).max() < 1)
    a, b = (measure(recording_of_array(one, 8000)).levels for one in (wave, louder))
    for name in ("laeq_db", "lceq_db", "lzeq_db", "lafmax_db", "lae_db"):
        assert getattr(b, name) - getattr(a, name) == pytest.approx(gain_db, abs=0.021)
    for name, value in a.percentiles_db.items():
        assert b.percentiles_db[name] - value == pytest.approx(gain_db, abs=0.03)


@settings(deadline=None, max_examples=20)
@given(wave=WAVES)
def test_levels_keep_their_order(wave: np.ndarray) -> None:
    levels = measure(recording_of_array(wave, 8000)).levels
    exceeded = list(levels.percentiles_db.values())
    # what is exceeded for less of the time is no lower
    assert exceeded == sorted(exceeded, reverse=True)
    assert levels.lafmin_db <= exceeded[-1] + 0.01
    assert exceeded[0] <= levels.lafmax_db + 0.01
    assert levels.lasmax_db <= levels.lafmax_db + 0.01
    # a mean of energies lies between the lowest and the highest
    assert levels.lafmin_db <= levels.laeq_db <= levels.lafmax_db
    assert levels.lae_db == pytest.approx(levels.laeq_db + 10 * math.log10(4), abs=0.011)


@settings(deadline=None, max_examples=20)
@given(wave=WAVES, level=st.floats(-60, -10), release=st.floats(0, 6))
def test_firings_are_apart_by_the_re_arm_time_and_at_the_level(
    wave: np.ndarray, level: float, release: float
) -> None:
    measured = measure(recording_of_array(wave, 8000), keep_levels=True)
    assert measured.laf is not None
    laf = measured.laf / 100
    trigger = Trigger.threshold(level_db=level, rearm_s=0.5, release_db=release)
    rows = firings(laf, trigger, 0.01)
    assert (np.diff(rows) >= 50).all()
    assert (laf[rows] >= level).all()
    # never before it is armed
    assert not len(rows) or rows[0] >= 99


@given(st.lists(st.floats(-190, 20), min_size=1, max_size=50))
def test_decibels_and_mean_squares_undo_each_other(levels: list[float]) -> None:
    there = mean_square(np.array(levels))
    np.testing.assert_allclose(level_db(there), levels, atol=1e-6)


@given(st.floats(0, 1e6), st.floats(0, 1e6), st.sampled_from([0.01, 0.025, 0.1, 1 / 3, 1.0]))
@example(0.1, 0.3, 0.1)
def test_rows_of_a_part_lie_in_it(first: float, length: float, row_s: float) -> None:
    with contextlib.suppress(AudioLevelError):
        part = Part(first, first + length)
        begin, stop = part.rows(row_s)
        assert stop is not None
        assert begin * row_s >= first - 1e-5 * row_s - 1e-9
        assert stop * row_s <= first + length + 1e-5 * row_s + 1e-9


RECORDS = st.lists(
    st.tuples(st.floats(-100, 0), st.floats(1, 1e4), st.integers(0, 23)), min_size=1, max_size=12
)


@given(RECORDS, st.randoms(use_true_random=False))
def test_a_mean_lies_between_its_parts_in_whatever_order(
    parts: list[tuple[float, float, int]], rng: object
) -> None:
    records = [
        record_with(f"{i}", level, duration_s=length, start=f"2026-03-02T{hour:02d}:00")
        for i, (level, length, hour) in enumerate(parts)
    ]
    rows = by_site_and_hour(records)
    rng.shuffle(records)  # type: ignore[attr-defined]  # a random.Random
    again = by_site_and_hour(records)
    for a, b in zip(rows, again, strict=True):
        assert (a.hour, a.recordings) == (b.hour, b.recordings)
        assert a.laeq_db == pytest.approx(b.laeq_db, abs=1e-9)
        own = [level for level, _, hour in parts if hour == a.hour]
        assert min(own) - 1e-9 <= a.laeq_db <= max(own) + 1e-9


@given(
    st.lists(st.tuples(st.integers(1, 28), st.floats(-60, -20)), min_size=3, max_size=12),
    st.floats(-20, 20),
)
def test_a_drift_does_not_ask_how_loud_the_site_is(
    visits: list[tuple[int, float]], by_db: float
) -> None:
    def found(shift: float) -> list[tuple[float, float]]:
        records = [
            record_with(f"{i}", level + shift, start=f"2026-03-{day:02d}T10:00")
            for i, (day, level) in enumerate(visits)
        ]
        return [(one.db_per_30_days, one.within_db) for one in drifts(records)]

    np.testing.assert_allclose(found(by_db), found(0.0), rtol=1e-6, atol=1e-6)


@given(st.floats(-60, -20), st.floats(-30, 30), st.floats(0, 10))
def test_a_change_of_all_levels_is_told_once_and_undone_by_its_opposite(
    level: float, by_db: float, tolerance: float
) -> None:
    assume(abs(abs(by_db) - tolerance) > 1e-6)
    before, now = record_with("a", level), record_with("a", level + by_db)
    there = moves({"a": before}, [now], tolerance)
    back = moves({"a": now}, [before], tolerance)
    assert len(there) == len(back) == (abs(by_db) > tolerance)
    for one, other in zip(there, back, strict=True):
        assert one.difference == pytest.approx(-(other.difference or 0.0))
        assert one.difference == pytest.approx(by_db, abs=1e-6)
