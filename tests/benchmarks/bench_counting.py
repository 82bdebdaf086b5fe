"""How long does the whole counting of one hour take, for 61 settings and four modes?

python -m tests.benchmarks.bench_counting
"""

import time

import numpy as np

from audiolevel.counting.exposure import Visit
from audiolevel.counting.loudest_peaks import separate_peaks
from audiolevel.counting.rates import predict
from audiolevel.metering.decibels import centibels
from audiolevel.triggers.trigger import Trigger, sweep
from tests.studies.roadside import STEP_S, measure, ordinary_site

LIMIT_S = 0.5
ROW_S = 0.01
SETTINGS = {
    "threshold": np.arange(50.0, 111.0),
    "rise": np.arange(3.0, 33.5, 0.5),
    "fall": np.arange(3.0, 33.5, 0.5),
    "change": np.arange(3.0, 33.5, 0.5),
}


def history(hours=1.0, seed=1):
    """An invented roadside at 10 ms: 0.1 s steps joined by straight lines, with a fine ripple."""
    rng = np.random.default_rng(seed)
    coarse = measure(ordinary_site(rng), hours, rng)
    rows = round(hours * 3600 / ROW_S)
    level = np.interp(np.arange(rows) * ROW_S, np.arange(coarse.size) * STEP_S, coarse)
    return level + rng.normal(0, 0.1, rows)


def count_all(level):
    """Seconds taken by each step."""
    spent = dict.fromkeys(["triggers", "peaks", "prediction"], 0.0)
    centi = centibels(level)
    for mode, settings in SETTINGS.items():
        began = time.perf_counter()
        fired = sweep(centi, Trigger(mode, float(settings[0])), settings.tolist())
        spent["triggers"] += time.perf_counter() - began
        began = time.perf_counter()
        peaks = separate_peaks(level, ROW_S) if mode == "threshold" else None
        spent["peaks"] += time.perf_counter() - began
        began = time.perf_counter()
        visit = Visit(np.array([rows.size for rows in fired]), level.size * ROW_S, peaks)
        predict(settings, [visit], extrapolate=peaks is not None)
        spent["prediction"] += time.perf_counter() - began
    return spent


def best_of(runs=5, hours=1.0):
    """The quickest run, after one that loads everything."""
    level = history(hours)
    count_all(level)
    return min((count_all(level) for _ in range(runs)), key=lambda spent: sum(spent.values()))


if __name__ == "__main__":
    for hours in (1.0, 24.0):
        spent = best_of(runs=5 if hours == 1 else 1, hours=hours)
        print(f"{hours:.0f} h at 10 ms, {SETTINGS['rise'].size} settings, {len(SETTINGS)} modes")
        for step, seconds in spent.items():
            print(f"  {step:<11}{seconds:7.3f} s")
        limit = f" (limit {LIMIT_S} s)" if hours == 1 else ""
        print(f"  {'all':<11}{sum(spent.values()):7.3f} s{limit}")
