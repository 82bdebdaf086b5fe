"""Settings of a plan and what each does, every level in the plan's unit."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from audiolevel.api.frames import frame
from audiolevel.counting.expected import Expected
from audiolevel.ground.arrays import Array, IntArray
from audiolevel.ground.intervals import Interval
from audiolevel.planning.plan_record import (
    CurveDetectionRecord,
    CurveRecord,
    DetectionRecord,
    ExpectedRecord,
    OptionRecord,
    PlanRecord,
)
from audiolevel.report.words.settings import gain_words, rate
from audiolevel.triggers.trigger import Trigger

if TYPE_CHECKING:
    import pandas as pd

    from audiolevel.report.figures import Axes


@dataclass(frozen=True)
class Setting:
    """A gain and a trigger, with what they do.

    Attributes
    ----------
    trigger : Trigger
        With its unit and the gain that it is for.
    gain_setting : float, str or None
        The camera's own name or number for that gain.
    expected : Expected
        Firings to expect.
    catches : mapping of str to Interval
        Chance, 0 to 1, that each wanted or marked sound fires it.
    basis : str
        How it keeps the limit: "safe" (90 % sure), "best" (by the best estimate) or "none".
    shown : Interval or None
        Its level on the camera's own scale; None without readings of it.
    """

    trigger: Trigger
    gain_setting: float | str | None
    expected: Expected
    catches: Mapping[str, Interval] = field(default_factory=dict)
    basis: str = "none"
    shown: Interval | None = None

    def __repr__(self) -> str:
        at = f"{self.trigger.mode} at {self.trigger.at_db:g} {self.unit}"
        return f"<Setting: {gain_words(self.gain_db, self.gain_setting)}; {at}: {self._fires}>"

    @property
    def _fires(self) -> str:
        return rate(self.expected)

    @property
    def unit(self) -> str:
        """Of its level or change."""
        return self.trigger.unit or ""

    @property
    def gain_db(self) -> float:
        """Relative to the recording."""
        return self.trigger.gain_db or 0.0

    def row(self) -> dict[str, Any]:
        """Its figures by name: a row of `Plan.to_frame`."""
        counted = self.expected.rate
        return {
            "gain_db": self.gain_db,
            "gain_setting": self.gain_setting,
            "mode": self.trigger.mode,
            "at_db": self.trigger.at_db,
            "unit": self.unit,
            "per_day": counted.best,
            "low_per_day": counted.low,
            "high_per_day": counted.high,
            "basis": self.basis,
            **{f"catches {sound}": chance.best for sound, chance in self.catches.items()},
        }


@dataclass(frozen=True, eq=False)
class Curve:
    """What one mode does at one gain, at every setting that was tried.

    Attributes
    ----------
    mode : str
    gain_db : float
        Relative to the recording.
    unit : str
        Of `settings_db`.
    settings_db : array, shape (n,)
        Levels, or changes.
    seen : array of int, shape (n,)
        Firings in the recordings.
    per_day, low_per_day, high_per_day : arrays, shape (n,)
        Mean daily rate and its interval; nan where only the upper end is honest.
    catches : mapping of str to array, shape (n,)
        Chance, 0 to 1, that each wanted or marked sound fires it.
    """

    mode: str
    gain_db: float
    unit: str
    settings_db: Array
    seen: IntArray
    per_day: Array
    low_per_day: Array
    high_per_day: Array
    catches: Mapping[str, Array] = field(default_factory=dict)

    def __repr__(self) -> str:
        low, high = self.settings_db[[0, -1]]
        reach = f"{low:g} to {high:g} {self.unit}"
        return f"<Curve: {self.mode} from {reach}, gain {self.gain_db:+g} dB>"

    def __len__(self) -> int:
        return len(self.settings_db)

    def to_frame(self) -> "pd.DataFrame":
        """A row a setting, as a pandas DataFrame."""
        names = ("settings_db", "seen", "per_day", "low_per_day", "high_per_day")
        columns = {name: getattr(self, name) for name in names}
        return frame(columns | {f"catches {name}": of for name, of in self.catches.items()})

    def plot(self, ax: "Axes | None" = None) -> "Axes":
        """Draw firings a day against the setting, with their interval."""
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.figures import axes_of

        axes = axes_of(ax)
        axes.fill_between(self.settings_db, self.low_per_day, self.high_per_day, alpha=0.25)
        axes.plot(self.settings_db, self.per_day)
        axes.set_yscale("symlog", linthresh=0.1)
        axes.set_xlabel(f"{self.mode}, {self.unit}")
        axes.set_ylabel("firings a day")
        return axes


def setting_of(option: OptionRecord, plan: PlanRecord) -> Setting:
    """A setting as a plan's JSON holds it."""
    level = option.mode == "threshold"
    trigger = Trigger(
        option.mode,
        option.setting_db,
        window_s=1.0 if option.window_s is None else option.window_s,
        hold_s=option.hold_s,
        rearm_s=option.rearm_s,
        release_db=option.release_db,
        unit=plan.reference if level else None,
        gain_db=option.gain_db,
    )
    shown, within = option.display_level, option.display_uncertainty
    return Setting(
        trigger,
        option.gain_setting,
        _expected(option.expected, plan),
        {_name(one): _chance(one) for one in option.detection},
        option.basis,
        None
        if shown is None or within is None
        else Interval(shown, shown - within, shown + within),
    )


def curve_of(curve: CurveRecord, plan: PlanRecord) -> Curve:
    """A curve as a plan's JSON holds it."""
    return Curve(
        curve.mode,
        curve.gain_db,
        plan.reference if curve.mode == "threshold" else "dB",
        _array(curve.settings_db),
        np.array(curve.seen, dtype=np.int64),
        _array(curve.per_day),
        _array(curve.rate_low_per_day),
        _array(curve.rate_high_per_day),
        {_name(one): _array(one.probability) for one in curve.detection or ()},
    )


def _array(values: tuple[float | None, ...]) -> Array:
    # None is a number that nobody knows
    return np.array(values, dtype=np.float64)


def _name(one: DetectionRecord | CurveDetectionRecord) -> str:
    where = "marked" if one.distance_m is None else f"{one.distance_m:g} m"
    return f"{one.sound} ({where})"


def _chance(one: DetectionRecord) -> Interval:
    return Interval(one.probability, _known(one.low, 0.0), _known(one.high, 1.0))


def _expected(one: ExpectedRecord, plan: PlanRecord) -> Expected:
    return Expected(
        per_hour=_between(one.per_hour, one.per_hour_low, one.per_hour_high),
        rate=_between(one.per_day, one.rate_low_per_day, one.rate_high_per_day),
        count=_between(None, one.low_per_day, one.high_per_day),
        method=one.method,
        seen=one.seen,
        heard_s=_known(plan.heard_s, np.nan),
        confidence=one.confidence,
    )


def _between(best: float | None, low: float | None, high: float | None) -> Interval:
    return Interval(best, _known(low, 0.0), _known(high, np.inf))


def _known(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
