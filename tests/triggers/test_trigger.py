"""Every firing against a slow reading of the definition, row by row."""

import numpy as np
import pytest
from numpy.typing import NDArray

from audiolevel.ground.errors import SettingError
from audiolevel.metering.decibels import centibels
from audiolevel.metering.level_changes import series
from audiolevel.triggers.trigger import MODES, Trigger, firings, sweep


def slow_firings(level: NDArray[np.float64], trigger: Trigger) -> list[int]:
    """The definition, a row at a time, in floating point on the rounded levels."""
    h, window = 0.01, round(trigger.window_s / 0.01)
    armed, held = False, 0
    fired: list[int] = []
    for k, y in enumerate(level.tolist()):
        before = level[max(0, k - window) : k]
        rise = len(before) > 0 and y - before.min() >= trigger.at_db - 1e-9
        fall = len(before) > 0 and before.max() - y >= trigger.at_db - 1e-9
        if trigger.mode == "threshold":
            condition = y >= trigger.at_db - 1e-9
            false = y < trigger.at_db - trigger.release_db - 1e-9
        else:
            condition = {"rise": rise, "fall": fall, "change": rise or fall}[trigger.mode]
            false = not condition
        held = held + 1 if condition else 0
        if fired and false:
            armed = True
        if (k + 1) * h < max(trigger.window_s, 1.0) - 1e-9:
            continue
        rested = not fired or (armed and (k - fired[-1]) * h >= trigger.rearm_s - 1e-9)
        if held > round(trigger.hold_s / h) and rested:
            fired.append(k)
            armed = False
    return fired


def _history(kind: int, rng: np.random.Generator) -> NDArray[np.float64]:
    if kind % 2:
        return np.asarray(np.round(np.cumsum(rng.normal(0, 0.7, 3000)), 2), dtype=np.float64)
    smooth = np.convolve(rng.normal(0, 20, 3020), np.ones(21) / 21, "valid")
    return np.asarray(np.round(-50 + smooth, 2), dtype=np.float64)


@pytest.mark.parametrize("mode", MODES)
def test_random_settings_fire_where_the_definition_says(mode: str) -> None:
    rng = np.random.default_rng(8)
    total = 0
    for kind in range(60):
        level = _history(kind, rng)
        at = rng.uniform(level.min(), level.max()) if mode == "threshold" else rng.uniform(0.5, 15)
        trigger = Trigger(
            mode,
            # whole tenths too: the border itself counts as reached
            float(np.round(at, 1 if kind % 3 else 4)),
            window_s=float(rng.choice([0.1, 0.5, 1.0, 2.0])),
            hold_s=float(rng.choice([0.0, 0.05, 0.2])),
            rearm_s=float(rng.choice([0.0, 1.0, 3.0])),
            release_db=float(rng.choice([0.0, 2.0, 5.0])),
        )
        expected = slow_firings(level, trigger)
        assert firings(level, trigger).tolist() == expected, trigger
        total += len(expected)
    assert total > 100


def test_a_level_at_the_threshold_fires_and_one_hundredth_below_does_not() -> None:
    quiet = np.full(300, -60.0)
    quiet[200] = -40.0
    assert firings(quiet, Trigger("threshold", -40.0)).tolist() == [200]
    quiet[200] = -40.01
    assert firings(quiet, Trigger("threshold", -40.0)).tolist() == []


def test_not_armed_in_the_first_second_nor_before_the_window_is_full() -> None:
    loud = np.full(500, -20.0)
    assert firings(loud, Trigger("threshold", -40.0)).tolist() == [99]
    assert firings(loud, Trigger("threshold", -40.0, window_s=3.0)).tolist() == [299]


def test_a_level_that_never_falls_below_its_release_fires_once() -> None:
    level = np.full(5000, -60.0)
    level[200:] = -30.0
    level[2500] = -41.5  # below the threshold, not below the release
    assert firings(level, Trigger("threshold", -40.0)).tolist() == [200]
    level[2500] = -42.01
    assert firings(level, Trigger("threshold", -40.0)).tolist() == [200, 2501]


def test_hold_counts_from_when_the_condition_became_true() -> None:
    level = np.full(400, -60.0)
    level[200:230] = -30.0
    assert firings(level, Trigger("threshold", -40.0, hold_s=0.2)).tolist() == [220]
    assert firings(level, Trigger("threshold", -40.0, hold_s=0.3)).tolist() == []


def test_a_sweep_is_its_settings_one_by_one() -> None:
    level = _history(0, np.random.default_rng(9))
    trigger = Trigger("threshold", 0.0, rearm_s=1.0)
    settings = np.arange(-60, -40, 0.5).tolist()
    for setting, rows in zip(settings, sweep(centibels(level), trigger, settings), strict=True):
        assert rows.tolist() == firings(level, trigger.at(setting)).tolist()


def test_changes_do_not_depend_on_gain() -> None:
    level = _history(1, np.random.default_rng(10))
    for mode in ("rise", "fall", "change"):
        trigger = Trigger(mode, 4.0, rearm_s=1.0)
        assert firings(level, trigger).tolist() == firings(level - 20, trigger).tolist()


@pytest.mark.parametrize(
    ("values", "match"),
    [
        ({"mode": "burst", "at_db": 3.0}, "choose one of threshold, rise, fall, change"),
        ({"mode": "rise", "at_db": 0.0}, "change_db = 0: must lie between 0.01 and 200"),
        ({"mode": "rise", "at_db": 1e308}, r"change_db = 1e\+308: must lie between 0.01 and 200"),
        ({"mode": "rise", "at_db": 3.0, "window_s": 0.001}, "window_s = 0.001: must lie"),
        ({"mode": "threshold", "at_db": float("nan")}, "level_db = nan: must lie between -300"),
        ({"mode": "threshold", "at_db": float("inf")}, "level_db = inf: must lie between -300"),
        ({"mode": "threshold", "at_db": -3.0, "rearm_s": -1.0}, "between 0 and 86400"),
        ({"mode": "threshold", "at_db": -3.0, "hold_s": 1e300}, "between 0 and 600"),
        ({"mode": "threshold", "at_db": -3.0, "release_db": 61.0}, "between 0 and 60"),
    ],
)
def test_settings_without_sense_are_refused(values: dict[str, object], match: str) -> None:
    with pytest.raises(SettingError, match=match):
        Trigger(**values)  # type: ignore[arg-type]


def test_changes_are_the_same_in_stretches(monkeypatch: pytest.MonkeyPatch) -> None:
    level = centibels(_history(1, np.random.default_rng(18)))
    for mode in ("rise", "fall", "change"):
        whole = series(level, mode, 100)
        monkeypatch.setattr("audiolevel.metering.level_changes._ROWS_AT_ONCE", 257)
        assert np.array_equal(series(level, mode, 100), whole)
        monkeypatch.undo()


# --- coarse rows, worked by hand -----------------------------------------------------------------


def test_a_threshold_on_rows_of_a_second() -> None:
    """At −40, release 2, re-arm 10 s; a firing in row k is told at the row's end, k + 1 s."""
    level = np.full(40, -60.0)
    level[[0, 5, 9]] = -30  # armed from the end of the first second; 5 and 9 are in the re-arm time
    level[10] = -40  # exactly ten seconds on, exactly at the level
    level[11:31] = -41  # not released: that takes less than −42
    level[27] = -35
    level[32] = -35  # row 31 was below −42
    assert firings(level, Trigger.threshold(level_db=-40), 1.0).tolist() == [0, 10, 32]
    without_release = Trigger.threshold(level_db=-40, release_db=0.0)
    assert firings(level, without_release, 1.0).tolist() == [0, 10, 27]


def test_a_threshold_with_hold_on_rows_of_an_eighth_of_a_second() -> None:
    """Hold 0.25 s is two rows more, re-arm 1 s eight, and nothing fires before row 7 (1 s)."""
    level = np.full(80, -60.0)
    for first, stop in ((0, 9), (10, 12), (20, 24), (26, 30), (40, 46)):
        level[first:stop] = -30
    trigger = Trigger.threshold(level_db=-40, hold_s=0.25, rearm_s=1.0)
    # the first run still holds when the trigger arms; 10-11 and 26-29 come too short or too soon
    assert firings(level, trigger, 0.125).tolist() == [7, 22, 42]


def test_a_rise_needs_four_rows_in_its_window() -> None:
    level = np.full(60, -60.0)
    level[20:24] = [-57, -54, -51, -48]  # 12 dB above the lowest of the four rows before row 23
    level[40:50] = np.linspace(-58, -40, 10)  # 2 dB a row: 8 dB within four rows
    rise = Trigger.rise(change_db=12, window_s=0.5, rearm_s=0.0)
    assert firings(level, rise, 0.125).tolist() == [23]
    with pytest.raises(SettingError, match=r"window of 0\.5 s holds fewer than 4 rows of 0\.166"):
        firings(level, rise, 1 / 6)


@pytest.mark.parametrize("mode", ["rise", "fall", "change"])
def test_what_four_rows_tell_and_three_do_not(mode: str) -> None:
    trigger = Trigger(mode, 6.0, window_s=1.0)
    assert trigger.told_by(0.25)
    assert not trigger.told_by(1 / 3)
    assert not trigger.told_by(1.0)
    assert Trigger.threshold(level_db=-40).told_by(1.0)
