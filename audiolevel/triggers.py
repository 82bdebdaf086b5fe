"""When would a sound trigger fire?

Four modes on a level history y (LAF every 10 ms): `threshold` (the level is at or above
`level_db`), `rise` and `fall` (it is `change_db` or more above the lowest, below the highest, of
the `window_s` before) and `change` (rise or fall). Every mode is a threshold on one series: the
level itself, or the change within the window (`series`).

The detector is not armed before t = max(window_s, 1 s). It fires at the first row where its
condition has held for `hold_s`. It can fire again when `rearm_s` have passed *and* the condition
has been false at least once since; for `threshold`, false means below `level_db − release_db`.
All comparisons are made in whole hundredths of a dB, the resolution of the history.

Entry points: `Trigger`, `firings`, `sweep`.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from math import ceil, isfinite

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audiolevel.errors import SettingError
from audiolevel.levels import ROW_S

MODES = ("threshold", "rise", "fall", "change")
_ARMED_AFTER_S = 1.0
_ROWS_AT_ONCE = 1_000_000

Centi = NDArray[np.int16]


@dataclass(frozen=True)
class Trigger:
    """The settings of a sound trigger.

    Attributes
    ----------
    mode : str
        One of `MODES`.
    at_db : float
        `level_db` of a threshold, `change_db` of the other modes.
    window_s, hold_s, rearm_s, release_db : float
        As in the module's account; `release_db` is for `threshold` only.

    Raises
    ------
    SettingError
        An unknown mode, a value that is not finite or negative, or a window under 10 ms.
    """

    mode: str
    at_db: float
    window_s: float = 1.0
    hold_s: float = 0.0
    rearm_s: float = 10.0
    release_db: float = 2.0

    def __post_init__(self) -> None:
        if self.mode not in MODES:
            raise SettingError(f"trigger mode {self.mode!r}: choose one of {', '.join(MODES)}")
        for name in ("at_db", "window_s", "hold_s", "rearm_s", "release_db"):
            value = getattr(self, name)
            if not isfinite(value) or (value < 0 and name != "at_db"):
                raise SettingError(f"trigger {name} = {value}: must be a number, not negative")
        if self.window_s < ROW_S:
            raise SettingError(f"trigger window_s = {self.window_s}: must be at least {ROW_S} s")
        if self.mode != "threshold" and self.at_db <= 0:
            raise SettingError(f"trigger change_db = {self.at_db}: must be above 0 dB")

    @property
    def extrapolates(self) -> bool:
        """Whether counts of this mode may be carried beyond what was heard (docs/counting.md)."""
        return self.mode == "threshold"

    def at(self, at_db: float) -> "Trigger":
        """The same trigger at another level or change."""
        return replace(self, at_db=at_db)


def centibels(level_db: ArrayLike) -> Centi:
    """Levels as whole hundredths of a dB, shape as given."""
    return np.rint(np.asarray(level_db, dtype=np.float64) * 100).astype(np.int16)


def series(level: Centi, mode: str, window_rows: int) -> Centi:
    """What a mode compares with its setting, for each row, in hundredths of a dB.

    Parameters
    ----------
    level : array of int16, shape (rows,)
    mode : str
    window_rows : int
        Rows before the present one that `rise`, `fall` and `change` look back on; near the start,
        as many as there are.
    """
    if mode == "threshold":
        return level
    changes = np.empty_like(level)
    # a stretch at a time, so that a day of rows needs no more room than its answer
    for begin in range(0, len(level), _ROWS_AT_ONCE):
        end = min(begin + _ROWS_AT_ONCE, len(level))
        heard = level[max(0, begin - window_rows) : end]
        changes[begin:end] = _changes(heard, mode, window_rows)[begin - end :]
    return changes


def _changes(level: Centi, mode: str, window_rows: int) -> Centi:
    from scipy.ndimage import maximum_filter1d, minimum_filter1d  # kept out of start-up

    padded = np.concatenate([np.full(window_rows, level[0]), level])
    before = slice(window_rows // 2, window_rows // 2 + len(level))
    parts: list[Centi] = []
    if mode in ("rise", "change"):
        parts.append(level - minimum_filter1d(padded, window_rows, mode="nearest")[before])
    if mode in ("fall", "change"):
        parts.append(maximum_filter1d(padded, window_rows, mode="nearest")[before] - level)
    return parts[0] if len(parts) == 1 else np.maximum(*parts)


def firings(level_db: ArrayLike, trigger: Trigger, interval_s: float = ROW_S) -> NDArray[np.int64]:
    """Rows at which the trigger fires, in order.

    Parameters
    ----------
    level_db : array_like, shape (rows,)
        The detector's level; row k is heard until t = (k + 1) · interval_s.
    """
    return sweep(centibels(level_db), trigger, [trigger.at_db], interval_s)[0]


def sweep(
    level: Centi, trigger: Trigger, settings_db: Sequence[float], interval_s: float = ROW_S
) -> list[NDArray[np.int64]]:
    """Rows at which the trigger fires, for each of several levels or changes.

    Parameters
    ----------
    level : array of int16, shape (rows,)
        In hundredths of a dB (`centibels`).
    settings_db : sequence of float
        Take the place of `trigger.at_db`.

    Returns
    -------
    list of arrays, one for each setting
    """
    if not len(level):
        return [np.zeros(0, dtype=np.int64) for _ in settings_db]
    window_rows = round(trigger.window_s / interval_s)
    watched = series(level, trigger.mode, window_rows)
    armed_from = ceil(max(trigger.window_s, _ARMED_AFTER_S) / interval_s - 1e-9) - 1
    release = trigger.release_db if trigger.mode == "threshold" else 0.0
    # as many levels are kept as lie between a level and its release in a sweep by half decibels
    runs = lru_cache(maxsize=8)(partial(_runs_at_or_above, watched))
    return [
        _fire(
            runs(_met_from(setting)),
            runs(_met_from(setting - release)),
            hold_rows=ceil(trigger.hold_s / interval_s - 1e-9),
            rearm_rows=ceil(trigger.rearm_s / interval_s - 1e-9),
            armed_from=armed_from,
        )
        for setting in settings_db
    ]


def _runs_at_or_above(watched: Centi, centi: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First rows, and rows after the last, of each run at or above a level."""
    above = watched >= centi
    edges = np.flatnonzero(above[1:] != above[:-1]) + 1
    if above[0]:
        edges = np.concatenate([[0], edges])
    if above[-1]:
        edges = np.concatenate([edges, [len(above)]])
    return edges[::2], edges[1::2]


def _met_from(at_db: float) -> int:
    """The hundredth from which on a setting is met; one between two is met from the next."""
    return ceil(round(at_db * 100, 6))


def _fire(
    held: tuple[NDArray[np.int64], NDArray[np.int64]],
    unreleased: tuple[NDArray[np.int64], NDArray[np.int64]],
    *,
    hold_rows: int,
    rearm_rows: int,
    armed_from: int,
) -> NDArray[np.int64]:
    """Walk from firing to firing; the runs say where the condition holds and where it is false."""
    long_enough = held[1] - held[0] > hold_rows
    first = (held[0][long_enough] + hold_rows).tolist()
    after = held[1][long_enough].tolist()
    busy_from, busy_to = (part.tolist() for part in unreleased)
    fired: list[int] = []
    row, run = armed_from, 0
    while (run := bisect_right(after, row, run)) < len(after):
        at = max(first[run], row)
        fired.append(at)
        released = at + 1
        busy = bisect_right(busy_from, released) - 1
        if busy >= 0 and busy_to[busy] > released:
            released = busy_to[busy]
        row = max(at + rearm_rows, released + 1)
    return np.array(fired, dtype=np.int64)
