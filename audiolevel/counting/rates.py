"""Firings of a setting per hour and per day, with their intervals.

From what one or more visits showed `predict` says for every swept setting the rate, the interval
of the rate, and the wider interval of one day's count. Settings seen ten times or more are
counted; rarer levels are extrapolated from the loudest separate peaks (`peaks_over_threshold`);
where neither is honest there is only an upper limit. `Prediction.level_for_limit` turns the
question round: which setting gives at most so many a day?

Conventions: a best estimate is the posterior's median, "per hour" is in conditions like the
sample's, "per day" is a mean day at the site. Formulas, evidence and limits: docs/counting.md.

Entry points: `predict`, `Prediction`, `LevelForLimit`, `Visit`, `one_day`.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audiolevel.arrays import Array, IntArray
from audiolevel.counting import exposure as visiting
from audiolevel.counting import peaks_over_threshold as tails
from audiolevel.counting import traffic as flows
from audiolevel.counting.expected import Expected
from audiolevel.counting.exposure import Visit
from audiolevel.counting.posterior import (
    NODES,
    REACH_DB,
    SharedDraws,
    ended,
    extrapolated,
    moved,
    nodes,
    one_day,
    quantile,
    rate_draws,
)
from audiolevel.counting.site_kinds import (
    CHANGE_SLOPE_NP_PER_DB,
    LEVEL_SLOPE_NP_PER_DB,
    WET_SHARE,
    SiteKind,
    kind_of,
)
from audiolevel.errors import SettingError
from audiolevel.intervals import Interval

__all__ = ["LevelForLimit", "Prediction", "Visit", "one_day", "predict"]

ROW_S = 0.01  # of a level history
# ten minutes rarely hold a site's loudest class, so they reach less far up
SHORT_REACH_DB = 3.0  # of a sample of up to SHORT_S
SHORT_S = 15 * 60.0
NEAR_DB = 12.0  # the curve is known so far below the settings, where a louder day needs it
# the curve goes on so far past the highest setting: the question turned round must have an end
FAR_DB = 60.0


@dataclass(frozen=True)
class LevelForLimit:
    """The setting that gives at most `limit_per_day`, with its uncertainty.

    `best_db` keeps the limit with even odds, `safe_db` with 90 %; `low_db` to `high_db` holds,
    with the prediction's confidence, the setting whose rate is just the limit. None: no setting
    is known to do it. `method` is the one behind `best_db`; "upper limit" means that it lies
    beyond the level up to which a count can be given.
    """

    limit_per_day: float
    best_db: float | None
    safe_db: float | None
    low_db: float | None
    high_db: float | None
    method: str

    def shifted(self, by_db: float) -> "LevelForLimit":
        """The same with every level so much higher."""
        return self._each(lambda level_db: level_db + by_db)

    def up_to(self, highest_db: float) -> "LevelForLimit":
        """The same, with None for every level that is too high to be set."""
        return self._each(lambda level_db: level_db if level_db <= highest_db else None)

    def _each(self, change: Callable[[float], float | None]) -> "LevelForLimit":
        def changed(level_db: float | None) -> float | None:
            return None if level_db is None else change(level_db)

        return replace(
            self,
            best_db=changed(self.best_db),
            safe_db=changed(self.safe_db),
            low_db=changed(self.low_db),
            high_db=changed(self.high_db),
        )


@dataclass(frozen=True)
class Prediction:
    """Firings to expect at each swept setting; every array has one row a setting.

    `per_hour`, `per_day` and `by_hour` are nan where only an upper limit is honest (`method`
    "upper limit"); lower ends are then 0 and upper ends still hold.

    Attributes
    ----------
    count, heard_s : firings seen, all visits together, and the time listened
    per_hour, per_hour_low, per_hour_high : rate in conditions like the sample's
    per_day, rate_low_per_day, rate_high_per_day : mean rate of the (active hours of the) days
    low_per_day, high_per_day : interval of one day's count
    method : "counted", "extrapolated" or "upper limit"
    by_hour, by_hour_low, by_hour_high : (n, 24), None without traffic and a start time
    hours_heard : (24,) seconds listened in each hour, None without a start time
    spread : standard deviation of ln(rate) added for the hours and days not heard
    reach_db : highest level about which a number is given; None if nothing is extrapolated
    curve_db, curve_per_day : levels (m,) and equally likely rates (m, 200) of the falling branch
    exposure : what the visits say of the hours and days not heard
    """

    settings_db: Array
    count: IntArray
    heard_s: float
    per_hour: Array
    per_hour_low: Array
    per_hour_high: Array
    per_day: Array
    rate_low_per_day: Array
    rate_high_per_day: Array
    low_per_day: Array
    high_per_day: Array
    confidence: float
    method: NDArray[np.str_]
    by_hour: Array | None
    by_hour_low: Array | None
    by_hour_high: Array | None
    hours_heard: Array | None
    days_heard: int
    spread: float
    reach_db: float | None
    curve_db: Array
    curve_per_day: Array
    exposure: visiting.Exposure

    def at(self, row: int) -> Expected:
        """What is expected of the setting of a row."""

        def between(best: Array, low: Array, high: Array) -> Interval:
            estimate = float(best[row])
            # nan says that there is an upper limit only
            known = None if math.isnan(estimate) else estimate
            return Interval(known, float(low[row]), float(high[row]))

        return Expected(
            per_hour=between(self.per_hour, self.per_hour_low, self.per_hour_high),
            rate=between(self.per_day, self.rate_low_per_day, self.rate_high_per_day),
            count=Interval(None, float(self.low_per_day[row]), float(self.high_per_day[row])),
            method=str(self.method[row]),
            seen=int(self.count[row]),
            heard_s=self.heard_s,
            confidence=self.confidence,
        )

    def capped(self, rearm_s: float, active: ArrayLike | None = None) -> "Prediction":
        """The same with no rate and no count above what the trigger can do.

        Parameters
        ----------
        rearm_s : float
            Time after a firing in which there is no other.
        active : array_like (24,), optional
            Share of each hour in which it is active; default: all of every hour.
        """
        # without a re-arm time a firing still takes a row up and a row down
        apart_s = max(rearm_s, 2 * ROW_S)
        share = np.ones(flows.HOURS) if active is None else np.asarray(active, dtype=np.float64)
        per_hour, per_day = flows.HOUR_S / apart_s, flows.HOUR_S * float(share.sum()) / apart_s
        most = dict.fromkeys(("per_hour", "per_hour_low", "per_hour_high"), per_hour)
        days = ("per_day", "rate_low_per_day", "rate_high_per_day", "low_per_day", "high_per_day")
        most |= dict.fromkeys((*days, "curve_per_day"), per_day)
        # np.minimum keeps nan, which says that only a limit is known
        limited = {name: np.minimum(getattr(self, name), value) for name, value in most.items()}
        for name in ("by_hour", "by_hour_low", "by_hour_high"):
            by_hour = getattr(self, name)
            limited[name] = None if by_hour is None else np.minimum(by_hour, per_hour * share)
        return replace(self, **limited)

    def shifted(self, by_db: float) -> "Prediction":
        """The same with every level so much higher."""
        return replace(
            self,
            settings_db=self.settings_db + by_db,
            curve_db=self.curve_db + by_db,
            reach_db=None if self.reach_db is None else self.reach_db + by_db,
        )

    def rate_quantiles(self, row: int, shares: ArrayLike) -> Array:
        """Quantiles of the mean daily rate at the setting of a row, one for each of `shares`."""
        log_nodes = np.log(np.maximum(self.curve_per_day, 1e-9))
        at_db = float(self.settings_db[row])
        # node by node, straight in ln(rate): 200 equally likely rates at this setting
        rates = np.exp([np.interp(at_db, self.curve_db, node) for node in log_nodes.T])
        return np.array([quantile(rates, float(share)) for share in np.asarray(shares)])

    def level_for_limit(self, limit_per_day: float) -> LevelForLimit | None:
        """Setting whose daily rate is `limit_per_day`; None if none is likely to keep it.

        Between settings ln(rate) is a straight line. Only the branch above the most-firing
        setting counts: a threshold below it lies in the background, and fires seldom because
        the sound never falls below it again. If the lowest setting of the branch already keeps
        the limit, that setting is the answer.

        Raises
        ------
        SettingError
            If the limit is not a number above zero.
        """
        if not (math.isfinite(limit_per_day) and limit_per_day > 0):
            raise SettingError("limit per day: give a number above zero")
        # a low rate keeps the limit at a low level, so the ends do not change places
        out = (1 - self.confidence) / 2
        best = self._crossing(0.5, limit_per_day)
        low = self._crossing(out, limit_per_day)
        if best is None or low is None:
            return None
        return LevelForLimit(
            limit_per_day,
            best_db=best,
            safe_db=self._crossing(0.9, limit_per_day),
            low_db=low,
            high_db=self._crossing(1 - out, limit_per_day),
            method=self._method_at(best),
        )

    def _crossing(self, share: float, limit_per_day: float) -> float | None:
        """Lowest level from which on the rate keeps the limit with probability `share`."""
        log_rate = np.log(np.maximum(quantile(self.curve_per_day, share), 1e-12))
        over = np.flatnonzero(log_rate > math.log(limit_per_day))
        # nothing to cross: the lowest level of the branch keeps it already
        if over.size == 0:
            return float(self.curve_db[0])
        last = int(over[-1])
        # even the highest level known breaks it
        if last == self.curve_db.size - 1:
            return None
        left, right = self.curve_db[last : last + 2]
        # never 0/0: at `last` the rate is above the limit, one further at or below it
        part = (log_rate[last] - math.log(limit_per_day)) / (log_rate[last] - log_rate[last + 1])
        return float(left + part * (right - left))

    def _method_at(self, level_db: float) -> str:
        # nothing is extrapolated: the method of the next setting above
        if self.reach_db is None:
            index = int(np.searchsorted(self.settings_db, level_db))
            return str(self.method[min(index, self.method.size - 1)])
        if level_db > self.reach_db:
            return "upper limit"
        # past the highest setting and within reach only the tail speaks
        above = np.append(self.method, "extrapolated")
        return str(above[np.searchsorted(self.settings_db, level_db)])


def predict(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    *,
    extrapolate: bool,
    confidence: float = 0.95,
    traffic: ArrayLike | str | None = None,
    active: ArrayLike | None = None,
    spread: float | None = None,
    seed: int = 0,
    draws: int = 2000,
    kind: str | SiteKind | None = None,
    wet_share: float = WET_SHARE,
) -> Prediction:
    """Firings per hour and per day of every setting, with limits.

    Parameters
    ----------
    settings_db : array_like, shape (n,)
        Swept settings, rising; a higher one must be harder to reach.
    visits : sequence of Visit
        At least one; all swept with these settings.
    extrapolate : bool
        True for a level, whose rare firings follow the tail of the peaks. False for rise, fall
        and change, which do not extrapolate.
    confidence : float
        Of all intervals, between 0.5 and 1.
    traffic : array_like (24,), "published" or None
        Relative flow by hour, which carries the count to hours not heard; used for visits with a
        start time. None: a day is 24 hours like the sample's.
    active : array_like (24,), optional
        Share of each hour of the day in which the trigger is active (`counting.schedule`); a day
        is then a day's active hours. Default: all of every hour.
    spread : float, optional
        Standard deviation of ln(rate) for the hours and days not heard, where it is known; by
        default it follows from the visits (`audiolevel.counting.exposure`).
    seed, draws : int
        Of the posterior draws; their number is a multiple of 200.
    kind : str or SiteKind, optional
        "busy road", "street", "quiet" or "other", which say how much hours and days differ before
        the visits do; by default the widest.
    wet_share : float
        Share of the days to come on which the road is wet.

    Raises
    ------
    SettingError
        If a setting, visit or option makes no sense.
    """
    settings = _checked(settings_db, visits, confidence, draws, wet_share)
    # counts of all visits add: Poisson counts of one site
    count = np.asarray(np.sum([visit.counts for visit in visits], axis=0), dtype=np.int64)
    site = kind_of(kind)
    known = visiting.exposure_of(visits, settings, traffic, site, wet_share)
    part = visiting.checked_active(active, known.flow)
    tail = _tail(visits, settings[count > 0], site.tail) if extrapolate else None

    shared = SharedDraws(seed, draws)
    # draws of the count in all the time listened; hours and days come in as factors
    swept = _Swept.of(settings, count, tail, shared)
    # what has no curve to move turns decibels into neper at a fixed slope
    slope = LEVEL_SLOPE_NP_PER_DB if extrapolate else CHANGE_SLOPE_NP_PER_DB
    if spread is None:
        exponent = known.exponents(shared)
        mean_db, day_db = known.shift.draws(shared)
        # (draws,): a day's active hours over the time listened, both in mean hours
        to_day = known.active_s(exponent, part) / known.exposure_s(exponent)
        curve, daily = swept.carried(mean_db, slope, to_day)
        _, single = swept.carried(day_db, slope, to_day)
    else:
        to_day = known.active_s(known.exponent, part) / known.exposure_s(known.exponent)
        curve, daily = swept.times(np.exp(spread * shared.normal) * to_day)
        # the user's spread holds for the mean day and for one day alike
        single = daily
    branch = swept.branch
    if tail is not None:
        curve = ended(curve, swept.curve_db, tail, shared)

    # no shift and no traffic: conditions like the sample's
    hourly = nodes(swept.heard(), branch) * (3600 / known.heard_s)
    daily, single = nodes(daily, branch), nodes(single, branch)
    reach = _reach(tail, known.heard_s)
    # something seen is always a number; nothing seen is one only within the tail's reach
    limit_only = (count == 0) & (True if reach is None else settings > reach)
    low, high = (1 - confidence) / 2, (1 + confidence) / 2
    best = np.where(limit_only, np.nan, quantile(daily, 0.5))
    rate_low = np.where(limit_only, 0.0, quantile(daily, low))
    rate_high = quantile(daily, high)
    # one day differs from the mean one, and its count differs by chance besides
    day_low, day_high = one_day(single, confidence)
    by_hour, hour_low, hour_high = _by_hour(known, part, (best, rate_low, rate_high), low)
    is_tail = extrapolated(settings, count, tail)
    return Prediction(
        settings_db=settings,
        count=count,
        heard_s=known.heard_s,
        per_hour=np.where(limit_only, np.nan, quantile(hourly, 0.5)),
        per_hour_low=np.where(limit_only, 0.0, quantile(hourly, low)),
        per_hour_high=quantile(hourly, high),
        per_day=best,
        rate_low_per_day=rate_low,
        rate_high_per_day=rate_high,
        low_per_day=np.where(limit_only, 0.0, day_low),
        high_per_day=day_high,
        confidence=confidence,
        method=np.select([limit_only, is_tail], ["upper limit", "extrapolated"], "counted"),
        by_hour=by_hour,
        by_hour_low=hour_low,
        by_hour_high=hour_high,
        hours_heard=known.hours_heard,
        days_heard=known.days,
        spread=known.shift.sd_db * slope if spread is None else spread,
        reach_db=reach,
        curve_db=swept.curve_db,
        curve_per_day=nodes(curve, 0),
        exposure=known,
    )


@dataclass(frozen=True, eq=False)
class _Swept:
    """Draws of the firings in all the time listened, at the settings and along the level.

    Attributes
    ----------
    branch : int
        The most-firing setting, from which on the counts fall.
    grid_db, firings : levels of the falling branch and beyond (m,), and draws there (m, draws)
    at : rows of the grid that are settings of the branch
    below : draws at the settings under the branch
    movable : whether the curve goes on under the lowest setting, so that it can be moved
    """

    branch: int
    grid_db: Array
    firings: Array
    at: IntArray
    below: Array
    movable: bool

    @classmethod
    def of(
        cls, settings: Array, count: IntArray, tail: tails.Tail | None, shared: SharedDraws
    ) -> "_Swept":
        # below the most-firing setting the background itself holds the trigger up
        branch = int(np.argmax(count))
        grid, seen = _grid(settings[branch:], count[branch:], tail)
        return cls(
            branch,
            grid,
            # an exposure of 1: firings in the time listened, not a rate
            rate_draws(grid, seen, 1.0, tail, shared),
            np.searchsorted(grid, settings[branch:]),
            rate_draws(settings[:branch], count[:branch], 1.0, tail, shared),
            tail is not None,
        )

    @property
    def curve_db(self) -> Array:
        """The settings from the most-firing one on, and the levels beyond them."""
        return self.grid_db[self._of_curve]

    @property
    def _of_curve(self) -> IntArray:
        # the grid's levels between settings help to move the curve and are not told
        beyond = np.arange(self.at[-1] + 1, self.grid_db.size, dtype=np.int64)
        return np.append(self.at, beyond)

    def heard(self) -> Array:
        """Draws at the settings, in conditions like those heard."""
        return np.append(self.below, self.firings[self.at], axis=0)

    def times(self, factor: Array) -> tuple[Array, Array]:
        """Draws along the curve, and at the settings, so many times as often as heard."""
        return self.firings[self._of_curve] * factor, self.heard() * factor

    def carried(self, by_db: Array, slope: float, factor: Array) -> tuple[Array, Array]:
        """The same where the site is louder than heard by `by_db`, besides."""
        if not self.movable:
            return self.times(np.exp(slope * by_db) * factor)
        curve = moved(self.firings, self.grid_db, by_db) * factor
        # what lies in the background goes with the most-firing setting
        # (draws,): by how much the most-firing setting changed
        foot = curve[self.at[0]] / np.maximum(self.firings[self.at[0]], 1e-300)
        return curve[self._of_curve], np.append(self.below * foot, curve[self.at], axis=0)


def _grid(settings: Array, count: IntArray, tail: tails.Tail | None) -> tuple[Array, IntArray]:
    """Settings, and every decibel between, below and beyond them, with the peaks at or above each.

    No level has more than the settings below it fired, nor less than those above it.
    """
    if tail is None:
        return settings, count
    # one dB a step is fine enough: the curve bends over several
    top = max(tail.loudest_db + REACH_DB, float(settings[-1])) + FAR_DB
    every = np.append(np.arange(settings[0] - NEAR_DB, settings[0]), np.arange(settings[0], top))
    grid = np.unique(np.append(settings, every))
    # the count of the nearest setting at or above each level; none above the last
    above = np.append(count, 0)[np.searchsorted(settings, grid)]
    # the prefix shifts the index by one: the nearest setting at or below, no bound under the first
    below = np.append(np.iinfo(np.int64).max, count)[np.searchsorted(settings, grid, "right")]
    # two firings may lie nearer than two separate peaks can: the counts decide
    return grid, np.clip(tail.count_above(grid), above, np.maximum(above, below))


def _tail(visits: Sequence[Visit], fired_db: Array, prior: tails.Prior) -> tails.Tail | None:
    """Tail of the peaks of all visits; None if one has no peaks or they are too few.

    A sound cut off by the recording's border is no peak, yet it fired: it counts as heard.
    """
    # one visit without peaks would leave its loud sounds out of the tail
    peaks = [visit.peaks_db for visit in visits if visit.peaks_db is not None]
    tail = tails.tail_of(np.concatenate(peaks), prior) if len(peaks) == len(visits) else None
    if tail is None or fired_db.size == 0:
        return tail
    return replace(tail, loudest_db=max(tail.loudest_db, float(fired_db[-1])))


def _reach(tail: tails.Tail | None, heard_s: float) -> float | None:
    """Highest level about which a number is honest; None if nothing is extrapolated."""
    if tail is None:
        return None
    return tail.loudest_db + (SHORT_REACH_DB if heard_s <= SHORT_S else REACH_DB)


def _by_hour(
    known: visiting.Exposure, active: Array | None, rates: tuple[Array, Array, Array], low: float
) -> tuple[Array | None, Array | None, Array | None]:
    """Firings of each hour of a day, (n, 24), with limits wider where flow misleads."""
    from scipy.special import ndtri

    share = known.share(known.exponent)
    if share is None or known.flow is None:
        return None, None, None
    if active is not None:
        # shares of what is left of the day, so that the hours add up to it again
        share = share * active / (share @ active)
    best, rate_low, rate_high = rates
    # (n, 1); where only an upper limit is honest the hours are laid about that
    centre = np.maximum(np.where(np.isnan(best), rate_high, best), 1e-12)[:, None]
    # (24,): half width squared, in neper², of what one hour differs by
    extra = (float(ndtri(low)) * known.hour_sd()) ** 2
    # independent errors of ln(rate): half widths add as squares
    up = np.sqrt(np.log(rate_high[:, None] / centre) ** 2 + extra)
    down = np.sqrt(np.log(np.maximum(rate_low[:, None], 1e-12) / centre) ** 2 + extra)
    return best[:, None] * share, centre * share * np.exp(-down), centre * share * np.exp(up)


def _checked(
    settings_db: ArrayLike,
    visits: Sequence[Visit],
    confidence: float,
    draws: int,
    wet_share: float,
) -> Array:
    settings = np.asarray(settings_db, dtype=np.float64)
    if settings.ndim != 1 or settings.size == 0 or not np.all(np.isfinite(settings)):
        raise SettingError("settings: one row of finite numbers is needed")
    if np.any(np.diff(settings) <= 0):
        raise SettingError("settings: each must be higher than the one before")
    if not 0.5 < confidence < 1:
        raise SettingError(f"confidence: {confidence:g} is not between 0.5 and 1")
    if draws < NODES or draws % NODES:
        raise SettingError(f"draws: give a multiple of {NODES}")
    if not 0 <= wet_share <= 1:
        raise SettingError(f"wet_share: {wet_share:g} is not between 0 and 1")
    if not visits:
        raise SettingError("visits: at least one recording is needed")
    for visit in visits:
        if np.shape(visit.counts) != settings.shape or np.min(visit.counts) < 0:
            raise SettingError("visit: one count of zero or more is needed for each setting")
        if not (math.isfinite(visit.duration_s) and visit.duration_s > 0):
            raise SettingError("visit: the time listened must be above zero")
    return settings
