"""Does the follow-up keep its word? Chance, power, shifts and days on simulated sites.

    python -m tests.studies.followup_study

prints the tables of docs/followup.md (some minutes on one core). The same functions, with fewer
sites, are asserted in tests/studies/test_followup_study.py.

Sets:

own model   logs drawn from the plan's own posterior: a rate from its quantiles, Poisson days
moved       the site is 3 dB louder or quieter than planned, at a level seen thirty times or more
extrapolated  the plan's level for 10 a day from 10 or 60 minutes, then seven days of log
day after day the level is set anew every day, from a sample of ten minutes
roadside    day after day on whole level histories with a plain trigger (tests.studies.roadside)
"""

import math
import time
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from audiolevel.counting.belief import BELIEF
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.day_counts import DayCount
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.counting.traffic import published
from audiolevel.followup.bayes import chance, update
from audiolevel.followup.event_log import Log
from audiolevel.followup.plan_file import Expectation, expectation_of
from audiolevel.followup.verdict import Followup, follow
from audiolevel.planning.plan_record import CurveRecord
from audiolevel.report.plan.json import expected_record
from tests.counting.made_visits import STILL
from tests.followup import made_log
from tests.studies.histories import visit_of
from tests.studies.passes import (
    DAY_SD_DB,
    HALF_HOUR_SD,
    HOUR_SD,
    LOUD_AT_NIGHT,
    TUESDAY,
    marks,
)
from tests.studies.roadside import counts, measure, ordinary_site

SEED = 20_240_901
LIMIT = 10.0
DAY_S = 86400.0


# --- plans ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Sample:
    """What was heard of a site: its visits and the settings they were swept with."""

    settings_db: np.ndarray
    visits: list


def sample_of(site, rng, visits, minutes, *, diurnal=False, moved_db=0.0):
    """Visits of some minutes between 8 and 18 h on different days, by separate passes."""
    settings = np.arange(50.0, 125.0, 0.5)
    heard = []
    for day in range(visits):
        hour = int(rng.integers(8, 18))
        flow = np.ones(site.rate.size)
        shift = moved_db
        if diurnal:
            flow = _profile(rng, site)[:, hour] * np.exp(rng.normal(0, HALF_HOUR_SD))
            shift += rng.normal(0, DAY_SD_DB)
        total = rng.poisson(site.rate * flow * minutes / 1440)
        peaks = rng.normal(np.repeat(site.mean + shift, total), np.repeat(site.sd, total))
        peaks = np.sort(peaks)[::-1]
        start = TUESDAY.replace(hour=hour) + timedelta(days=day)
        seen = (peaks >= settings[:, None]).sum(axis=1)
        heard.append(Visit(seen, 60.0 * minutes, peaks, start if diurnal else None))
    return Sample(settings, heard)


def _profile(rng, site):
    """Relative flow of each class in each hour: cars apart from all else."""
    profile = published(TUESDAY) * np.exp(rng.normal(0, HOUR_SD, (2, 24)))
    profile[1] *= LOUD_AT_NIGHT
    profile /= profile.mean(axis=1, keepdims=True)
    return profile[np.minimum(np.arange(site.rate.size), 1)]


def plan_at(sample, choose, limit, *, diurnal=False):
    """The plan's expectation at the setting that `choose` picks from the prediction."""
    first = predict(
        sample.settings_db,
        sample.visits,
        Conditions(traffic="published" if diurnal else None),
        extrapolate=True,
        belief=BELIEF if diurnal else STILL,
    )
    row = choose(first)
    return expectation_of(plan_object(first, row, limit)), row


def plan_object(prediction, row, limit, catching_db=None):
    """A plan of one mode at one gain, set at a row of its prediction."""
    of_setting = expected_record(prediction, row)
    # hours are not asked about here: all count alike
    of_setting = replace(of_setting, by_hour=None, by_hour_low=None, by_hour_high=None)
    made = made_log.plan_of(limit=limit, catching_db=catching_db)
    assert made.recommended is not None  # the made plan has a setting
    option = replace(
        made.recommended, level_db=float(prediction.settings_db[row]), expected=of_setting
    )
    curve = CurveRecord(
        gain_db=0.0,
        mode="threshold",
        settings_db=tuple(prediction.settings_db.tolist()),
        seen=tuple(prediction.count.tolist()),
        per_day=_listed(prediction.per_day),
        rate_low_per_day=_listed(prediction.rate_low_per_day),
        rate_high_per_day=_listed(prediction.rate_high_per_day),
        low_per_day=_listed(prediction.low_per_day),
        high_per_day=_listed(prediction.high_per_day),
        method=tuple(str(one) for one in prediction.method),
    )
    return replace(made, recommended=option, options=(option,), curves=(curve,))


def _listed(values):
    return tuple(None if math.isnan(x) else float(x) for x in values)


def level_for(limit):
    """Picks the setting nearest to the best level for the limit."""

    def choose(prediction):
        best = prediction.level_for_limit(limit).best_db
        return int(np.argmin(np.abs(prediction.settings_db - best)))

    return choose


def seen_at_least(count):
    """Picks the highest setting seen so often."""

    def choose(prediction):
        return int(np.flatnonzero(prediction.count >= count)[-1])

    return choose


# --- logs ----------------------------------------------------------------------------------------


def log_of(day_counts, rng):
    """A log of whole days with so many firings each, at moments ten seconds apart or more."""
    moments = []
    for day, count in enumerate(day_counts):
        places = rng.choice(int(DAY_S // 10), size=min(int(count), 8640), replace=False)
        moments.append(np.sort(places) * 10.0 + day * DAY_S)
    span = (0.0, len(day_counts) * DAY_S)
    from datetime import UTC

    return Log(
        name="log",
        fired_s=np.concatenate(moments),
        other_s=np.empty(0),
        covered=(span,),
        zone=UTC,
        own_span=False,
        kinds_known=True,
        recorded_s=math.nan,
        notices=(),
    )


def followed(expectation, day_counts, rng) -> Followup:
    """The whole follow-up of one log at the plan's setting."""
    return follow(expectation, [(log_of(day_counts, rng), expectation.set_db)])


def set_from(expectation: Expectation, days):
    """Level for the limit, and its interval, by days counted; without the tables of a log."""
    posterior = update(expectation.prior, days)
    # made sites have no weeks of their own: what the log's weeks say holds for all others
    found = posterior.quantiles(posterior.level_for(expectation.limit_per_day), [0.5, 0.025, 0.975])
    return tuple(float(x) for x in found)


# --- sets ----------------------------------------------------------------------------------------


def own_model(sites=range(50), logs=20, days=7):
    """p-values of logs drawn from each plan's own posterior: half of the plans counted."""
    p_values = []
    for number in sites:
        rng = np.random.default_rng([SEED, 1, number])
        site = marks(rng)
        sample = sample_of(site, rng, 1, 60)
        choose = seen_at_least(30) if number % 2 else level_for(LIMIT)
        expectation, _ = plan_at(sample, choose, LIMIT)
        quantiles = expectation.prior
        before = update(expectation.prior, [], changed=False)
        for _ in range(logs):
            score = rng.uniform()
            rate = math.exp(
                np.interp(
                    score, quantiles.shares, np.log(np.maximum(quantiles.rates_per_day, 1e-9))
                )
            )
            total = int(rng.poisson(rate * days))
            p_values.append(chance(before, expectation.set_db, [1.0] * days, total))
    return np.array(p_values)


@dataclass(frozen=True)
class Moved:
    """One site that is not as planned: what was concluded after seven days."""

    moved_db: float
    p_value: float
    shift_db: float
    low_db: float
    high_db: float
    true_db: float


def moved(sites=range(100), *, by_db=3.0, visits=1, minutes=60, diurnal=False, days=7, seen=30):
    """A site louder or quieter than planned by `by_db`, at the highest level seen `seen` times.

    The limit is what the plan promised there, so the true shift is what brings the true rate back
    to it.
    """
    results = []
    for number in sites:
        rng = np.random.default_rng([SEED, 2, number])
        site = marks(rng)
        by = by_db if number % 2 else -by_db
        sample = sample_of(site, rng, visits, minutes, diurnal=diurnal)
        sd = DAY_SD_DB if diurnal else 0.0
        counted = np.sum([visit.counts for visit in sample.visits], axis=0)
        row = int(np.flatnonzero(counted >= seen)[-1])
        level = float(sample.settings_db[row])
        limit = site.per_day(level, 0.0, sd)  # the unmoved site's true rate there
        expectation, _ = plan_at(sample, lambda _, row=row: row, limit, diurnal=diurnal)
        day_rates = [site.per_day(level, by + rng.normal(0, sd), 0.0) for _ in range(days)]
        results.append(_concluded(expectation, rng.poisson(day_rates), by))
    return results


def _concluded(expectation, day_counts, true_db):
    """What `followup.follow` says of whole days, without its tables (a test compares the two)."""
    before = update(expectation.prior, [], changed=False)
    days = [1.0] * len(day_counts)
    p_value = chance(before, expectation.set_db, days, int(day_counts.sum()))
    counted = [DayCount(expectation.set_db, int(count), 1.0) for count in day_counts]
    levels = np.array(set_from(expectation, counted)) - expectation.set_db
    shift_db, low_db, high_db = levels.tolist()
    return Moved(true_db, p_value, shift_db, low_db, high_db, true_db)


@dataclass(frozen=True)
class Set:
    """The level after so many days: its error, whether its interval holds the truth, its rate."""

    days: int
    error_db: float
    inside: bool
    width_db: float
    later_per_day: float
    rule_error_db: float
    rule_later_per_day: float


def closed_rule(days, limit, slope=0.42):
    """The same from a constant slope and no plan: ln of the pooled rate over the limit."""
    first = days[0].at_db
    total = sum(day.count for day in days) + 0.5
    worth = sum(day.exposure * math.exp(-slope * (day.at_db - first)) for day in days)
    return first + math.log(total / (limit * worth)) / slope


def extrapolated(sites=range(100), *, minutes=10, days=7):
    """The plan's level for 10 a day kept for seven days, and the shift from it."""
    results = []
    for number in sites:
        rng = np.random.default_rng([SEED, 3, number])
        site = marks(rng)
        expectation, _ = plan_at(sample_of(site, rng, 1, minutes), level_for(LIMIT), LIMIT)
        true = site.level_for(LIMIT)
        result = followed(expectation, rng.poisson(site.per_day(expectation.set_db), days), rng)
        results.append((result, true))
    return results


def day_after_day(sites=range(100), *, minutes=10, visits=1, diurnal=False, days=(0, 1, 2, 4)):
    """The level set anew every evening, by separate passes."""
    scores = []
    for number in sites:
        rng = np.random.default_rng([SEED, 4, number])
        site = marks(rng)
        sd = DAY_SD_DB if diurnal else 0.0
        sample = sample_of(site, rng, visits, minutes, diurnal=diurnal)
        expectation, _ = plan_at(sample, level_for(LIMIT), LIMIT, diurnal=diurnal)
        shifts = rng.normal(0, sd, max(days)) if diurnal else np.zeros(max(days))

        def count(level, day, site=site, shifts=shifts, rng=rng):
            return int(rng.poisson(site.per_day(level, shifts[day])))

        def later(level, site=site, sd=sd):
            return site.per_day(level, 0.0, sd)

        scores += _evenings(expectation, count, later, site.level_for(LIMIT, sd), days)
    return scores


def _evenings(expectation, count, later, true_db, days):
    """Re-set the level after each day, by the follow-up and by the closed rule side by side."""
    ours, rule = [], []
    level = rule_level = expectation.set_db
    low = high = math.nan
    scores = []
    for day in range(max(days) + 1):
        if day:
            ours.append(DayCount(level, count(level, day - 1), 1.0))
            rule.append(DayCount(rule_level, count(rule_level, day - 1), 1.0))
            level, low, high = set_from(expectation, ours)
            rule_level = closed_rule(rule, LIMIT)
        if day in days:
            scores.append(
                Set(
                    day,
                    abs(level - true_db),
                    low <= true_db <= high,
                    high - low,
                    later(level),
                    abs(rule_level - true_db),
                    later(rule_level),
                )
            )
    return scores


def roadside(sites=range(12), *, minutes=10, days=(0, 1, 2, 4), reference_days=10):
    """The same on whole level histories, whose days go through a plain trigger."""
    scores = []
    for number in sites:
        rng = np.random.default_rng([SEED, 5, number])
        site = ordinary_site(rng)
        history = measure(site, minutes / 60, rng)
        settings = np.arange(math.floor(np.median(history)), history.max() + 30, 0.5)
        sample = Sample(settings, [visit_of(history, settings)])
        expectation, _ = plan_at(sample, level_for(LIMIT), LIMIT)
        logged = [measure(site, 24, rng) for _ in range(max(days))]
        # the days that are the truth are not those of the log
        grid = np.arange(expectation.set_db - 12, expectation.set_db + 25, 0.25)
        mean = np.mean(
            [counts(measure(site, 24, rng), grid) for _ in range(reference_days)], axis=0
        )
        log_mean = np.log(np.maximum(np.minimum.accumulate(mean), 0.03))
        falls = -log_mean + np.arange(grid.size) * 1e-9
        true = float(np.interp(-math.log(LIMIT), falls, grid))

        def count(level, day, logged=logged):
            return int(counts(logged[day], [level])[0])

        def later(level, grid=grid, log_mean=log_mean):
            return float(np.exp(np.interp(level, grid, log_mean)))

        scores += _evenings(expectation, count, later, true, days)
    return scores


# --- tables --------------------------------------------------------------------------------------


def median_error(scores, days):
    """Median error of the level after so many days, dB."""
    return float(np.median([s.error_db for s in scores if s.days == days]))


def later_within(scores, days, low=5.0, high=16.0):
    """Share of sites whose later days have a mean count between the two."""
    of = [s.later_per_day for s in scores if s.days == days]
    return float(np.mean([low <= x <= high for x in of]))


def days_table(name, scores):
    """Rows of the table of docs/followup.md."""
    rows = []
    for days in sorted({s.days for s in scores}):
        of = [s for s in scores if s.days == days]
        ours = np.quantile([s.error_db for s in of], [0.5, 0.9])
        rule = np.quantile([s.rule_error_db for s in of], [0.5, 0.9])
        inside = f"{100 * np.mean([s.inside for s in of]):.0f}" if days else "-"
        width = f"{np.median([s.width_db for s in of]):.1f}" if days else "-"
        later = 100 * later_within(scores, days)
        rule_later = 100 * np.mean([5 <= s.rule_later_per_day <= 16 for s in of])
        rows.append(
            f"| {name} | {days} | {ours[0]:.2f}/{ours[1]:.2f} | {inside} | {width} | {later:.0f} "
            f"| {rule[0]:.2f}/{rule[1]:.2f} | {rule_later:.0f} |"
        )
    return rows


def moved_row(name, results):
    """One row: share found, shift within 1 dB, interval's cover."""
    found = np.mean([r.p_value < 0.05 for r in results])
    near = np.mean([abs(r.shift_db - r.true_db) <= 1 for r in results])
    inside = np.mean([r.low_db <= r.true_db <= r.high_db for r in results])
    return (
        f"| {name} | {len(results)} | {100 * found:.0f} | {100 * near:.0f} | {100 * inside:.0f} |"
    )


def main():
    """Print all tables."""
    began = time.perf_counter()
    p = own_model()
    print(f"own model: {p.size} logs, p < 0.05 in {100 * np.mean(p < 0.05):.1f} %")
    for by_db in (3.0, 0.0):
        print(f"moved by {by_db:g} dB")
        print(moved_row("1 × 60 min", moved(range(300), by_db=by_db)))
        for visits in (1, 3, 5):
            results = moved(range(200), by_db=by_db, visits=visits, diurnal=True)
            print(moved_row(f"{visits} × 60 min, days and hours differ", results))
    for minutes in (10, 60):
        pairs = extrapolated(range(200), minutes=minutes)
        inside = np.mean([true in result.decision.level for result, true in pairs])
        error = np.quantile(
            [abs(result.decision.level.best - true) for result, true in pairs], [0.5, 0.9]
        )
        print(f"extrapolated, {minutes} min: inside {100 * inside:.0f} %, error {error.round(2)}")
    for row in (
        *days_table("passes, 10 min", day_after_day(range(200))),
        *days_table("passes, 10 min, days differ", day_after_day(range(200), diurnal=True)),
        *days_table(
            "passes, 5 x 10 min, days differ", day_after_day(range(200), visits=5, diurnal=True)
        ),
        *days_table("roadside, 10 min", roadside(range(40))),
    ):
        print(row)
    print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()
