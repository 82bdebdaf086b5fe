"""A sound trigger, and when it fires.

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
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache, partial
from math import ceil
from numbers import Real
from types import MappingProxyType
from typing import TypedDict, Unpack

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array, Centi, IntArray
from audiolevel.ground.errors import SettingError
from audiolevel.metering.calibration import Scale
from audiolevel.metering.decibels import centibels
from audiolevel.metering.gain import check_gain
from audiolevel.metering.level_changes import series
from audiolevel.metering.meter import ROW_S

MODES = ("threshold", "rise", "fall", "change")
# of a function of one's own, which no camera has
CUSTOM = "custom"
Detect = Callable[[Array, float], ArrayLike]
# of a level, without and with a calibration
UNITS = (Scale().unit, Scale(0.0).unit)
# (lowest, highest), both allowed; of a site file's keys too
RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "window_s": (0.01, 600.0),
        "hold_s": (0.0, 600.0),
        "rearm_s": (0.0, 86_400.0),
        "release_db": (0.0, 60.0),
    }
)
# hundredths of a dB in 16 bits reach 327 dB; no level and no step of a microphone comes near these
_LEVELS_DB = (-300.0, 300.0)
_CHANGES_DB = (0.01, 200.0)
_ARMED_AFTER_S = 1.0
# a plan's JSON has gains to hundredths of a decibel
_SAME_GAIN_DB = 0.006
# fewer rows in the window of a coarse log do not tell a rise from what lies between two rows
FEWEST_WINDOW_ROWS = 4


class Times(TypedDict, total=False):
    """What a trigger has beside its setting: as the attributes of `Trigger`."""

    window_s: float
    hold_s: float
    rearm_s: float
    release_db: float
    gain_db: float | None


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
    unit : str or None
        Of a threshold's level: "dB SPL", "dB FS", or None, that of whatever it is used with; of a
        change always "dB".
    gain_db : float or None
        Relative to the recording, of the gain that it is for; None is the recorded gain, or
        whatever gain it is tried at.
    detect : callable or None
        Of a trigger of one's own (`custom`).

    Raises
    ------
    SettingError
        An unknown mode or unit, or a value that no trigger has (`RANGES`).
    """

    mode: str
    at_db: float
    window_s: float = 1.0
    hold_s: float = 0.0
    rearm_s: float = 10.0
    release_db: float = 2.0
    unit: str | None = None
    gain_db: float | None = None
    detect: Detect | None = None

    def __post_init__(self) -> None:
        if (self.mode == CUSTOM) != (self.detect is not None):
            raise SettingError(f"trigger mode {CUSTOM!r}: goes with a function; Trigger.custom")
        if self.mode not in (*MODES, CUSTOM):
            raise SettingError(f"trigger mode {self.mode!r}: choose one of {', '.join(MODES)}")
        of_level = self.mode == "threshold"
        units = UNITS if of_level else ("dB",)
        if self.unit not in (None, *units):
            raise SettingError(
                f"trigger unit {self.unit!r}: of a {self.mode} it is {' or '.join(units)}"
            )
        object.__setattr__(self, "unit", self.unit if of_level else "dB")
        if self.detect is not None and not callable(self.detect):
            raise SettingError("trigger detect: is no function of levels and a setting")
        if self.gain_db is not None:
            check_gain(self.gain_db, "trigger gain")
        at = ("level_db", _LEVELS_DB) if of_level else ("change_db", _CHANGES_DB)
        at = ("at_db", _LEVELS_DB) if self.detect is not None else at
        values = [(*at, self.at_db)]
        values += [(name, reach, getattr(self, name)) for name, reach in RANGES.items()]
        for name, (low, high), value in values:
            if not isinstance(value, Real):
                raise SettingError(f"trigger {name}: {value!r} is no number")
            # nan lies in no range
            if not low <= value <= high:
                raise SettingError(
                    f"trigger {name} = {value:g}: must lie between {low:g} and {high:g}"
                )

    def __repr__(self) -> str:
        said = " ".join([f"{self.mode} at {self.at_db:g}", *filter(None, [self.unit])])
        if self.gain_db is not None:
            said += f", gain {self.gain_db:+g} dB"
        usual = {one.name: one.default for one in fields(self)}
        own = [
            f", {name} {getattr(self, name):g}"
            for name in RANGES
            if getattr(self, name) != usual[name]
        ]
        return f"<Trigger: {said}{''.join(own)}>"

    @classmethod
    def threshold(
        cls,
        *,
        level_db: float,
        unit: str | None = None,
        **times: Unpack[Times],
    ) -> "Trigger":
        """A trigger that fires at or above a level; `times` are the other attributes."""
        return cls("threshold", level_db, unit=unit, **times)

    @classmethod
    def rise(cls, *, change_db: float, **times: Unpack[Times]) -> "Trigger":
        """A trigger that fires on a rise within its window."""
        return cls("rise", change_db, **times)

    @classmethod
    def fall(cls, *, change_db: float, **times: Unpack[Times]) -> "Trigger":
        """A trigger that fires on a fall within its window."""
        return cls("fall", change_db, **times)

    @classmethod
    def change(cls, *, change_db: float, **times: Unpack[Times]) -> "Trigger":
        """A trigger that fires on a rise or a fall within its window."""
        return cls("change", change_db, **times)

    @classmethod
    def custom(
        cls,
        detect: Detect,
        *,
        at_db: float = 0.0,
        rearm_s: float = 10.0,
        gain_db: float | None = None,
    ) -> "Trigger":
        """A detector of one's own, swept like any other.

        Parameters
        ----------
        detect : callable
            Given the levels, shape (rows,), in the unit of the site, and a setting; returns the
            rows at which it fires.
        at_db : float
            The setting.
        rearm_s : float
            It can fire once in so long: no more than that is predicted.
        gain_db : float, optional
            As of any trigger.

        Examples
        --------
        Fires in each row that is 20 dB above the median:

        >>> import numpy as np
        >>> loud = lambda level, at: np.flatnonzero(level > np.median(level) + at)
        >>> Trigger.custom(loud, at_db=20)
        <Trigger: custom at 20 dB>
        """
        return cls(CUSTOM, at_db, rearm_s=rearm_s, gain_db=gain_db, detect=detect)

    @property
    def extrapolates(self) -> bool:
        """Whether counts of this mode may be carried beyond what was heard (docs/counting.md)."""
        return self.mode == "threshold"

    def window_rows(self, interval_s: float) -> int:
        """Rows before the present one that a change looks back on."""
        return round(self.window_s / interval_s)

    def told_by(self, interval_s: float) -> bool:
        """Whether rows so far apart tell when it fires: a level always, a change by four rows."""
        return self.mode == "threshold" or self.window_rows(interval_s) >= FEWEST_WINDOW_ROWS

    def armed_from(self, interval_s: float) -> int:
        """First row at which it can fire."""
        # one less, because row k ends at (k + 1) · interval_s
        return rows_of(max(self.window_s, _ARMED_AFTER_S), interval_s) - 1

    @property
    def released_by_db(self) -> float:
        """How far below its setting it is released; a change as soon as it is below."""
        return self.release_db if self.mode == "threshold" else 0.0

    def at(self, at_db: float) -> "Trigger":
        """The same trigger at another level or change."""
        return replace(self, at_db=at_db)

    def in_full_scale(self, scale: Scale, gain_db: float = 0.0) -> "Trigger":
        """The same with its level in dB FS at a gain.

        Parameters
        ----------
        scale : Scale
            Of what it is used with.
        gain_db : float
            Relative to the recording.

        Raises
        ------
        SettingError
            Its level is in another unit, or in dB FS at another gain.
        """
        if self.detect is not None:
            own, shift_db = self.detect, scale.shown(0.0, gain_db)
            return replace(self, gain_db=gain_db, detect=lambda laf, at: own(laf + shift_db, at))
        if self.mode != "threshold":
            return replace(self, gain_db=gain_db)
        if self.unit not in (None, scale.unit):
            raise SettingError(
                f"trigger: its level is in {self.unit}, those here are in {scale.unit}; give the "
                "site with the calibration that it was made with"
            )
        # a sound pressure is the same at every gain
        own_db = gain_db if self.gain_db is None else self.gain_db
        if UNITS[0] == scale.unit and abs(own_db - gain_db) > _SAME_GAIN_DB:
            raise SettingError(
                f"trigger: its level in dB FS is for a gain of {self.gain_db:+g} dB, not "
                f"{gain_db:+g} dB; use it at its own gain, or calibrate the site"
            )
        at_db = scale.full_scale(self.at_db, gain_db)
        return replace(self, at_db=at_db, unit=UNITS[0], gain_db=gain_db)


def firings(level_db: ArrayLike, trigger: Trigger, interval_s: float = ROW_S) -> IntArray:
    """Rows at which the trigger fires, in order.

    Parameters
    ----------
    level_db : array_like, shape (rows,)
        The detector's level; row k is heard until t = (k + 1) · interval_s.
    """
    return sweep(centibels(level_db), trigger, [trigger.at_db], interval_s)[0]


def sweep(
    level: Centi, trigger: Trigger, settings_db: Sequence[float], interval_s: float = ROW_S
) -> list[IntArray]:
    """Rows at which the trigger fires, for each of several levels or changes.

    Parameters
    ----------
    level : array of int16, shape (rows,)
        In hundredths of a dB (`centibels`).
    settings_db : sequence of float
        Take the place of `trigger.at_db`.
    interval_s : float
        Of a row.

    Returns
    -------
    list of arrays, one for each setting

    Raises
    ------
    SettingError
        A change whose window has fewer than four rows of a coarse log.
    """
    if not len(level):
        return [np.zeros(0, dtype=np.int64) for _ in settings_db]
    if trigger.detect is not None:
        return [_own_firings(level / 100, trigger, at) for at in settings_db]
    if interval_s > ROW_S and not trigger.told_by(interval_s):
        raise SettingError(
            f"mode {trigger.mode}: a window of {trigger.window_s:g} s holds fewer than "
            f"{FEWEST_WINDOW_ROWS} rows of {interval_s:g} s, which tell no change; take threshold, "
            "a longer window or the recording"
        )
    watched = series(level, trigger.mode, max(1, trigger.window_rows(interval_s)))
    # as many levels are kept as lie between a level and its release in a sweep by half decibels
    runs = lru_cache(maxsize=8)(partial(_runs_at_or_above, watched))
    return [
        _fire(
            runs(met_from(setting)),
            runs(met_from(setting - trigger.released_by_db)),
            hold_rows=rows_of(trigger.hold_s, interval_s),
            rearm_rows=rows_of(trigger.rearm_s, interval_s),
            armed_from=trigger.armed_from(interval_s),
        )
        for setting in settings_db
    ]


def _own_firings(level_db: Array, trigger: Trigger, at_db: float) -> IntArray:
    """What a detector of somebody's own gives, as rows in order, each once."""
    assert trigger.detect is not None  # asked for such a one only
    found = np.asarray(trigger.detect(level_db, at_db))
    good = found.ndim == 1 and (found.dtype.kind in "iu" or not found.size)
    if not good or (found.size and not 0 <= found.min() <= found.max() < len(level_db)):
        raise SettingError(
            f"trigger detect: must return the numbers of rows from 0 to {len(level_db) - 1}, as "
            "np.flatnonzero does"
        )
    return np.unique(found.astype(np.int64))


def _runs_at_or_above(watched: Centi, centi: int) -> tuple[IntArray, IntArray]:
    """First rows, and rows after the last, of each run at or above a level."""
    above = watched >= centi
    # one more: a change between rows k and k + 1 begins a run at k + 1
    edges = np.flatnonzero(above[1:] != above[:-1]) + 1
    # a run that lasts to an end of the history has no edge there
    if above[0]:
        edges = np.concatenate([[0], edges])
    if above[-1]:
        edges = np.concatenate([edges, [len(above)]])
    return edges[::2], edges[1::2]


def rows_of(seconds: float, interval_s: float) -> int:
    """Rows that a time takes, a begun one too."""
    # the billionth keeps a rounding error of the division from adding a row
    return ceil(seconds / interval_s - 1e-9)


def met_from(at_db: float) -> int:
    """The hundredth from which on a setting is met; one between two is met from the next."""
    return ceil(round(at_db * 100, 6))


def _fire(
    held: tuple[IntArray, IntArray],
    unreleased: tuple[IntArray, IntArray],
    *,
    hold_rows: int,
    rearm_rows: int,
    armed_from: int,
) -> IntArray:
    """Walk from firing to firing; the runs say where the condition holds and where it is false."""
    # the hold begins with the run's first row, so h rows of hold take h + 1 rows
    long_enough = held[1] - held[0] > hold_rows
    first = (held[0][long_enough] + hold_rows).tolist()
    after = held[1][long_enough].tolist()
    busy_from, busy_to = (part.tolist() for part in unreleased)
    fired: list[int] = []
    row, run = armed_from, 0
    # runs that end before the trigger can fire again are passed over by bisection
    while (run := bisect_right(after, row, run)) < len(after):
        at = max(first[run], row)
        fired.append(at)
        # false at least once since: sought from the row after the firing
        released = at + 1
        # the run at or above the release level that this row lies in, if any
        busy = bisect_right(busy_from, released) - 1
        if busy >= 0 and busy_to[busy] > released:
            released = busy_to[busy]
        # dead time over, and the row after the first false one
        row = max(at + rearm_rows, released + 1)
    return np.array(fired, dtype=np.int64)
