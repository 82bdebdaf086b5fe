"""Two plainer ways to foretell a day, which the program's own must not be worse than.

*simple* is a page: an exponential tail above the 1.5·√n highest peaks, its scale from a prior worth
twenty peaks of 3.4 dB; one shift in decibels, Student's t with four degrees of freedom and scale
2.3 dB, half of it per day and half per visit; the flow to the power 0.4; Poisson on top.

*climate* knows one curve for all places, of the rate against level − L10 as visits by day show it,
and one normal shift.

Both answer as `Forecast`: equally likely curves of ln(rate a day) over the level.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv, ndtri

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.rates import predict
from audiolevel.counting.schedule import Schedule
from audiolevel.counting.traffic import heard_seconds, published
from tests.studies.visit_designs import Case

DRAWS = 400


@dataclass(frozen=True, eq=False)
class Forecast:
    """Equally likely ln(rate a day) at levels (m,): of the mean day and of one, (m, draws)."""

    level_db: np.ndarray
    mean: np.ndarray
    day: np.ndarray


def _evenly(sets):
    rng = np.random.default_rng(0)
    strata = (np.arange(DRAWS) + 0.5) / DRAWS
    return np.array([rng.permutation(strata) for _ in range(sets)])


def program(case: Case, **belief) -> Forecast:
    """The program's own prediction."""
    minutes = np.repeat(case.active > 0, 60)
    conditions = Conditions(Schedule(np.tile(minutes, (7, 1))), "published")
    p = predict(case.settings, case.visits, conditions, extrapolate=True, **belief)
    mean, day = (np.log(np.maximum(of, 1e-12)) for of in (p.curve_per_day, p.curve_of_day))
    return Forecast(p.curve_db, mean, day)


def simple(case: Case, shift_db: float = 2.3) -> Forecast:
    """Sixty lines, of the fourth counting study."""
    u = _evenly(5)
    visits, settings = case.visits, case.settings
    peaks = np.sort(np.concatenate([v.peaks_db for v in visits]))[::-1]
    k = min(max(4, int(1.5 * math.sqrt(peaks.size))), peaks.size - 1)
    foot = (peaks[k - 1] + peaks[k]) / 2
    scale = (20 * 3.4 + (peaks[:k] - foot).sum()) / gammaincinv(20 + k, u[0])
    log_rate = np.log(gammaincinv(k + 0.5, u[1])) - (settings[:, None] - foot) / scale
    count = np.sum([v.counts for v in visits], axis=0)
    low = settings <= foot
    log_rate[low] = np.log(gammaincinv(np.maximum(count[low], k)[:, None] + 0.5, u[1]))
    heard = sum(_worth_s(v) for v in visits)
    flow = np.mean([published(v.start) for v in visits], axis=0) ** 0.4
    log_rate += math.log(86400 * (flow @ case.active) / flow.sum() / heard)
    size, freedom = _taught(visits, shift_db)
    wild = size * np.sqrt(freedom / (2 * gammaincinv(freedom / 2, u[2])))
    days = len({v.start.date() for v in visits})
    hours = np.mean([(1 - min(1, v.duration_s / 86400)) ** 2 for v in visits])
    mean_db = wild * math.sqrt(hours / 2 / len(visits) + 1 / 2 / days) * ndtri(u[3])
    day_db = mean_db + wild * math.sqrt(1 / 2) * ndtri(u[4])
    return Forecast(settings, log_rate + mean_db / scale, log_rate + day_db / scale)


def _worth_s(visit):
    flow = published(visit.start) ** 0.4
    return flow @ heard_seconds(visit.start, visit.duration_s) / flow.mean()


def _taught(visits, shift_db):
    """Size of the shift by the visits' own levels, cleared of their flow."""
    freedom, squares, n = 4.0, 4 * shift_db**2, len(visits)
    if n > 1:
        levels = [
            v.l10_db
            - 2 * math.log(published(v.start) @ heard_seconds(v.start, v.duration_s) / v.duration_s)
            for v in visits
        ]
        dates = [v.start.date() for v in visits]
        pairs = [a != b for i, a in enumerate(dates) for j, b in enumerate(dates) if i != j]
        squares += (n - 1) * np.var(levels, ddof=1) / (0.5 + 0.5 * np.mean(pairs))
        freedom += n - 1
    return math.sqrt(squares / freedom), freedom


@dataclass(frozen=True, eq=False)
class Climate:
    """One curve for all places: levels over L10 (m,), ln(rate an hour) there, and its spread."""

    over_db: np.ndarray
    log_rate: np.ndarray
    mean_sd_db: float
    day_sd_db: float

    @classmethod
    def of(cls, cases: list[Case]) -> "Climate":
        """Fitted to cases of other places."""
        over, rates = [], np.log([2, 10, 50, 200])
        for case in cases:
            over.append(case.true_db - np.mean([v.l10_db for v in case.visits]))
            rates = np.log([2, 10, 50, 200]) - math.log(case.active.sum())
        middle = np.median(over, axis=0)
        errors = np.array(over)[:, 1] - middle[1]
        own = np.array([case.day_db - case.mean_db for case in cases])
        return cls(middle[::-1], rates[::-1], float(errors.std()), float(own.std()))

    def __call__(self, case: Case) -> Forecast:
        """Foretell a case by its visits' mean L10 alone."""
        u = ndtri(_evenly(2))
        l10 = np.mean([v.l10_db for v in case.visits])
        x = case.settings - l10
        curve = np.interp(x, self.over_db, self.log_rate)
        slope = np.diff(self.log_rate)[-1] / np.diff(self.over_db)[-1]
        curve += np.maximum(x - self.over_db[-1], 0) * slope
        curve += np.minimum(x - self.over_db[0], 0) * slope + math.log(case.active.sum())
        mean_db = self.mean_sd_db * u[0]
        day_db = mean_db + self.day_sd_db * u[1]
        slopes = -slope
        return Forecast(
            case.settings, curve[:, None] + slopes * mean_db, curve[:, None] + slopes * day_db
        )
