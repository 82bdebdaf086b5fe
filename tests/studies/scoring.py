"""How near did a prediction come, at levels of a known rate and at levels as the sample showed?

Every prediction is asked twice: at the levels whose true rate is a round number a day, which only
the study knows, and at the levels that the sample itself showed so many times, as a user meets
them. Beside it stand the same firings with a plainer tail (`alternative`), which ours must not be
worse than, and with one that must fail (`control`).
"""

from dataclasses import dataclass, replace

import numpy as np

from audiolevel.counting.peaks_over_threshold import Prior, exceedance, tail_of
from audiolevel.counting.posterior import SharedDraws, ended, nodes, one_day, quantile

SEED = 20_240_601
TARGETS = (2, 10, 50, 200, 1000)
SEEN = (1, 2, 3, 5, 10, 20)


@dataclass(frozen=True)
class Score:
    """One prediction at one level, whose true rate is `target` a day.

    `at` "rate": the level was chosen for its true rate, and `covered` is the share of fresh days
    inside `low` to `high`. `at` "count": for the firings that the sample showed, and `covered` is 1
    if the true rate lies inside `rate_low` to `rate_high`.
    """

    site: int
    kind: str
    minutes: float
    method: str
    target: float
    seen: int
    low: float
    high: float
    rate_low: float
    rate_high: float
    best: float
    median: float  # of the posterior, also where no best estimate is given
    covered: float
    level_error_db: float = np.nan  # of level_for_limit(target)
    level_low_db: float = np.nan  # against the true level
    level_high_db: float = np.nan
    safe_db: float = np.nan
    at: str = "rate"


def alternative(prediction, peaks, minutes):
    """The same count with a plainer tail, which ours must not be worse than.

    All local maxima ten seconds apart, at least eight of them, a wider prior, and no going over
    from tail to count before ten firings. With fewer than nine peaks it does not exist, and ours
    stands in for it.
    """
    if peaks.size < 9:
        return prediction
    normal = Prior(-0.08, 0.10, 1e9, np.log(3.3), 0.5, 1e9)
    tail = tail_of(peaks, normal, use=max(8, int(1.5 * np.sqrt(peaks.size))))
    assert tail is not None  # there are nine peaks or more
    dice = SharedDraws(0, 2000)
    count, levels = prediction.count, prediction.settings_db
    rare = (count < 10) & (levels > tail.above_db)
    shape, scale = tail.draws(dice.node, dice.jitter)
    above = levels[rare, None] - tail.above_db
    by_tail = dice.gammas(np.array([tail.peaks_used])) * exceedance(above, shape, scale)
    draws = dice.gammas(count)
    draws[rare] = np.where(dice.safety, draws[rare], by_tail)
    draws *= 1440.0 / minutes
    branch = int(np.argmax(count))
    daily = nodes(draws, branch)
    curve = nodes(ended(draws, levels, tail, dice), branch)[branch:]
    low, high = one_day(daily)
    return replace(
        prediction,
        per_day=quantile(daily, 0.5),
        rate_low_per_day=quantile(daily, 0.025),
        rate_high_per_day=quantile(daily, 0.975),
        low_per_day=low,
        high_per_day=high,
        curve_db=levels[branch:],
        curve_per_day=curve,
        curve_of_day=curve,
    )


def scores_of(site, kind, minutes, p, true_level, fresh, per_day=None, method="ours"):
    """Scores of one prediction at the levels of all true rates, and at those seen so often."""
    scores = []
    for rate, level in true_level.items():
        row = int(np.searchsorted(p.settings_db, level))
        inside = share_inside(fresh[rate], p.low_per_day[row], p.high_per_day[row])
        score = row_of(site, kind, minutes, method, p, row, rate, inside)
        answer = p.level_for_limit(rate)
        if answer is not None:
            score = replace(
                score,
                level_error_db=answer.best_db - level,
                level_low_db=answer.low_db - level,
                level_high_db=(answer.high_db or np.inf) - level,
                safe_db=(answer.safe_db or np.inf) - level,
            )
        scores.append(score)
    return scores + (scores_where_seen(site, kind, minutes, p, per_day) if per_day else [])


def scores_where_seen(site, kind, minutes, p, per_day):
    """Scores at levels as the sample shows them: the middle one of those that fired so often."""
    scores = []
    falling = np.arange(p.count.size) >= np.argmax(p.count)
    for seen in SEEN:
        rows = np.flatnonzero((p.count == seen) & falling)
        if not rows.size:
            continue
        row = rows[rows.size // 2]
        true = per_day(p.settings_db[row])
        if np.isfinite(true):
            inside = float(p.rate_low_per_day[row] <= true <= p.rate_high_per_day[row])
            score = row_of(site, kind, minutes, "ours", p, row, true, inside)
            scores.append(replace(score, at="count"))
    return scores


def share_inside(days, low, high):
    """Share of days whose count lies from `low` to `high`."""
    return float(np.mean((days >= low) & (days <= high)))


def row_of(site, kind, minutes, method, p, row, target, covered):
    """Score of one row of a prediction."""
    return Score(
        site=site,
        kind=kind,
        minutes=minutes,
        method=method,
        target=target,
        seen=int(p.count[row]),
        low=p.low_per_day[row],
        high=p.high_per_day[row],
        rate_low=p.rate_low_per_day[row],
        rate_high=p.rate_high_per_day[row],
        best=p.per_day[row],
        median=_median(p, p.settings_db[row]),
        covered=covered,
    )


def _median(prediction, level):
    """Posterior median at a level of the curve, ln(rate) straight between its points."""
    log_rate = np.log(np.maximum(quantile(prediction.curve_per_day, 0.5), 1e-6))
    return float(np.exp(np.interp(level, prediction.curve_db, log_rate)))


def control(site, kind, minutes, peaks, true_level, fresh):
    """What must fail: one exponential through the sixty loudest peaks (half of them if fewer)."""
    rng = np.random.default_rng(0)
    k = min(60, peaks.size // 2)
    above = peaks[:k] - peaks[k]
    scale = above.sum() / rng.gamma(k, 1, 2000)
    foot = rng.gamma(k + 0.5, 1, 2000) / minutes * 1440
    scores = []
    for rate, level in true_level.items():
        draws = foot * np.exp(-np.maximum(level - peaks[k], 0) / scale)
        low, high = one_day(draws)
        covered = share_inside(fresh[rate], low, high)
        limits = np.quantile(draws, [0.025, 0.5, 0.975])
        scores.append(
            Score(site, kind, minutes, "control", rate, 0, float(low), float(high), limits[0],
                  limits[2], limits[1], limits[1], covered)
        )  # fmt: skip
    return scores


def pick(scores, at="rate", **wanted):
    """Scores with these fields."""
    wanted["at"] = at
    return [s for s in scores if all(getattr(s, key) == value for key, value in wanted.items())]


def coverage(scores):
    """Share of fresh days, or of true rates, inside the interval."""
    return float(np.mean([s.covered for s in scores]))


def bias(scores):
    """Median over all cases of posterior median over truth."""
    return float(np.median([s.median / s.target for s in scores]))


def level_error(scores):
    """Median and 90 % point of the error of level_for_limit, and the cover of its interval."""
    error = np.abs([s.level_error_db for s in scores])
    inside = [s.level_low_db <= 0 <= s.level_high_db for s in scores]
    error = np.where(np.isnan(error), np.inf, error)
    return float(np.median(error)), float(np.quantile(error, 0.9)), float(np.mean(inside))
