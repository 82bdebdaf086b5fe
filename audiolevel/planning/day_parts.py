"""Levels of their own for day, evening and night, and whether they pay.

Each part of the day that the recordings cover gets its own prediction and its own level. The limit
of firings is shared out by the hours of the parts: with rates that fall alike with the level,
that is the sharing that makes the levels, meant over the hours, lowest.

Conventions: parts as in Directive 2002/49/EC, annex I, and ISO 1996-1 (`schedule.PARTS`); a visit
belongs to the part that holds all but a tenth of it.

Entry points: `settings_by_part`, `ByPart`, `PartSetting`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.predicted import Prediction
from audiolevel.counting.rates import predict
from audiolevel.counting.schedule import DAY_MIN, PARTS, Schedule
from audiolevel.counting.traffic import heard_seconds

# less than this is not worth setting a camera three times a day
PAYS_DB = 3.0
# a visit from 18:30 to 19:30 is of neither part, one that runs over by minutes still is
_BELONGS = 0.9


@dataclass(frozen=True)
class PartSetting:
    """Level for one part of the day, and what the level for all day would do there.

    Attributes
    ----------
    limit_per_day : float
        The part's share of the limit.
    best_db, low_db, high_db : float
        Level that keeps it, with its interval; infinite where no end is known.
    gain_db : float
        How much lower than the level for all day it is; negative if higher.
    per_day_at_common : float
        Firings a day in this part at the level for all day.
    """

    part: str
    hours: float
    limit_per_day: float
    best_db: float
    low_db: float
    high_db: float
    gain_db: float
    per_day_at_common: float


@dataclass(frozen=True)
class ByPart:
    """Settings of the parts that were heard, beside the one for all day.

    `pays`: two parts' levels differ by 3 dB or more, and each lies outside the other's interval.
    """

    common_db: float
    parts: tuple[PartSetting, ...]
    pays: bool

    def shifted(self, by_db: float) -> "ByPart":
        """The same with every level so much higher."""
        parts = tuple(
            replace(
                one,
                best_db=one.best_db + by_db,
                low_db=one.low_db + by_db,
                high_db=one.high_db + by_db,
            )
            for one in self.parts
        )
        return replace(self, common_db=self.common_db + by_db, parts=parts)


def settings_by_part(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    limit_per_day: float,
    conditions: Conditions,
    *,
    extrapolate: bool,
) -> ByPart | None:
    """Levels for the parts of the day that were heard; None unless two or more were.

    Parameters
    ----------
    settings_db : array_like, shape (n,)
    visits : sequence of Visit
        With start times; swept with these settings.
    limit_per_day : float
        Firings a day in all active hours together.
    conditions, extrapolate
        As in `counting.rates.predict`; the traffic is left out.

    Notes
    -----
    Within a part every hour is taken like those heard of it: no traffic is assumed.
    """
    share = conditions.active_or_all
    groups = {part: [v for v in visits if part_of(v) == part] for part in PARTS}
    # a part that was not heard, or in which nothing is active, has no level of its own
    heard = [part for part in PARTS if groups[part] and share[list(PARTS[part])].sum() > 0]
    if len(heard) < 2:
        return None
    hours = {part: float(share[list(PARTS[part])].sum()) for part in heard}
    predictions = {
        part: predict(settings_db, groups[part], _within(part, conditions), extrapolate=extrapolate)
        for part in heard
    }
    # hours of the parts heard only: parts not heard get no share of the limit
    total_h = sum(hours.values())
    limits = {part: limit_per_day * hours[part] / total_h for part in heard}
    common = _common_db(list(predictions.values()), limit_per_day)
    parts = [_part(part, hours[part], limits[part], predictions[part], common) for part in heard]
    known = [one for one in parts if one is not None]
    if common is None or len(known) < 2:
        return None
    return ByPart(common, tuple(known), _pays(known))


def part_of(visit: Visit) -> str | None:
    """Part of the day that holds nearly all of a visit; None if none does."""
    if visit.start is None:
        return None
    seconds = heard_seconds(visit.start, visit.duration_s)
    for part, hours in PARTS.items():
        if seconds[list(hours)].sum() >= _BELONGS * seconds.sum():
            return part
    return None


def _within(part: str, conditions: Conditions) -> Conditions:
    """The same in the hours of one part alone."""
    minutes = conditions.schedule.minutes.copy()
    hour = np.arange(DAY_MIN) // 60
    minutes[:, ~np.isin(hour, PARTS[part])] = False
    return replace(conditions, schedule=Schedule(minutes), traffic=None)


def _part(
    part: str, hours: float, limit: float, prediction: Prediction, common_db: float | None
) -> PartSetting | None:
    found = prediction.level_for_limit(limit)
    if found is None or found.best_db is None or found.low_db is None or common_db is None:
        return None
    # no level is sure enough to keep the limit, so the interval is open above
    high = np.inf if found.high_db is None else found.high_db
    at_common = float(np.exp(_log_median(prediction, common_db)))
    gain = common_db - found.best_db
    return PartSetting(part, hours, limit, found.best_db, found.low_db, high, gain, at_common)


def _common_db(predictions: Sequence[Prediction], limit_per_day: float) -> float | None:
    """Lowest level from which on all parts together keep the limit by their best estimates."""
    low = min(float(p.curve_db[0]) for p in predictions)
    high = max(float(p.curve_db[-1]) for p in predictions)
    # a tenth of a decibel: a fifth of the step between the settings that are tried
    levels = np.arange(low, high, 0.1)
    total = sum(np.exp(_log_median(p, levels)) for p in predictions)
    over = np.flatnonzero(np.asarray(total) > limit_per_day)
    # even the highest level looked at breaks the limit
    if over.size and over[-1] == levels.size - 1:
        return None
    # one step above the last that breaks it: a dip farther down does not count
    return float(levels[over[-1] + 1] if over.size else levels[0])


def _log_median(prediction: Prediction, level_db: ArrayLike) -> Array:
    middle = np.median(prediction.curve_per_day, axis=1)
    level = np.asarray(level_db, dtype=np.float64)
    # straight in ln(rate), as everywhere; the floor is one firing in some 10⁹ years
    return np.asarray(np.interp(level, prediction.curve_db, np.log(np.maximum(middle, 1e-12))))


def _pays(parts: Sequence[PartSetting]) -> bool:
    lowest = min(parts, key=lambda one: one.best_db)
    highest = max(parts, key=lambda one: one.best_db)
    # both ways round: each best level must be outside the other part's interval
    apart = highest.best_db > lowest.high_db and lowest.best_db < highest.low_db
    return apart and highest.best_db - lowest.best_db >= PAYS_DB
