"""Which setting of each mode, at which gain, and which of them all?

A setting must keep the limit of false firings, catch the wanted sounds often enough and lie below
the level at which the input begins to clip. Of those that do, the one with most decibels to spare
on both sides is taken; where none does, the nearest on the side of the false firings, with how
much the wanted sounds lack.

Entry points: `options_of`, `recommend`, `Option`, `reason`, `by_mode`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.arrays import Array, BoolArray
from audiolevel.metering.calibration import DisplayLine
from audiolevel.metering.gain import GainMargins
from audiolevel.planning.curves import Curve, DetectionCurve
from audiolevel.site import Site
from audiolevel.triggers.trigger import MODES, Trigger

BASES = ("safe", "best", "reach")
# the loudest sound of a day is some 10 dB above that of ten minutes (docs/counting.md), so a gain
# that leaves less than 12 dB above the highest sample will clip on it; 10 dB below L90 keep the
# noise from adding more than half a decibel
HEADROOM_WANTED_DB = 12.0
FOOTROOM_WANTED_DB = 10.0
_CEILING_MARGIN_DB = 3.0
_AS_GOOD_AS_ALWAYS = 0.995


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
    catching_db : float or None
        The highest setting that still catches every wanted sound often enough; None without wanted
        sounds, minus infinity if no setting does.
    margin_db : float or None
        Decibels to spare on the nearer side; below 0 what the wanted sounds lack.
    """

    room: GainMargins
    gain_setting: float | None
    trigger: Trigger
    display_level: float | None
    curve: Curve
    row: int
    basis: str
    catching_db: float | None
    margin_db: float | None

    @property
    def gain_db(self) -> float:
        """Gain relative to the recording."""
        return self.room.gain_db

    @property
    def catches_enough(self) -> bool:
        """Whether the wanted sounds are caught as often as asked; True where none are named."""
        return self.catching_db is None or self.trigger.at_db <= self.catching_db + 1e-9

    @property
    def other_side_row(self) -> int | None:
        """Where the limits cannot both be met: the highest setting that catches enough."""
        if self.catches_enough or self.catching_db is None or not np.isfinite(self.catching_db):
            return None
        settings = self.curve.prediction.settings_db
        return int(np.abs(settings - self.catching_db).argmin())

    @property
    def least_caught(self) -> DetectionCurve | None:
        """The wanted sound that is caught least at this setting, and of equals least overall."""

        def caught(catch: DetectionCurve) -> tuple[float, float]:
            return float(catch.probability[self.row]), float(catch.probability.sum())

        return min(self.curve.asked, key=caught, default=None)


@dataclass(frozen=True)
class _Choice:
    row: int
    basis: str
    margin_db: float | None


def options_of(
    curves: Sequence[Curve],
    rooms: Sequence[GainMargins],
    settings: Sequence[float | None],
    ceiling_db: float,
    site: Site,
    display: DisplayLine | None,
) -> list[Option]:
    """The best setting of every curve; curves without any are left out.

    Parameters
    ----------
    settings : sequence
        The camera's own value of each gain, in the order of `rooms`.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    """
    setting_of = {room.gain_db: setting for room, setting in zip(rooms, settings, strict=True)}
    room_of = {room.gain_db: room for room in rooms}
    options = []
    for curve in curves:
        catching_db = _catching_db(curve, site.limits.detection)
        choice = _choose(curve, ceiling_db, catching_db)
        if choice is None:
            continue
        at_db = float(curve.prediction.settings_db[choice.row])
        shows = display if curve.mode == "threshold" else None
        options.append(
            Option(
                room=room_of[curve.gain_db],
                gain_setting=setting_of[curve.gain_db],
                trigger=site.trigger.trigger(curve.mode, at_db),
                display_level=None if shows is None else shows.shown(at_db),
                curve=curve,
                row=choice.row,
                basis=choice.basis,
                catching_db=catching_db,
                margin_db=choice.margin_db,
            )
        )
    return options


def _catching_db(curve: Curve, wanted_share: float) -> float | None:
    """The highest setting up to which every wanted sound is caught often enough."""
    if not curve.asked:
        return None
    enough = np.flatnonzero(curve.caught() >= wanted_share)
    return float(curve.prediction.settings_db[enough[-1]]) if len(enough) else -np.inf


def _choose(curve: Curve, ceiling_db: float, catching_db: float | None) -> _Choice | None:
    prediction = curve.prediction
    settings = prediction.settings_db
    allowed = settings <= ceiling_db if curve.mode == "threshold" else np.full(len(settings), True)
    # the curve's limits may be known a little beyond the reach; the count there is not
    said = allowed & (prediction.method != "upper limit")
    bounds = _bounds(curve)
    for basis, at_db in bounds:
        between = said & (settings >= at_db - 1e-9)
        if catching_db is not None:
            between &= settings <= catching_db + 1e-9
        if between.any():
            return _most_room(settings, between, basis, at_db, catching_db)
    # not both: keep the limit as well as can be, and say what the wanted sounds lack
    for basis, at_db in bounds:
        row = _first(said & (settings >= at_db - 1e-9))
        if row is not None:
            return _Choice(row, basis, _lack(settings[row], catching_db))
    row = _last_said(curve, allowed, said)
    return None if row is None else _Choice(row, "reach", _lack(settings[row], catching_db))


def _bounds(curve: Curve) -> list[tuple[str, float]]:
    """The settings that keep the limit of false firings, the surer first."""
    limit = curve.limit
    if limit is None:
        return []
    pairs = (("safe", limit.safe_db), ("best", limit.best_db))
    return [(basis, at_db) for basis, at_db in pairs if at_db is not None]


def _most_room(
    settings: Array, between: BoolArray, basis: str, at_db: float, catching_db: float | None
) -> _Choice:
    rows = np.flatnonzero(between)
    if catching_db is None:
        return _Choice(int(rows[0]), basis, None)
    margins = np.minimum(settings[rows] - at_db, catching_db - settings[rows])
    best = int(margins.argmax())
    return _Choice(int(rows[best]), basis, max(0.0, float(margins[best])))


def _lack(at_db: float, catching_db: float | None) -> float | None:
    return None if catching_db is None else float(catching_db - at_db)


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
    room = option.room
    spare = [room.headroom_db - HEADROOM_WANTED_DB, room.footroom_db - FOOTROOM_WANTED_DB]
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
        abs(room.gain_db),
        room.gain_db,
    )


def reason(option: Option | None, site: Site) -> str:
    """Two sentences: why this one, and what is given up."""
    if option is None:
        return "no setting can be defended from this recording"
    return f"{_why(option, site)}. {_given_up(option, site)}"


def _why(option: Option, site: Site) -> str:
    limit = f"{site.limits.false_triggers_per_day:g} a day"
    kept = {
        "safe": f"It keeps {limit} with 90 % certainty",
        "best": f"It keeps {limit} by the best estimate, not yet with 90 % certainty",
        "reach": (
            "It is the highest setting this recording says anything about"
            if option.trigger.mode == "threshold"
            else "It never occurred in this recording"
        )
        + f"; that it keeps {limit} cannot be promised",
    }[option.basis]
    if option.catching_db is None:
        return f"{kept}, and is the lowest that does" if option.basis != "reach" else kept
    share = f"{100 * site.limits.detection:g} %"
    if option.catches_enough:
        spare = f" with {option.margin_db:.1f} dB to spare" if option.margin_db is not None else ""
        return f"{kept}, and catches each wanted sound at least {share} of the time{spare}"
    return f"{kept}, but it does not catch each wanted sound {share} of the time"


def _given_up(option: Option, site: Site) -> str:
    least = option.least_caught
    if least is None:
        return (
            f"No wanted sound is named, so nothing is said of what it misses; the gain leaves "
            f"{option.room.headroom_db:.0f} dB above the highest sample"
        )
    share = float(least.probability[option.row])
    if option.catches_enough and share >= _AS_GOOD_AS_ALWAYS:
        below = "stays below this level" if option.trigger.mode == "threshold" else "comes slower"
        return f"Given up: whatever {below}, wanted or not"
    caught = f"{100 * share:.0f} %"
    where = "marked in the recording" if least.distance_m is None else f"{least.distance_m:g} m off"
    said = f"Given up: {least.sound} ({where}) is caught {caught} of the time"
    if option.catches_enough or option.margin_db is None:
        return said
    if not np.isfinite(option.margin_db):
        return f"{said}, and at no setting of this mode often enough"
    lack = -option.margin_db
    nearer = ""
    if least.distance_m is not None:
        nearer = f", or {least.distance_m / 10 ** (lack / 20):.1f} m off"
    step = "level" if option.trigger.mode == "threshold" else "step"
    return (
        f"{said}; it would have to be {lack:.1f} dB louder{nearer}, or the {step} {lack:.1f} dB "
        "lower, at more false firings"
    )
