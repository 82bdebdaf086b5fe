"""The best setting of each mode at each gain, and the one to recommend.

A setting must keep the limit of false firings, catch the wanted sounds often enough and lie below
the level at which the input begins to clip. Of those that do, the one with most decibels to spare
on both sides is taken; where none does, the nearest on the side of the false firings, with how
much the wanted sounds lack.

Entry points: `options_of`, `recommend`, `Option`, `by_mode`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, BoolArray
from audiolevel.counting.expected import Expected
from audiolevel.metering.calibration import DisplayLine
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.curves import Curve
from audiolevel.planning.placement import DetectionCurve
from audiolevel.site import Site
from audiolevel.triggers.trigger import MODES, Trigger

BASES = ("safe", "best", "reach")
# the loudest sound of a day is some 10 dB above that of ten minutes (docs/counting.md), so a gain
# that leaves less than 12 dB above the highest sample will clip on it; 10 dB below L90 keep the
# noise from adding more than half a decibel
HEADROOM_WANTED_DB = 12.0
FOOTROOM_WANTED_DB = 10.0
_CEILING_MARGIN_DB = 3.0


@dataclass(frozen=True)
class Option:
    """One setting of one mode at one gain, with what is expected of it.

    Attributes
    ----------
    row : int
        Of the setting in the curve.
    basis : str
        "safe": it keeps the limit with 90 % certainty; "best": with even odds; "reach": the limit
        cannot be promised, and this is the highest setting the recording says anything about.
    highest_catching_db : float or None
        The highest setting that still catches every wanted sound often enough; None without wanted
        sounds, minus infinity if no setting does.
    margin_db : float or None
        Decibels to spare on the nearer side; below 0 what the wanted sounds lack.
    """

    gain: GainMargins
    trigger: Trigger
    display_level: float | None
    curve: Curve
    row: int
    basis: str
    highest_catching_db: float | None
    margin_db: float | None

    @property
    def expected(self) -> Expected:
        """Firings to expect of it."""
        return self.curve.prediction.at(self.row)

    @property
    def gain_db(self) -> float:
        """Gain relative to the recording."""
        return self.gain.gain_db

    @property
    def catches_enough(self) -> bool:
        """Whether the wanted sounds are caught as often as asked; True where none are named."""
        return (
            self.highest_catching_db is None
            or self.trigger.at_db <= self.highest_catching_db + 1e-9
        )

    @property
    def other_side_row(self) -> int | None:
        """Where the limits cannot both be met: the highest setting that catches enough."""
        if (
            self.catches_enough
            or self.highest_catching_db is None
            or not np.isfinite(self.highest_catching_db)
        ):
            return None
        settings = self.curve.prediction.settings_db
        return int(np.abs(settings - self.highest_catching_db).argmin())

    @property
    def least_detected(self) -> DetectionCurve | None:
        """The wanted sound that is caught least at this setting, and of equals least overall."""

        def here_then_overall(one: DetectionCurve) -> tuple[float, float]:
            return float(one.probability[self.row]), float(one.probability.sum())

        return min(self.curve.required, key=here_then_overall, default=None)


@dataclass(frozen=True)
class _Choice:
    row: int
    basis: str
    margin_db: float | None


def options_of(
    curves: Sequence[Curve],
    gains: Sequence[GainMargins],
    ceiling_db: float,
    site: Site,
    display: DisplayLine | None,
) -> list[Option]:
    """The best setting of every curve; curves without any are left out.

    Parameters
    ----------
    curves : sequence of Curve
    gains : sequence of GainMargins
        Every gain that was simulated.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    """
    gain_of = {gain.gain_db: gain for gain in gains}
    options = []
    for curve in curves:
        highest_catching_db = _highest_catching_db(curve, site.limits.detection)
        choice = _choose(curve, ceiling_db, highest_catching_db)
        if choice is None:
            continue
        at_db = float(curve.prediction.settings_db[choice.row])
        shows = display if curve.mode == "threshold" else None
        options.append(
            Option(
                gain=gain_of[curve.gain_db],
                trigger=site.trigger.trigger(curve.mode, at_db),
                display_level=None if shows is None else shows.shown(at_db),
                curve=curve,
                row=choice.row,
                basis=choice.basis,
                highest_catching_db=highest_catching_db,
                margin_db=choice.margin_db,
            )
        )
    return options


def _highest_catching_db(curve: Curve, wanted_share: float) -> float | None:
    """The highest setting up to which every wanted sound is caught often enough."""
    if not curve.required:
        return None
    enough = np.flatnonzero(curve.least_probability() >= wanted_share)
    return float(curve.prediction.settings_db[enough[-1]]) if len(enough) else -np.inf


def _choose(curve: Curve, ceiling_db: float, highest_catching_db: float | None) -> _Choice | None:
    prediction = curve.prediction
    settings = prediction.settings_db
    allowed = settings <= ceiling_db if curve.mode == "threshold" else np.full(len(settings), True)
    # the curve's limits may be known a little beyond the reach; the count there is not
    said = allowed & (prediction.method != "upper limit")
    bounds = _bounds(curve)
    for basis, at_db in bounds:
        between = said & (settings >= at_db - 1e-9)
        if highest_catching_db is not None:
            between &= settings <= highest_catching_db + 1e-9
        if between.any():
            return _most_room(settings, between, basis, at_db, highest_catching_db)
    # not both: keep the limit as well as can be, and say what the wanted sounds lack
    for basis, at_db in bounds:
        row = _first(said & (settings >= at_db - 1e-9))
        if row is not None:
            return _Choice(row, basis, _lack(settings[row], highest_catching_db))
    row = _last_said(curve, allowed, said)
    return None if row is None else _Choice(row, "reach", _lack(settings[row], highest_catching_db))


def _bounds(curve: Curve) -> list[tuple[str, float]]:
    """The settings that keep the limit of false firings, the surer first."""
    limit = curve.limit
    if limit is None:
        return []
    pairs = (("safe", limit.safe_db), ("best", limit.best_db))
    return [(basis, at_db) for basis, at_db in pairs if at_db is not None]


def _most_room(
    settings: Array, between: BoolArray, basis: str, at_db: float, highest_catching_db: float | None
) -> _Choice:
    rows = np.flatnonzero(between)
    if highest_catching_db is None:
        return _Choice(int(rows[0]), basis, None)
    margins = np.minimum(settings[rows] - at_db, highest_catching_db - settings[rows])
    best = int(margins.argmax())
    return _Choice(int(rows[best]), basis, max(0.0, float(margins[best])))


def _lack(at_db: float, highest_catching_db: float | None) -> float | None:
    return None if highest_catching_db is None else float(highest_catching_db - at_db)


def _last_said(curve: Curve, allowed: BoolArray, said: BoolArray) -> int | None:
    """The highest level that can be spoken of, or the first change that never occurred."""
    if curve.mode == "threshold":
        highest = np.flatnonzero(allowed & said)
        return int(highest[-1]) if len(highest) else None
    never = _first(curve.prediction.count == 0)
    return len(said) - 1 if never is None else never


def _first(allowed: BoolArray) -> int | None:
    rows = np.flatnonzero(allowed)
    return int(rows[0]) if len(rows) else None


def recommend(options: Sequence[Option], ceiling_db: float) -> Option | None:
    """The option that catches enough on the surest basis with most to spare; None without any.

    Between equals the gain decides: one with room enough above and below, as near as possible to
    the recorded one.
    """
    return min(options, key=lambda option: _order(option, ceiling_db), default=None)


def by_mode(options: Sequence[Option], ceiling_db: float) -> list[Option]:
    """The best option of each mode, best first."""
    best: dict[str, Option] = {}
    for option in sorted(options, key=lambda option: _order(option, ceiling_db)):
        best.setdefault(option.trigger.mode, option)
    return list(best.values())


def _order(option: Option, ceiling_db: float) -> tuple[float, ...]:
    gain = option.gain
    spare = [gain.headroom_db - HEADROOM_WANTED_DB, gain.footroom_db - FOOTROOM_WANTED_DB]
    if option.trigger.mode == "threshold":
        spare.append(ceiling_db - option.trigger.at_db - _CEILING_MARGIN_DB)
    lacking = max(0.0, -min(spare))
    margin = 0.0 if option.margin_db is None else max(option.margin_db, -200.0)
    return (
        not option.catches_enough,
        BASES.index(option.basis),
        -round(margin),
        MODES.index(option.trigger.mode),
        lacking,
        abs(gain.gain_db),
        gain.gain_db,
    )
