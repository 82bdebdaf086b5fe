"""The option to recommend, and what else the trade allows.

What keeps the limit of false firings goes first. Where none catches enough, the limit and the
wanted sounds cannot both be had: beside the surest setting that keeps the limit stand the one that
catches enough and one between. A setting that would catch next to nothing of what is wanted is
never recommended. Where none keeps the limit, the highest setting that can be set at any usable
gain is a place to start. The gain stays as recorded unless something that matters is lost by it
(`_best_gain`).

Entry points: `choose`, `moved_by`, `case_of`, `Choice`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.planning.option import (
    BASES,
    NEXT_TO_NOTHING,
    SAME_DB,
    Option,
    can_be_set,
    clips,
    option_at,
)
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import MODES

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
# chances nearer to each other than this are one choice and not two (our own bar)
TELLS_APART = 0.1
# a straight line through readings may be trusted a little beyond them
DISPLAY_REACH_DB = 3.0


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
    return (not option.keeps_limit, clips(option.gain), outside, lower_db, keeps, caught, lacks)


def beyond_readings_db(option: Option, site: Site) -> float:
    """How far a level lies outside of what the camera's own scale can be trusted for; 0 within."""
    line = site.display.line
    if option.trigger.mode != "threshold" or line is None:
        return 0.0
    beyond_db = line.beyond_db(option.trigger.at_db)
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
    options = [one for one in options if not clips(one.gain)] or options
    can = [np.flatnonzero(can_be_set(one.curve, ceiling_db)) for one in options]
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
        even = int(np.searchsorted(enough.curve.prediction.settings_db, limit.best_db - SAME_DB))
        row = even if even < len(apart) and apart[even] >= TELLS_APART else row
    return option_at(enough.curve, row, enough.gain, site)


def _fires(option: Option) -> float:
    """Firings a day; without a best estimate the upper end, which is never too kind."""
    rate = option.expected.rate
    return rate.high if rate.best is None else rate.best
