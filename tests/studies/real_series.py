"""Measured series of real places: streets, a quiet street, a kerb.

They lie in the folder that AUDIOLEVEL_REAL_LEVELS names and are no part of the repository. Streets
are known by the highest level of each minute, a quiet street by the minute and by the second, a
kerb by the vehicles passing it. A firing is a minute (or a vehicle) that reaches the level; by the
second the package's own trigger counts.
"""

import csv
import gzip
import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from audiolevel.counting.exposure import Visit
from audiolevel.counting.loudest_peaks import separate_peaks
from audiolevel.metering.decibels import centibels
from audiolevel.triggers.trigger import Trigger, sweep

SEED = 20_261_125
TARGETS = (2, 10, 50, 200)
LIMIT = 10
STREETS = ("street 1", "street 3", "street 5", "street 6")
SERIES = (*STREETS, "quiet, minutes", "quiet, seconds", "kerb")


# --- the series ----------------------------------------------------------------------------------


def folder():
    """Where the measured series lie."""
    return Path(os.environ["AUDIOLEVEL_REAL_LEVELS"])


def rows_of(name):
    """Rows of one file, without its heading."""
    with gzip.open(folder() / f"{name}.csv.gz", "rt") as file:
        return list(csv.reader(file))[1:]


@dataclass(frozen=True, eq=False)
class Series:
    """Events of whole days: minutes from the day's beginning, and levels.

    `row_s` is 1 for the series by the second, whose firings the trigger counts; 0 for separate
    events. `same_day`: the truth is the day of the visits themselves.
    """

    name: str
    days: list
    minutes: list
    levels: list
    row_s: float = 0.0
    same_day: bool = False
    hours: tuple = (0, 24)

    def cut(self, day, first_min, last_min):
        """Levels of a stretch of a day."""
        at = self.minutes[day]
        return self.levels[day][(at >= first_min) & (at < last_min)]

    def heard(self, level, settings):
        """Firings at each setting, and separate peaks."""
        if self.row_s:
            trigger = Trigger("threshold", 0.0)
            fired = sweep(centibels(level), trigger, settings, self.row_s)
            return np.array([rows.size for rows in fired]), separate_peaks(level, self.row_s)
        peaks = np.sort(level)[::-1]
        below = np.searchsorted(peaks[::-1], settings - 1e-9)
        return peaks.size - below, peaks


@cache
def series(name):
    """One of the measured series, its weekdays."""
    if name == "kerb":
        return _kerb()
    if name.startswith("street"):
        return _by_row(name, f"street_{name[-1]}_minutes", 60)
    return _by_row(name, name.replace(", ", "_"), 60 if "minutes" in name else 1)


def _by_row(name, file, row_s):
    by_day = {}
    for moment, level in rows_of(file):
        if level:
            at = datetime.fromisoformat(moment)
            midnight = at.replace(hour=0, minute=0, second=0)
            by_day.setdefault(midnight, []).append(((at - midnight).total_seconds(), float(level)))
    alone = len(by_day) <= 2
    whole = {
        day: np.array(rows).T
        for day, rows in sorted(by_day.items())
        if len(rows) > 0.97 * 86_400 / row_s and (alone or day.weekday() < 5)
    }
    return Series(
        name,
        list(whole),
        [at / 60 for at, _ in whole.values()],
        [level for _, level in whole.values()],
        row_s=float(row_s == 1),
        same_day=alone,
    )


def _kerb():
    """Days of more than 500 vehicles, 7 to 19 h; the instrument's own day is the truth."""
    by_day = {}
    for _, level, _, _, moment in rows_of("kerb_passbys"):
        if level:
            at = datetime.fromisoformat(moment)
            midnight = at.replace(hour=0, minute=0, second=0, microsecond=0)
            by_day.setdefault(midnight, []).append(((at - midnight).total_seconds(), float(level)))
    full = {d: np.array(rows).T for d, rows in sorted(by_day.items()) if len(rows) > 500}
    return Series(
        "kerb",
        list(full),
        [at / 60 for at, _ in full.values()],
        [level for _, level in full.values()],
        same_day=True,
        hours=(7, 19),
    )


# --- visits ----------------------------------------------------------------------------


def level_for(grid, counts, rate):
    """Level at which a falling count is `rate`."""
    start = int(np.argmax(counts))
    falling = np.log(np.maximum(np.minimum.accumulate(counts[start:]), 1e-3))
    return float(np.interp(-np.log(rate), -falling, grid[start:]))


def made_visit(one, day, rng, first_min, last_min, minutes, settings):
    """A visit of some minutes to a day, anywhere between two of its minutes."""
    while True:
        at = int(rng.integers(first_min, last_min - minutes + 1))
        level = one.cut(day, at, at + minutes)
        if level.size >= 5 and (one.hours != (0, 24) or _whole(one, level, minutes)):
            break
    counts, peaks = one.heard(level, settings)
    start = one.days[day] + timedelta(minutes=at)
    return Visit(counts, 60.0 * minutes, peaks, start, levels_of(level)[0])


def levels_of(level):
    """L10 and LAeq."""
    return np.percentile(level, 90), 10 * np.log10(np.mean(10 ** (level / 10)))


def _whole(one, level, minutes):
    return level.size > 0.9 * minutes * (60 if one.row_s else 1)
