"""The setting of each mode at each gain: the row of a curve that is best, as an option.

The limit of false firings goes first: a setting is eligible only if it keeps the limit, with 90 %
certainty or at least by the best estimate. Of the eligible settings one that catches the wanted
sounds often enough is taken: where even the lower end of the chance is enough, the one with most
decibels to spare on both sides, else the one that catches most. A sound that no setting catches is
put aside, and the choice is made for the others (`within_reach`).

Entry points: `options_of`, `option_at`, `within_reach`, `without`, `Option`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from audiolevel.counting.expected import Expected
from audiolevel.ground.arrays import Array, BoolArray, IntArray
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.curves import Curve
from audiolevel.planning.placement import DetectionCurve
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import Trigger

# how a setting keeps the limit: with 90 % certainty, by the best estimate, or not
BASES = ("safe", "best", "none")
# how a setting catches enough: even by the lower end of the chance, by the best estimate, or not
CAUGHT = ("surely", "best", "none")
# what misses nine of ten is as good as switched off, and nobody is told to set it (our own bar)
NEXT_TO_NOTHING = 0.1
# settings are sums of decimal steps, and equal ones may differ in the last bit
SAME_DB = 1e-9


@dataclass(frozen=True, eq=False)
class Option:
    """One setting of one mode at one gain, with what is expected of it.

    Attributes
    ----------
    gain : GainMargins
    trigger : Trigger
        Its level in dB FS at this gain.
    curve : Curve
        Of its mode at this gain.
    row : int
        Of the setting in the curve.
    basis : str
        One of `BASES`.
    highest_catching_db : float or None
        The highest setting that still catches every wanted sound often enough; None without wanted
        sounds, minus infinity if no setting does.
    caught : str
        One of `CAUGHT`; "surely" where no sound is wanted.
    margin_db : float or None
        Decibels to spare on the nearer side; below 0 what the wanted sounds lack.
    """

    gain: GainMargins
    trigger: Trigger
    curve: Curve
    row: int
    basis: str
    highest_catching_db: float | None
    caught: str
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
    def as_recorded_db(self) -> float:
        """Its level in dB FS of the recording, or its change."""
        # a gain shifts every level but leaves differences of levels as they are
        is_level = self.trigger.mode == "threshold"
        return self.trigger.at_db - (self.gain_db if is_level else 0.0)

    @property
    def keeps_limit(self) -> bool:
        """Whether it keeps the limit of false firings, at least by the best estimate."""
        return self.basis != "none"

    @property
    def catches_enough(self) -> bool:
        """Whether the wanted sounds are caught as often as asked; True where none are named."""
        return self.caught != "none"

    @property
    def catches_next_to_nothing(self) -> bool:
        """Whether it misses nine of ten of every wanted sound; False where none is named."""
        caught = [float(one.probability[self.row]) for one in self.curve.required]
        return bool(caught) and max(caught) < NEXT_TO_NOTHING

    @property
    def least_detected(self) -> DetectionCurve | None:
        """The wanted sound that is caught least at this setting, and of equals least overall."""

        def here_then_overall(one: DetectionCurve) -> tuple[float, float]:
            return float(one.probability[self.row]), float(one.probability.sum())

        return min(self.curve.required, key=here_then_overall, default=None)


def within_reach(
    curves: Sequence[Curve], gains: Sequence[GainMargins], ceiling_db: float, wanted_share: float
) -> list[Curve]:
    """The curves with what no setting catches often enough put aside.

    Parameters
    ----------
    curves : sequence of Curve
        Of one survey: their sounds stand in one order.
    gains : sequence of GainMargins
        Every gain that was simulated.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    wanted_share : float
        How often a sound must be caught.

    Notes
    -----
    Where no sound is caught often enough at any setting, those stay that are caught at all: they
    still say which setting is the best there is.
    """
    # a gain at which the loudest sample clips only where there is no other
    clipping = {one.gain_db for one in gains if clips(one)}
    tried = [one for one in curves if one.gain_db not in clipping] or list(curves)
    if not tried:
        return []
    rows = [(one, can_be_set(one, ceiling_db)) for one in tried]
    required = {id(one) for one in tried[0].required}
    reach = {
        i: max(float(one.detections[i].probability[can].max(initial=0.0)) for one, can in rows)
        for i, wanted in enumerate(tried[0].detections)
        if id(wanted) in required
    }
    bars = (wanted_share, NEXT_TO_NOTHING)
    bar = next((bar for bar in bars if any(most >= bar for most in reach.values())), 0.0)
    aside = {i for i, most in reach.items() if most < bar}
    return [
        replace(
            curve,
            detections=tuple(
                replace(one, out_of_reach=i in aside) for i, one in enumerate(curve.detections)
            ),
        )
        for curve in curves
    ]


def options_of(
    curves: Sequence[Curve], gains: Sequence[GainMargins], ceiling_db: float, site: Site
) -> list[Option]:
    """The best setting of every curve; curves without any are left out.

    Parameters
    ----------
    curves : sequence of Curve
    gains : sequence of GainMargins
        Every gain that was simulated.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    site : Site
    """
    # gains are found by their own value, never by a computed one
    gain_of = {gain.gain_db: gain for gain in gains}
    options = []
    for curve in curves:
        row = _best_row(curve, site.limits.detection, ceiling_db)
        if row is not None:
            options.append(option_at(curve, row, gain_of[curve.gain_db], site))
    return options


def option_at(curve: Curve, row: int, gain: GainMargins, site: Site) -> Option:
    """The setting in a row of a curve as an option, whether it is a good one or not."""
    at_db = float(curve.prediction.settings_db[row])
    catching_db = _catching_db(curve, site.limits.detection)
    return Option(
        gain=gain,
        trigger=site.trigger.trigger(curve.mode, at_db),
        curve=curve,
        row=row,
        basis=basis_at(curve, at_db),
        highest_catching_db=catching_db,
        caught=_caught(curve, row, site.limits.detection),
        margin_db=_margin_db(curve, at_db, catching_db),
    )


def basis_at(curve: Curve, at_db: float) -> str:
    """How a setting of a curve keeps the limit of false firings: one of `BASES`."""
    limit = curve.limit
    if limit is None:
        return "none"
    if limit.safe_db is not None and at_db >= limit.safe_db - SAME_DB:
        return "safe"
    # the nearest row, as `at_db` may lie between settings
    row = int(np.abs(curve.prediction.settings_db - at_db).argmin())
    if limit.best_db is None or curve.prediction.method[row] == "upper limit":
        return "none"  # where only an upper limit is honest there is no best estimate to keep it by
    return "best" if at_db >= limit.best_db - SAME_DB else "none"


def with_aside(option: Option, curves: Sequence[Curve], site: Site) -> Option:
    """An option of a curve of its own, without the sounds that other curves have put aside."""
    aside = {
        (one.sound, one.distance_m)
        for curve in curves
        for one in curve.detections
        if one.out_of_reach
    }
    detections = tuple(
        replace(one, out_of_reach=(one.sound, one.distance_m) in aside)
        for one in option.curve.detections
    )
    return option_at(replace(option.curve, detections=detections), option.row, option.gain, site)


def without(option: Option, sound: str, ceiling_db: float, site: Site) -> Option | None:
    """The best setting of an option's curve if one wanted sound were left out."""
    kept = tuple(one for one in option.curve.detections if one.sound != sound)
    curve = replace(option.curve, detections=kept)
    row = _best_row(curve, site.limits.detection, ceiling_db)
    return None if row is None else option_at(curve, row, option.gain, site)


# --- the row of a curve --------------------------------------------------------------------------


def _best_row(curve: Curve, wanted_share: float, ceiling_db: float) -> int | None:
    """The setting of one curve.

    As the limit is lowered the row never falls: it is the middle between the lowest safe row and
    the highest that surely catches enough, then the lowest safe row, which catches most, as long
    as that is enough; then the highest that catches enough as long as it keeps the limit by the
    best estimate, then the lowest safe row again, and at the end the surest there is.
    """
    rows = np.flatnonzero(can_be_set(curve, ceiling_db))
    if not rows.size:
        return None
    settings = curve.prediction.settings_db
    keeping = _surest_row(curve, rows)
    # with nothing to catch a lower setting gains nothing
    if not curve.required:
        return keeping
    # the chance falls as the setting rises, save where so many firings leave it no time between
    catching = rows[curve.least_probability()[rows] >= wanted_share]
    if not catching.size:
        return keeping
    highest = int(catching[-1])
    if basis_at(curve, float(settings[keeping])) == "safe" and highest >= keeping:
        surely = rows[curve.least_sure_probability()[rows] >= wanted_share]
        between = surely[surely >= keeping]
        # the lowest row that is safe and catches enough catches most; only where enough is sure
        # does room below the wanted sounds buy more than it costs
        if not between.size:
            return int(catching[catching >= keeping][0])
        return _middle(settings, between, curve, int(between[-1]))
    # catches enough and keeps the limit, though with less than 90 %
    if basis_at(curve, float(settings[highest])) != "none" and highest <= keeping:
        return highest
    return keeping


def _middle(settings: Array, between: IntArray, curve: Curve, highest: int) -> int:
    """The row with most decibels to spare on both sides."""
    assert curve.limit is not None  # a safe row has one
    assert curve.limit.safe_db is not None
    # dB by which the limit is kept with 90 %, and dB until the wanted sounds are lost
    above = settings[between] - curve.limit.safe_db
    below = settings[highest] - settings[between]
    return int(between[np.minimum(above, below).argmax()])


def can_be_set(curve: Curve, ceiling_db: float) -> BoolArray:
    """Which rows lie below the level at which the input clips, and can be spoken of."""
    prediction = curve.prediction
    if curve.mode != "threshold":
        # up to the first change that never occurred: a larger one is no surer
        never = np.cumsum(prediction.count == 0)
        return np.asarray(never <= 1)
    # the curve's limits may be known a little beyond the reach; the count there is not
    said = prediction.method != "upper limit"
    # 0 dB FS: above full scale the input reads nothing, whatever the ceiling
    return np.asarray(said & (prediction.settings_db <= min(ceiling_db, 0.0)))


def _surest_row(curve: Curve, rows: IntArray) -> int:
    """The lowest row that keeps the limit with 90 % certainty, or else the surest there is."""
    prediction, limit = curve.prediction, curve.limit
    kept_from = None if limit is None else limit.safe_db
    if limit is not None and prediction.unlike:
        # nothing is promised, and the far end of the interval is far enough
        kept_from = limit.high_db
    # the level may lie above every row that can be set: then nothing is safe
    if kept_from is not None:
        safe = rows[prediction.settings_db[rows] >= kept_from - SAME_DB]
        if safe.size:
            return int(safe[0])
    return int(rows[-1])


def _catching_db(curve: Curve, wanted_share: float) -> float | None:
    """The highest setting up to which every wanted sound is caught often enough."""
    if not curve.required:
        return None
    enough = np.flatnonzero(curve.least_probability() >= wanted_share)
    # −∞: not even the lowest setting catches enough
    return float(curve.prediction.settings_db[enough[-1]]) if len(enough) else -np.inf


def _caught(curve: Curve, row: int, wanted_share: float) -> str:
    """How a row catches enough: one of `CAUGHT`."""
    if not curve.required or curve.least_sure_probability()[row] >= wanted_share:
        return "surely"
    return "best" if curve.least_probability()[row] >= wanted_share else "none"


def _margin_db(curve: Curve, at_db: float, catching_db: float | None) -> float | None:
    if catching_db is None:
        return None
    spare = catching_db - at_db
    # one side is lost already: what it lacks, or nothing to spare
    if spare < 0 or basis_at(curve, at_db) == "none":
        return float(min(spare, 0.0))
    assert curve.limit is not None  # it keeps the limit
    kept_from = curve.limit.safe_db
    # not safe here: room is counted from the level of even odds
    if kept_from is None or kept_from > at_db:
        kept_from = curve.limit.best_db
    return float(min(spare, at_db - (at_db if kept_from is None else kept_from)))


def clips(gain: GainMargins) -> bool:
    """Whether the recording's highest sample clips at a gain."""
    return gain.headroom_db is not None and gain.headroom_db < 0
