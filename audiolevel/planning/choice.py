"""The setting of each mode at each gain, the one to recommend, and what else the trade allows.

The limit of false firings goes first: a setting is eligible only if it keeps the limit, with 90 %
certainty or at least by the best estimate. Of the eligible settings one that catches the wanted
sounds often enough is taken: where even the lower end of the chance is enough, the one with most
decibels to spare on both sides, else the one that catches most. Where none catches enough, the
limit and the wanted sounds cannot both be had: beside the surest setting that keeps the limit stand
the one that catches enough and one between. A setting that would catch next to nothing of what is
wanted is never recommended. Where none keeps the limit, the highest setting that can be set at any
usable gain is a place to start.

A sound that no setting catches is put aside, and the choice is made for the others
(`within_reach`). The gain stays as recorded unless something that matters is lost by it
(`_best_gain`).

Entry points: `options_of`, `choose`, `option_at`, `within_reach`, `Option`, `Choice`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from audiolevel.arrays import Array, BoolArray, IntArray
from audiolevel.counting.expected import Expected
from audiolevel.metering.calibration import fit_display
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
# what a gain is moved for, the weightiest first
MOVES = ("limit", "clips", "scale", "higher", "surer", "caught", "room")
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
# what misses nine of ten is as good as switched off, and nobody is told to set it (our own bar)
NEXT_TO_NOTHING = 0.1
# chances nearer to each other than this are one choice and not two (our own bar)
TELLS_APART = 0.1
# a straight line through readings may be trusted a little beyond them
DISPLAY_REACH_DB = 3.0
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


@dataclass(frozen=True, eq=False)
class Choice:
    """What to set, and what else could be.

    Attributes
    ----------
    case : str
        "both": it keeps the limit and catches enough; "limit only": it keeps the limit, and
        `alternatives` has what catches enough; "neither": nothing keeps the limit; "silent":
        there is nothing to set, since nothing was heard or since what keeps the limit would catch
        next to nothing of what is wanted.
    recommended : Option or None
    alternatives : tuple of Option
        What the trade allows where both cannot be had, from fewer firings to more: a setting
        between, and the one that catches enough, or most.
    by_mode : tuple of Option
        The best of each mode, best first; what keeps the limit best goes first even where it is
        not recommended.
    """

    case: str
    recommended: Option | None
    alternatives: tuple[Option, ...]
    by_mode: tuple[Option, ...]

    @property
    def is_trade(self) -> bool:
        """Whether the limit and the wanted sounds cannot both be had."""
        return bool(self.by_mode) and not self.by_mode[0].catches_enough


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
    clipping = {one.gain_db for one in gains if _clips(one)}
    tried = [one for one in curves if one.gain_db not in clipping] or list(curves)
    if not tried:
        return []
    rows = [(one, _can_be_set(one, ceiling_db)) for one in tried]
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


def choose(options: Sequence[Option], ceiling_db: float, site: Site) -> Choice:
    """What to recommend of the options, and what else the trade allows.

    Parameters
    ----------
    options : sequence of Option
        Of `options_of`.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    site : Site
    """
    if site.gain.keep:
        options = [one for one in options if one.gain_db == 0]
    modes = {one.trigger.mode for one in options}
    best_of = [
        _best_gain([one for one in options if one.trigger.mode == mode], ceiling_db, site)
        for mode in sorted(modes, key=MODES.index)
    ]
    if not best_of:
        return Choice("silent", None, (), ())
    ordered = sorted(best_of, key=lambda option: _order(option, ceiling_db))
    first = ordered[0]
    others = () if first.catches_enough else _trade(first, options, ceiling_db, site)
    recommended = None if first.catches_next_to_nothing else first
    return Choice(case_of(recommended), recommended, others, tuple(ordered))


def case_of(option: Option | None) -> str:
    """What a setting meets: one of `CASES`."""
    if option is None:
        return "silent"
    if not option.keeps_limit:
        return "neither"
    return "both" if option.catches_enough else "limit only"


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
    """Sorts the better option first; what it looks at is what `report.words.reasons` says."""
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


def _best_gain(options: Sequence[Option], ceiling_db: float, site: Site) -> Option:
    """Of one mode's options the one to take: as recorded unless something that matters is lost."""
    order = {id(one): _what_matters(one, ceiling_db, site) for one in options}
    best = min(order.values())
    alike = [one for one in options if order[id(one)] == best]
    # chances that differ by less than their own uncertainty do not move the gain
    most = max(_least_chance(one)[0] for one in alike)
    as_good = [one for one in alike if _least_chance(one)[1] >= most]
    return min(as_good, key=lambda one: (abs(one.gain_db), one.gain_db))


def moved_by(option: Option, options: Sequence[Option], ceiling_db: float, site: Site) -> str:
    """What an option's gain was moved for: one of `MOVES`; empty where it is as recorded.

    Parameters
    ----------
    option : Option
    options : sequence of Option
        Those it was chosen from.
    ceiling_db : float
        LAF in dB FS from which on the input clips.
    site : Site
    """
    if option.gain_db == 0:
        return ""
    mode = option.trigger.mode
    recorded = [one for one in options if one.gain_db == 0 and one.trigger.mode == mode]
    if not recorded:
        return "not usable"
    pairs = zip(
        _what_matters(recorded[0], ceiling_db, site),
        _what_matters(option, ceiling_db, site),
        strict=False,
    )
    # the first in which it is better; where it is better in none it catches more
    which = next((i for i, (before, now) in enumerate(pairs) if now < before), None)
    return "catches" if which is None else MOVES[which]


def _what_matters(option: Option, ceiling_db: float, site: Site) -> tuple[float, ...]:
    """What may move the gain, in the order of `MOVES`; smaller is better."""
    caught = _least_chance(option)[1] < site.limits.detection
    lacks = _lacking_room_db(option, ceiling_db) > _LACKS_MUCH_DB
    outside = beyond_readings_db(option, site) > 0
    # where nothing keeps the limit: the highest level that can be set at any gain
    lower_db = 0.0 if option.keeps_limit else -round(option.as_recorded_db, 2)
    keeps = BASES.index(option.basis)
    return (not option.keeps_limit, _clips(option.gain), outside, lower_db, keeps, caught, lacks)


def _clips(gain: GainMargins) -> bool:
    """Whether the recording's highest sample clips at a gain."""
    return gain.headroom_db is not None and gain.headroom_db < 0


def beyond_readings_db(option: Option, site: Site) -> float:
    """How far a level lies outside of what the camera's own scale can be trusted for; 0 within."""
    if option.trigger.mode != "threshold" or not site.display.readings:
        return 0.0
    beyond_db = fit_display(site.display.readings).beyond_db(option.trigger.at_db)
    return beyond_db if beyond_db > DISPLAY_REACH_DB else 0.0


def _least_chance(option: Option) -> tuple[float, float]:
    """Chance of the wanted sound that is caught least, and its upper end; 1 where none is named."""
    least = option.least_detected
    if least is None:
        return 1.0, 1.0
    return float(least.probability[option.row]), float(least.high[option.row])


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


# --- what the trade allows -----------------------------------------------------------------------


def _trade(
    within: Option,
    options: Sequence[Option],
    ceiling_db: float,
    site: Site,
) -> tuple[Option, ...]:
    """Beside the setting within the limit: the one that catches enough, and one between."""
    enough = _that_catches_enough(options, ceiling_db, site)
    chance = _least_chance(within)[0]
    if enough is None or _least_chance(enough)[0] < chance + TELLS_APART:
        return ()
    between = _between(within, enough, site)
    return (enough,) if between is None else (between, enough)


def _that_catches_enough(options: Sequence[Option], ceiling_db: float, site: Site) -> Option | None:
    """The setting that catches enough, or most, and of those fires least."""
    # a gain at which the loudest sample clips only where there is no other
    options = [one for one in options if not _clips(one.gain)] or options
    can = [np.flatnonzero(_can_be_set(one.curve, ceiling_db)) for one in options]
    caught = [one.curve.least_probability()[rows] for one, rows in zip(options, can, strict=True)]
    most = max((part.max(initial=0.0) for part in caught), default=0.0)
    if most < NEXT_TO_NOTHING:
        return None
    # where nothing is enough, nearly the most there is
    bar = min(site.limits.detection, most - TELLS_APART / 2)
    # rows rise with the setting: the last catches enough and fires least
    found = [
        option_at(one.curve, int(rows[part >= bar][-1]), one.gain, site)
        for one, rows, part in zip(options, can, caught, strict=True)
        if (part >= bar).any()
    ]

    def costs(option: Option) -> tuple[float, ...]:
        outside = beyond_readings_db(option, site) > 0
        # gains that fire alike tell nothing by a digit; then the recorded one
        return (outside, float(f"{_fires(option):.1e}"), abs(option.gain_db), option.gain_db)

    return min(found, key=costs)


def _between(within: Option, enough: Option, site: Site) -> Option | None:
    """What keeps the limit by even odds, or else halfway down in chance; None where no other is."""
    chance = enough.curve.least_probability()
    low, high = _least_chance(within)[0], _least_chance(enough)[0]
    apart = np.minimum(high - chance, chance - low)
    # below what catches enough a setting costs more and catches no less
    apart[: enough.row] = -np.inf
    if apart.max() < TELLS_APART:
        return None
    row = int(apart.argmax())
    limit = enough.curve.limit
    if limit is not None and limit.best_db is not None:
        even = int(np.searchsorted(enough.curve.prediction.settings_db, limit.best_db - _SAME_DB))
        row = even if even < len(apart) and apart[even] >= TELLS_APART else row
    return option_at(enough.curve, row, enough.gain, site)


def _fires(option: Option) -> float:
    """Firings a day; without a best estimate the upper end, which is never too kind."""
    rate = option.expected.rate
    return rate.high if rate.best is None else rate.best
