"""Seven evenings of follow-up on simulated sites like their sample and unlike it.

    python -m tests.studies.followup_loop [SITES]

Each site is planned from ten minutes by the program's own rule (the lowest level that is 90 % sure
to keep 10 a day, or the surest there is), some with wanted sounds that need a lower level. Then the
camera runs an evening, is followed up, and runs the next at what the follow-up says. All simulated.
"""

import sys
from dataclasses import dataclass, replace

import numpy as np

from audiolevel.counting.rates import predict
from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import corrected_plan, follow
from tests.counting.made_visits import STILL
from tests.studies.followup_study import LIMIT, log_of, plan_object, sample_of
from tests.studies.passes import marks

EVENINGS = 7
KINDS = {
    "as the sample": 0.0,
    "3 dB louder": 3.0,
    "3 dB quieter": -3.0,
    "6 dB louder": 6.0,
    "6 dB quieter": -6.0,
    "quiet season": -10.0,
    "dead": -np.inf,
    "stuck": np.nan,
}


@dataclass(frozen=True)
class Course:
    """What happened at one site.

    Attributes
    ----------
    levels_db, true_per_day : arrays, shape (evenings + 1,)
        Level set for each evening, the last for the one after, and the site's true rate there.
    counts : array, shape (evenings,)
    changed : array of bool, shape (evenings + 1,)
        The level was proposed by a follow-up, not by the plan.
    best_db : float
        Level at which the site truly fires at the limit.
    """

    levels_db: np.ndarray
    true_per_day: np.ndarray
    counts: np.ndarray
    changed: np.ndarray
    best_db: float


def course(number: int, kind: str) -> Course:
    """Seven evenings at one site."""
    rng = np.random.default_rng([31, number])
    site = marks(rng)
    sample = sample_of(site, rng, 1, 10)
    prediction = predict(sample.settings_db, sample.visits, extrapolate=True, belief=STILL)
    row = _plan_row(prediction)
    plan_db = float(sample.settings_db[row])
    catching_db = plan_db + rng.uniform(-8, 8) if rng.random() < 0.5 else None
    plan = plan_object(prediction, row, LIMIT, catching_db)
    shift_db = KINDS[kind]

    def rate(level_db: float) -> float:
        if np.isneginf(shift_db):
            return 0.0
        return site.per_day(level_db, 0.0 if np.isnan(shift_db) else shift_db)

    levels, changed, counts = [plan_db], [False], []
    for evening in range(EVENINGS):
        level = levels[-1]
        count = 8640 if np.isnan(shift_db) else int(rng.poisson(rate(level)))
        log = log_of([count], rng)
        moved = evening * 86400.0
        shifted = replace(log, fired_s=log.fired_s + moved, covered=((moved, moved + 86400.0),))
        result = follow(expectation_of(plan), [(shifted, level)])
        decision, plan = result.decision, corrected_plan(result)
        levels.append(decision.set_db)
        changed.append(changed[-1] or not decision.keep)
        counts.append(count)
    true = np.array([rate(level) for level in levels])
    moved_db = 0.0 if np.isnan(shift_db) or np.isinf(shift_db) else shift_db
    best_db = float(site.level_for(LIMIT)) + moved_db
    return Course(np.array(levels), true, np.array(counts), np.array(changed), best_db)


def _plan_row(prediction) -> int:
    """The plan's own rule: the lowest safe level that can be spoken of, or the highest of those."""
    said = np.flatnonzero(prediction.method != "upper limit")
    limit = prediction.level_for_limit(LIMIT)
    safe_db = np.inf if limit is None or limit.safe_db is None else limit.safe_db
    safe = said[prediction.settings_db[said] >= safe_db - 1e-9]
    return int(safe[0] if safe.size else said[-1])


@dataclass(frozen=True)
class Scores:
    """All sites of one kind together."""

    kept_after: float
    error_db: float
    error_90_db: float
    worst_proposed: float
    over_three_times: float
    kept_setting: float


def scores(kind: str, sites: int) -> Scores:
    """How seven evenings went at so many sites."""
    first = 1000 * list(KINDS).index(kind)
    courses = [course(first + number, kind) for number in range(sites)]
    later = np.concatenate([one.true_per_day[3:] for one in courses])
    error = [abs(one.levels_db[-1] - one.best_db) for one in courses]
    # the true rate of evenings at a level that a follow-up proposed
    proposed = [one.true_per_day[one.changed] for one in courses]
    rates = np.concatenate([*proposed, np.zeros(1)])
    return Scores(
        kept_after=float(np.mean(later <= LIMIT)),
        error_db=float(np.median(error)),
        error_90_db=float(np.quantile(error, 0.9)),
        worst_proposed=float(rates.max()),
        over_three_times=float(np.mean(rates > 3 * LIMIT)),
        kept_setting=float(np.mean([not one.changed.any() for one in courses])),
    )


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 25
    print(
        "| site | evenings 4 to 8 within the limit | dB from the level for the limit (90 %) "
        "| worst true rate at a proposed level | proposed levels over 3 × the limit "
        "| kept as planned |"
    )
    print("|---|---|---|---|---|---|")
    for name in KINDS:
        one = scores(name, count)
        print(
            f"| {name} | {100 * one.kept_after:.0f} % | {one.error_db:.1f} ({one.error_90_db:.1f}) "
            f"| {one.worst_proposed:.0f} a day | {100 * one.over_three_times:.1f} % "
            f"| {100 * one.kept_setting:.0f} % |"
        )
