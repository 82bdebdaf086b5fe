"""Are the stated shares true, and the intervals no wider than they must be? On measured places.

    AUDIOLEVEL_REAL_LEVELS=folder python -m tests.studies.calibration --out docs

writes `calibration.md` and `calibration.csv`: for visits as users make them
(`tests.studies.visit_designs`) the coverage of the intervals, PIT histograms, CRPS and log score
beside two plainer rivals (`tests.studies.rivals`), and what each place says of the belief when it
is fitted without it.
"""

import argparse
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby
from pathlib import Path

import numpy as np
from scipy.special import pdtr

from audiolevel.counting.belief import BELIEF
from audiolevel.counting.conditions import Conditions
from audiolevel.counting.draws import Draws
from audiolevel.counting.exposure import unlike
from tests.evidence import put
from tests.studies.real_series import LIMIT, SERIES, TARGETS
from tests.studies.rivals import Climate, Forecast, program, simple
from tests.studies.visit_designs import DESIGNS, Case, cases, possible

NOMINAL = (50, 80, 90, 95)
SCALES = (3.0, 3.25, 3.5, 3.75, 4.0)
SHIFTS = (0.7, 0.85, 1.0, 1.2)


@dataclass(frozen=True)
class Score:
    """One forecast against one place and day.

    Attributes
    ----------
    crps_mean, crps_day : float
        Of the level for the limit, dB: the mean weekday's, and that day's own.
    log_score : array, shape (rates,)
        −ln of the probability of the day's count at each of `TARGETS`.
    pit_mean, pit_low, pit_high : float, arrays (rates,)
        Share of the distribution below the true level; below the count, and up to it.
    error_db, width_db : float
        Of the level for the limit: median less truth, width of the 95 % interval.
    safe_db : float
        The level that nine days of ten keep, above the mean weekday's; inf where none is offered.
    kept_day, kept_mean : bool
    high : float
        97.5 % point of a day's count where 10 a day are true.
    """

    series: str
    design: str
    crps_mean: float
    crps_day: float
    log_score: np.ndarray
    pit_mean: float
    pit_low: np.ndarray
    pit_high: np.ndarray
    error_db: float
    width_db: float
    safe_db: float
    kept_day: bool
    kept_mean: bool
    high: float


def crps(draws, truth) -> float:
    """Continuous ranked probability score of equally likely values (Gneiting and Raftery 2007)."""
    x = np.sort(draws)
    n = x.size
    return float(np.abs(x - truth).mean() - (2 * np.arange(1, n + 1) - n - 1) @ x / n**2)


def crossings(level_db, log_rate, limit) -> np.ndarray:
    """Level from which on each draw's curve keeps the limit, (draws,)."""
    # no draw may rise with the level
    falling = np.maximum.accumulate(log_rate[::-1], axis=0)[::-1]
    right = np.clip((falling > np.log(limit)).sum(axis=0), 1, level_db.size - 1)
    column = np.arange(log_rate.shape[1])
    above, below = falling[right - 1, column], falling[right, column]
    part = np.clip((above - np.log(limit)) / np.maximum(above - below, 1e-9), 0, 1)
    return level_db[right - 1] + part * (level_db[right] - level_db[right - 1])


def score(case: Case, forecast: Forecast, *, promised: bool = True) -> Score:
    """Scores of a forecast of a case."""
    mean = crossings(forecast.level_db, forecast.mean, LIMIT)
    day = crossings(forecast.level_db, forecast.day, LIMIT)
    rows = np.searchsorted(forecast.level_db, case.true_db - 1e-9)
    rates = np.exp(forecast.day[np.minimum(rows, forecast.level_db.size - 1)])
    upto = pdtr(case.count[:, None], rates).mean(axis=1)
    below = pdtr(np.maximum(case.count - 1, 0)[:, None], rates).mean(axis=1) * (case.count > 0)
    low, best, high = np.quantile(mean, [0.025, 0.5, 0.975])
    safe = float(np.quantile(day, 0.9)) if promised else np.inf
    counts = np.arange(3000)
    of_ten = pdtr(counts[:, None], rates[TARGETS.index(LIMIT)][None, ::4]).mean(axis=1)
    return Score(
        case.series,
        case.design,
        crps(mean, case.mean_db),
        crps(day, case.day_db),
        -np.log(np.maximum(upto - below, 1e-9)),
        float(np.mean(mean < case.mean_db)),
        below,
        upto,
        float(best - case.mean_db),
        float(high - low),
        safe - case.mean_db,
        safe >= case.day_db - 1e-9,
        safe >= case.mean_db - 1e-9,
        float(np.searchsorted(of_ten, 0.975)),
    )


def promised(case: Case) -> bool:
    """Whether the program offers a safe level at all from these hours."""
    return not unlike(case.visits, Conditions(), BELIEF, Draws(0))


# --- the study -----------------------------------------------------------------------------------


def all_cases(n: int, designs=DESIGNS, names=SERIES) -> list[Case]:
    """So many cases of each design at each place that has its hours and days."""
    return [
        case
        for design in designs
        for name in names
        if possible(name, design)
        for case in cases(name, design, n)
    ]


def of_program(drawn, **belief) -> list[Score]:
    """Scores of the program."""
    return [score(c, program(c, **belief), promised=promised(c)) for c in drawn]


def of_climate(drawn) -> list[Score]:
    """Scores of the climate fitted to the other places' visits of an hour and more by day."""
    fitted = {
        name: Climate.of([c for c in drawn if c.series != name and "by day" in c.design])
        for name in {case.series for case in drawn}
    }
    return [score(case, fitted[case.series](case)) for case in drawn]


def left_out(drawn) -> dict[str, tuple[float, float]]:
    """Scale of the tail and size of the shift that suit all places but one best, by CRPS."""
    names = list(dict.fromkeys(case.series for case in drawn))
    found = {}
    for scale_db in SCALES:
        for size in SHIFTS:
            tried = replace(
                BELIEF,
                scale_db=scale_db,
                visit_db=size * BELIEF.visit_db,
                day_db=size * BELIEF.day_db,
                week_db=size * BELIEF.week_db,
            )
            scores = [score(c, program(c, belief=tried)) for c in drawn]
            found[scale_db, size] = {
                # log scores as well: CRPS of a level hardly feels a width
                name: np.mean([s.crps_day for s in scores if s.series == name])
                + np.mean([s.log_score for s in scores if s.series == name])
                for name in names
            }
    return {
        name: min(found, key=lambda at: sum(found[at][n] for n in names if n != name))
        for name in names
    }


# --- the page ------------------------------------------------------------------------------------


def inside(scores, share) -> np.ndarray:
    """Share of days' counts within a central interval at each rate, %."""
    low, high = (1 - share) / 2, (1 + share) / 2
    within = [(s.pit_high > low) & (s.pit_low < high) for s in scores]
    return 100 * np.mean(within, axis=0)


def level_inside(scores, share) -> float:
    """Share of mean weekdays' levels within a central interval, %."""
    return 100 * float(np.mean([abs(s.pit_mean - 0.5) <= share / 2 for s in scores]))


def row(name, scores) -> str:
    """One line of a table."""
    offered = [s for s in scores if np.isfinite(s.safe_db)]
    safe = "none offered"
    if offered:
        day, mean = (100 * np.mean([getattr(s, k) for s in offered]) for k in KEPT)
        safe = f"{np.median([s.safe_db for s in offered]):+.1f}, {day:.0f} ({mean:.0f})"
    days = "/".join(f"{x:.0f}" for x in inside(scores, 0.95))
    error = np.array([s.error_db for s in scores])
    return (
        f"| {name} | {days} | {level_inside(scores, 0.95):.0f} | "
        f"{np.median(np.abs(error)):.1f}, {np.median(error):+.1f} | "
        f"{np.median([s.width_db for s in scores]):.1f} | {safe} | "
        f"{np.mean([s.crps_mean for s in scores]):.2f}/{np.mean([s.crps_day for s in scores]):.2f} "
        f"| {np.mean([s.log_score for s in scores]):.2f} "
        f"| {np.median([s.high for s in scores]):.0f} |"
    )


KEPT = ("kept_day", "kept_mean")
HEAD = (
    "| | days inside 95 % at 2/10/50/200 a day | level inside | error, bias, dB | width, dB | safe "
    "level above, dB; kept on days (mean day), % | CRPS mean/day, dB | log score | upper end at 10 "
    "|\n" + "|---" * 9 + "|"
)
PAGE = """# Are the stated shares true?

Made by `python -m tests.studies.calibration --out docs` from measured series that are not part of
the repository; how the numbers come about is in [counting](counting.md). {n} draws of each way
to visit at each place that has its hours, fixed seed; a *day* is another weekday's count, the
*mean day* the month's. The belief is one for all places; fitted without each place it is the last
table's. Two plainer rivals beside it: *simple* (a page of code) and *climate* (one curve for all
places); `tests/studies/rivals.py`. Lower CRPS and log score are better.
"""


def histogram(values, bins=10) -> str:
    """Share of the values in each tenth, %; a calibrated forecast has 10 in each."""
    counts = np.histogram(np.clip(values, 0, 1 - 1e-9), bins, (0, 1))[0]
    return " | ".join(f"{100 * c / len(values):.0f}" for c in counts)


def page(n, names=SERIES) -> Iterator[str]:
    """The page, line by line."""
    drawn = all_cases(n, names=names)
    ways = {"program": of_program(drawn), "simple": [score(c, simple(c)) for c in drawn]}
    ways["climate"] = of_climate(drawn)
    yield PAGE.format(n=n)
    yield "## By way to visit\n"
    yield HEAD
    for name, scores in ways.items():
        for design, of in groupby(scores, key=lambda s: s.design):
            yield row(f"{name}, {design}", list(of))
    for name, scores in ways.items():
        yield row(f"**{name}, all**", scores)
    yield "\n## By place\n"
    yield HEAD
    for name in names:
        yield row(name, [s for s in ways["program"] if s.series == name])
    yield "\n## Coverage by nominal share\n"
    yield "| | " + " | ".join(f"{share} %" for share in NOMINAL) + " |\n" + "|---" * 5 + "|"
    for name, scores in ways.items():
        days = (f"{inside(scores, x / 100).mean():.0f}" for x in NOMINAL)
        yield f"| {name}, days' counts | {' | '.join(days)} |"
        levels = (f"{level_inside(scores, x / 100):.0f}" for x in NOMINAL)
        yield f"| {name}, level | {' | '.join(levels)} |"
    yield "\nSmall counts are whole numbers: their intervals hold more than their share.\n"
    yield "## PIT histograms\n"
    yield "Share of cases in each tenth of what was foretold, %: 10 in each is calibrated.\n"
    yield "| | " + " | ".join(f"{x / 10:.1f}" for x in range(10)) + " |\n" + "|---" * 11 + "|"
    rng = np.random.default_rng(0)
    for name, scores in ways.items():
        yield f"| {name}, level | {histogram([s.pit_mean for s in scores])} |"
        for i, rate in enumerate(TARGETS):
            # a count fills a stretch of the distribution: a place in it by chance
            pit = [s.pit_low[i] + rng.random() * (s.pit_high[i] - s.pit_low[i]) for s in scores]
            yield f"| {name}, {rate} a day | {histogram(pit)} |"
    yield "\n## The belief without each place\n"
    yield "| without | scale of the tail, dB | shift against the program's |\n|---|---|---|"
    for name, (scale_db, size) in left_out(drawn[::7]).items():
        yield f"| {name} | {scale_db:g} | × {size:g} |"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, help="folder of docs; by default it is printed")
    parser.add_argument("--cases", type=int, default=24)
    options = parser.parse_args()
    began = time.perf_counter()
    lines = page(options.cases)
    write = partial(print, flush=True)
    if options.out is None:
        for line in lines:
            write(line)
    else:
        put(options.out, "calibration", "\n".join(lines) + "\n")
    write(f"{time.perf_counter() - began:.0f} s")
