"""Rises within a second, by hand and against a slow count."""

import numpy as np
import pytest

from audiolevel.metering.level_changes import STEPS_DB, RiseCounter


def _counted(history: np.ndarray, size: int) -> dict[int, int]:
    counter = RiseCounter()
    for at in range(0, len(history), size):
        counter.add(history[at : at + size])
    return counter.counts()


def test_steps_by_hand() -> None:
    # a step of 12 dB, a step of 7 dB and a ramp of 20 dB in 4 s, which rises 5 dB in a second
    history = np.concatenate(
        [np.full(500, 40.0), np.full(500, 52.0), np.full(500, 40.0), np.full(500, 47.0)]
    )
    ramp = np.concatenate([history, np.full(300, 40.0), np.linspace(40, 60, 400)])
    for size in (1, 99, 100, 5000):
        assert _counted(ramp, size) == {6: 2, 10: 1, 15: 0, 20: 0}


@pytest.mark.parametrize("size", [50, 777, 100_000])
def test_counts_are_those_of_a_slow_reading(size: int) -> None:
    rng = np.random.default_rng(19)
    history = np.round(np.convolve(rng.normal(0, 60, 6040), np.ones(41) / 41, "valid"), 2)
    stretches: list[float] = []
    up = False
    for k in range(1, len(history)):
        rise = history[k] - history[max(0, k - 100) : k].min()
        if rise >= 6 - 1e-9:
            stretches = [*stretches[:-1], max(stretches[-1], rise)] if up else [*stretches, rise]
        up = bool(rise >= 6 - 1e-9)
    expected = {step: sum(rise >= step - 1e-9 for rise in stretches) for step in STEPS_DB}
    assert _counted(history, size) == expected
    assert expected[6] > expected[15] > 0
