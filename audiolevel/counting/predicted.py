"""What is predicted of every swept setting, and the question turned round.

`Prediction` holds the rate of each setting with its interval and the interval of one day's count,
and `level_for_limit` says which setting gives at most so many a day.

Conventions: a best estimate is the posterior's median, "per hour" is in conditions like the
sample's, "per day" is a mean day at the site.

Entry points: `Prediction`, `LevelForLimit`. Formulas, evidence and limits: docs/counting.md.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audiolevel.counting import traffic as flows
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.draws import quantile
from audiolevel.counting.expected import Expected
from audiolevel.counting.exposure import Exposure
from audiolevel.ground.arrays import Array, IntArray
from audiolevel.ground.intervals import Interval

SAFE_SHARE = 0.9  # of the days on which a safe level keeps the limit


@dataclass(frozen=True)
class LevelForLimit:
    """The setting that gives at most so many firings a day, with its uncertainty.

    `best_db` keeps the limit on the mean day with even odds, `safe_db` on nine days of ten, counted
    over all sites that are possible; it is None from hours too unlike the active ones. `low_db` to
    `high_db` holds, with the prediction's confidence, the setting whose mean rate is just the
    limit. None: no setting is known to do it.
    """

    best_db: float | None
    safe_db: float | None
    low_db: float | None
    high_db: float | None

    def shifted(self, by_db: float) -> "LevelForLimit":
        """The same with every level so much higher."""
        return self._each(lambda level_db: level_db + by_db)

    def up_to(self, highest_db: float) -> "LevelForLimit":
        """The same, with None for every level that is too high to be set."""
        return self._each(lambda level_db: level_db if level_db <= highest_db else None)

    def _each(self, change: Callable[[float], float | None]) -> "LevelForLimit":
        changed = {key: None if db is None else change(db) for key, db in vars(self).items()}
        return LevelForLimit(**changed)


@dataclass(frozen=True)
class Prediction:
    """Firings to expect at each swept setting; every array has one row a setting.

    `per_hour`, `per_day` and `by_hour` are nan where only an upper limit is honest (`method`
    "upper limit"); lower ends are then 0 and upper ends still hold.

    Attributes
    ----------
    count : firings seen, all visits together
    per_hour, per_hour_low, per_hour_high : rate in conditions like the sample's
    per_day, rate_low_per_day, rate_high_per_day : mean rate of the (active hours of the) days
    low_per_day, high_per_day : interval of one day's count
    method : "counted", "extrapolated" or "upper limit"
    by_hour, by_hour_low, by_hour_high : (n, 24), None without traffic and a start time
    spread : standard deviation of ln(rate) added for the hours and days not heard
    reach_db : highest level about which a number is given; None if nothing is extrapolated
    curve_db, curve_per_day : levels (m,) and equally likely rates (m, 200) of the falling branch
    curve_of_day : equally likely rates of one day there (m, 200), which differ more
    unlike : the hours heard are too unlike the active ones for any level to be called safe
    exposure : what the visits say of the hours and days not heard
    conditions : what was asked for
    """

    settings_db: Array
    count: IntArray
    per_hour: Array
    per_hour_low: Array
    per_hour_high: Array
    per_day: Array
    rate_low_per_day: Array
    rate_high_per_day: Array
    low_per_day: Array
    high_per_day: Array
    conditions: Conditions
    method: NDArray[np.str_]
    by_hour: Array | None
    by_hour_low: Array | None
    by_hour_high: Array | None
    spread: float
    reach_db: float | None
    curve_db: Array
    curve_per_day: Array
    curve_of_day: Array
    exposure: Exposure
    unlike: bool = False

    @property
    def confidence(self) -> float:
        """Of every interval."""
        return self.conditions.confidence

    @property
    def active(self) -> Array | None:
        """Share of each hour in which the trigger is active, (24,); None is all of every hour."""
        return self.conditions.active

    @property
    def hours_not_heard(self) -> tuple[int, ...] | None:
        """Hours in which the trigger is active and nobody listened; None without a start time."""
        heard_s = self.exposure.hours_heard
        if heard_s is None:
            return None
        watched = self.conditions.active_or_all
        return tuple(np.flatnonzero((heard_s == 0) & (watched > 0)).tolist())

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
            heard_s=self.exposure.heard_s,
            confidence=self.confidence,
        )

    def capped(self, apart_s: float) -> "Prediction":
        """The same with no rate and no count above what the trigger can do.

        Parameters
        ----------
        apart_s : float
            Between two firings at least, above zero.
        """
        share = self.conditions.active_or_all
        per_hour, per_day = flows.HOUR_S / apart_s, flows.HOUR_S * float(share.sum()) / apart_s
        most = dict.fromkeys(("per_hour", "per_hour_low", "per_hour_high"), per_hour)
        days = ("per_day", "rate_low_per_day", "rate_high_per_day", "low_per_day", "high_per_day")
        most |= dict.fromkeys((*days, "curve_per_day", "curve_of_day"), per_day)
        # np.minimum keeps nan, which says that only a limit is known
        limited = {name: np.minimum(getattr(self, name), value) for name, value in most.items()}
        for name in ("by_hour", "by_hour_low", "by_hour_high"):
            by_hour = getattr(self, name)
            limited[name] = None if by_hour is None else np.minimum(by_hour, per_hour * share)
        return replace(self, **limited)

    def times(self, mean: Interval, day: Interval) -> "Prediction":
        """The same with every rate so many times as high.

        Parameters
        ----------
        mean : Interval
            Of the mean rate: times its best estimate, its lower and its upper end.
        day : Interval
            Of one day's count: times its lower and its upper end.
        """
        best = 1.0 if mean.best is None else mean.best
        by_hour = {"by_hour": best, "by_hour_low": mean.low, "by_hour_high": mean.high}
        known = {name: by for name, by in by_hour.items() if getattr(self, name) is not None}
        ends = {"rate_low_per_day": mean.low, "rate_high_per_day": mean.high}
        ends |= {"low_per_day": day.low, "high_per_day": day.high}
        rates = dict.fromkeys(("per_day", "curve_per_day", "curve_of_day"), best)
        changed = (known | ends | rates).items()
        return replace(self, **{name: getattr(self, name) * by for name, by in changed})

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

    def day_rate_quantiles(self, share: float) -> Array:
        """The rate that this share of days stays below at each setting; shape (settings,).

        As in `level_for_limit`, of days that differ, over all sites that are possible.
        """
        log_rate = np.log(np.maximum(quantile(self.curve_of_day, share), 1e-9))
        return np.asarray(np.exp(np.interp(self.settings_db, self.curve_db, log_rate)))

    def level_for_limit(self, limit_per_day: float) -> LevelForLimit | None:
        """Setting whose daily rate is `limit_per_day`; None if none is likely to keep it.

        Between settings ln(rate) is a straight line. Only the branch above the most-firing
        setting counts: a threshold below it lies in the background, and fires seldom because
        the sound never falls below it again. If the lowest setting of the branch already keeps
        the limit, that setting is the answer.
        """
        # a low rate keeps the limit at a low level, so the ends do not change places
        out = (1 - self.confidence) / 2
        best = self._crossing(self.curve_per_day, 0.5, limit_per_day)
        low = self._crossing(self.curve_per_day, out, limit_per_day)
        if best is None or low is None:
            return None
        safe = None
        if not self.unlike:
            safe = self._crossing(self.curve_of_day, SAFE_SHARE, limit_per_day)
        return LevelForLimit(
            best_db=best,
            safe_db=None if safe is None else max(safe, best),
            low_db=low,
            high_db=self._crossing(self.curve_per_day, 1 - out, limit_per_day),
        )

    def _crossing(self, rates: Array, share: float, limit_per_day: float) -> float | None:
        """Lowest level from which on a rate keeps the limit with probability `share`."""
        log_rate = np.log(np.maximum(quantile(rates, share), 1e-12))
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
