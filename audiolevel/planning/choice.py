"""The setting of each mode at each gain, the one to recommend, and the other prong of a fork.

The limit of false firings goes first: a setting is eligible only if it keeps the limit, with 90 %
certainty or at least by the best estimate. Of the eligible settings one that catches the wanted
sounds often enough is taken: where even the lower end of the chance is enough, the one with most
decibels to spare on both sides, else the one that catches most. Where none catches enough,
the surest setting that keeps the limit stands beside the one that catches enough: a fork. Where
none keeps the limit, the highest setting that can be set at any usable gain is a place to start.

There is one order of options (`_order`); reasons are told from what it looks at.

Entry points: `options_of`, `choose`, `option_at`, `Option`, `Choice`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from audiolevel.arrays import Array, BoolArray, IntArray
from audiolevel.counting.expected import Expected
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.curves import Curve
from audiolevel.planning.placement import DetectionCurve
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import MODES, Trigger

# how a setting keeps the limit: with 90 % certainty, by the best estimate, or not
BASES = ("safe", "best", "none")
# how a setting catches enough: even by the lower end of the chance, by the best estimate, or not
CAUGHT = ("surely", "best", "none")
CASES = ("both", "limit only", "neither", "silent")
# the loudest sound of a day is some 10 dB above that of ten minutes (docs/counting.md), so a gain
# that leaves less than 12 dB above the highest sample will clip on it; 10 dB below L90 keep the
# noise from adding more than half a decibel
HEADROOM_WANTED_DB = 12.0
FOOTROOM_WANTED_DB = 10.0
# room wanted between a threshold and the level at which the input clips
_CEILING_MARGIN_DB = 3.0
# a gain that lacks more of its room goes behind one that does not, before chances are compared:
# placements tell chances to some per cent, and must not choose a gain that clips for one of them
_LACKS_MUCH_DB = 6.0
# settings are sums of decimal steps, and equal ones may differ in the last bit
_SAME_DB = 1e-9


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
        highest = self.highest_catching_db
        # minus infinity, where no setting catches enough, is below every level
        return highest is None or self.trigger.at_db <= highest + _SAME_DB

    @property
    def least_detected(self) -> DetectionCurve | None:
        """The wanted sound that is caught least at this setting, and of equals least overall."""

        def here_then_overall(one: DetectionCurve) -> tuple[float, float]:
            return float(one.probability[self.row]), float(one.probability.sum())

        return min(self.curve.required, key=here_then_overall, default=None)


@dataclass(frozen=True, eq=False)
class Choice:
    """What to set, and what else could be.

    Attributes
    ----------
    case : str
        "both": it keeps the limit and catches enough; "limit only": it keeps the limit, and
        `alternatives` has what catches enough; "neither": nothing keeps the limit; "silent":
        there is nothing to set.
    recommended : Option or None
    alternatives : tuple of Option
        The other prong of a fork: the setting that catches enough and fires least.
    by_mode : tuple of Option
        The best of each mode, best first.
    """

    case: str
    recommended: Option | None
    alternatives: tuple[Option, ...]
    by_mode: tuple[Option, ...]


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


def choose(
    options: Sequence[Option], curves: Sequence[Curve], ceiling_db: float, site: Site
) -> Choice:
    """What to recommend of the options, and the other prong where there is a fork.

    Parameters
    ----------
    options : sequence of Option
        Of `options_of`.
    curves : sequence of Curve
        The same curves, for the settings that catch enough.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    site : Site
    """
    best_of: dict[str, Option] = {}
    for option in sorted(options, key=lambda option: _order_of_gains(option, ceiling_db)):
        # sorted already, so the first of a mode is its best
        best_of.setdefault(option.trigger.mode, option)
    if not best_of:
        return Choice("silent", None, (), ())
    ordered = sorted(best_of.values(), key=lambda option: _order(option, ceiling_db))
    recommended = ordered[0]
    alternatives = []
    if not recommended.catches_enough:
        # only the one that fires least: more would not be a fork but a list
        alternatives = _that_catch_enough(options, site, ceiling_db)[:1]
    case = "neither"
    if recommended.keeps_limit:
        case = "both" if recommended.catches_enough else "limit only"
    return Choice(case, recommended, tuple(alternatives), tuple(ordered))


def basis_at(curve: Curve, at_db: float) -> str:
    """How a setting of a curve keeps the limit of false firings: one of `BASES`."""
    limit = curve.limit
    if limit is None:
        return "none"
    if limit.safe_db is not None and at_db >= limit.safe_db - _SAME_DB:
        return "safe"
    # the nearest row, as `at_db` may lie between settings
    row = int(np.abs(curve.prediction.settings_db - at_db).argmin())
    if limit.best_db is None or curve.prediction.method[row] == "upper limit":
        return "none"  # where only an upper limit is honest there is no best estimate to keep it by
    return "best" if at_db >= limit.best_db - _SAME_DB else "none"


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
    rows = np.flatnonzero(_can_be_set(curve, ceiling_db))
    if not rows.size:
        return None
    settings = curve.prediction.settings_db
    keeping = _surest_row(curve, rows)
    # with nothing to catch a lower setting gains nothing
    if not curve.required:
        return keeping
    # probability falls as the setting rises, so the last row is the highest that catches
    catching = rows[curve.least_probability()[rows] >= wanted_share]
    if not catching.size:
        return keeping
    highest = int(catching[-1])
    if basis_at(curve, float(settings[keeping])) == "safe" and highest >= keeping:
        surely = rows[curve.least_sure_probability()[rows] >= wanted_share]
        # the chance falls all the way up, so the lowest row catches most; only where enough is
        # sure does room below the wanted sounds buy more than it costs
        if not surely.size or surely[-1] < keeping:
            return keeping
        between = rows[(rows >= keeping) & (rows <= surely[-1])]
        return _middle(settings, between, curve, int(surely[-1]))
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


def _can_be_set(curve: Curve, ceiling_db: float) -> BoolArray:
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
    # the level may lie above every row that can be set: then nothing is safe
    if limit is not None and limit.safe_db is not None:
        safe = rows[prediction.settings_db[rows] >= limit.safe_db - _SAME_DB]
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


# --- the order of options ------------------------------------------------------------------------


def _order(option: Option, ceiling_db: float) -> tuple[float, ...]:
    """Sorts the better option first; what it looks at is what `report.plan_wording` says."""
    # of equally good ones the mode named first
    mode = MODES.index(option.trigger.mode)
    # then enough room, then the gain nearest to the recorded one, which was measured
    lacking_db = _lacking_room_db(option, ceiling_db)
    room = (lacking_db, abs(option.gain_db), option.gain_db)
    if not option.keeps_limit:
        # a place to start from: the highest level that can be set at any gain
        return (True, mode, -round(option.as_recorded_db, 2), *room)
    # a count with a best estimate before one with an upper limit only
    sure = (BASES.index(option.basis), option.expected.only_limited, lacking_db > _LACKS_MUCH_DB)
    # to whole decibels, and to steps of 5 %: less is not known, and must not decide
    if option.caught == "surely":
        margin = 0.0 if option.margin_db is None else option.margin_db
        return (False, False, *sure, 0, -round(margin), mode, *room)
    least = option.least_detected
    if option.catches_enough:
        # enough by the best estimate: the one that catches most even at worst goes first
        at_worst = 0.0 if least is None else float(least.low[option.row])
        return (False, False, *sure, 1, -round(20 * at_worst), mode, *room)
    # nothing catches enough: the one that catches more goes first
    caught = 0.0 if least is None else float(least.probability[option.row])
    return (False, True, *sure, 0, -round(20 * caught), mode, *room)


def _order_of_gains(option: Option, ceiling_db: float) -> tuple[float, ...]:
    """The same within one mode, whose levels can be compared.

    Where nothing catches enough and even odds are all there is, the highest level is the surest; a
    gain that ends lower must not be preferred for catching a little more, or a stricter limit
    would lower the level.
    """
    order = _order(option, ceiling_db)
    even_odds = option.basis == "best" and not option.catches_enough
    return (*order[:4], -round(option.as_recorded_db, 2) if even_odds else 0.0, *order[4:])


def _lacking_room_db(option: Option, ceiling_db: float) -> float:
    """What a gain lacks of the room that is wanted above and below."""
    gain = option.gain
    spare = [gain.footroom_db - FOOTROOM_WANTED_DB]
    if gain.headroom_db is not None:
        spare.append(gain.headroom_db - HEADROOM_WANTED_DB)
    if option.trigger.mode == "threshold":
        spare.append(ceiling_db - option.trigger.at_db - _CEILING_MARGIN_DB)
    # the scarcest room counts; room beyond what is wanted is worth nothing
    return max(0.0, -min(spare))


def _that_catch_enough(options: Sequence[Option], site: Site, ceiling_db: float) -> list[Option]:
    """Of each curve the highest setting that catches enough; the one that fires least first."""
    found = []
    for option in options:
        curve = option.curve
        rows = np.flatnonzero(_can_be_set(curve, ceiling_db))
        # rows rise with the setting: the last catches enough and fires least
        enough = rows[curve.least_probability()[rows] >= site.limits.detection]
        if enough.size:
            found.append(option_at(curve, int(enough[-1]), option.gain, site))

    def fires(option: Option) -> tuple[float, ...]:
        rate = option.expected.rate
        # without a best estimate the upper end stands in, which is never too kind
        return (rate.high if rate.best is None else rate.best, *_order(option, ceiling_db))

    return sorted(found, key=fires)
