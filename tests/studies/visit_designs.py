"""Visits to measured places as users make them, with the days and the month they must foretell.

Cases are drawn from `tests.studies.real_series`, from a fixed seed. A case is what the
visits showed, the levels at which the mean weekday fires at round rates, and another weekday's
counts there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.studies.real_series import LIMIT, SEED, SERIES, TARGETS, level_for, made_visit, series


@dataclass(frozen=True)
class Design:
    """So many visits of a length, between two hours; `in_a_row`: on days that follow each other."""

    name: str
    visits: int
    minutes: int
    hours: tuple[int, int]
    in_a_row: bool = False


DESIGNS = (
    Design("1 × 10 min, any hour", 1, 10, (0, 24)),
    Design("1 × 10 min by day", 1, 10, (8, 20)),
    Design("1 × 60 min, any hour", 1, 60, (0, 24)),
    Design("1 × 60 min by day", 1, 60, (8, 20)),
    Design("3 × 10 min by day", 3, 10, (8, 20)),
    Design("5 × 10 min by day", 5, 10, (8, 20)),
    Design("8 × 60 min on eight days", 8, 60, (8, 20), in_a_row=True),
    Design("24 h", 1, 1440, (0, 24)),
    Design("1 × 60 min by night", 1, 60, (0, 5)),
)
NIGHT = DESIGNS[-1]


@dataclass(frozen=True, eq=False)
class Case:
    """Visits to one place, and what was true there.

    Attributes
    ----------
    settings : array, shape (n,)
    visits : list of Visit
    active : array, shape (24,)
        Hours that the series covers.
    true_db : array, shape (rates,)
        Levels at which the mean weekday fires at `TARGETS`.
    rows : array of int, shape (rates,)
        Settings next above these.
    count : array, shape (rates,)
        Of another weekday there.
    day_db : float
        The level at which that day fired at the limit.
    """

    series: str
    design: str
    settings: np.ndarray
    visits: list
    active: np.ndarray
    true_db: np.ndarray
    rows: np.ndarray
    count: np.ndarray
    day_db: float

    @property
    def mean_db(self) -> float:
        """The level at which the mean weekday fires at the limit."""
        return float(self.true_db[TARGETS.index(LIMIT)])


def possible(name: str, design: Design) -> bool:
    """Whether a series has the hours and days of a design."""
    one = series(name)
    first, last = max(design.hours[0], one.hours[0]), min(design.hours[1], one.hours[1])
    return last - first >= design.minutes / 60 and (design.visits < 8 or not one.same_day)


@cache
def _truth(name):
    """Settings of a series, and the counts of each of its days there."""
    one = series(name)
    top = max(map(np.max, one.levels)) + 25
    grid = np.arange(np.floor(np.median(one.levels[0])), top, 0.5)
    return grid, np.array([one.heard(level, grid)[0] for level in one.levels])


def cases(name: str, design: Design, n: int) -> Iterator[Case]:
    """Draw so many cases of a design from a series."""
    one = series(name)
    grid, daily = _truth(name)
    first, last = max(design.hours[0], one.hours[0]), min(design.hours[1], one.hours[1])
    rng = np.random.default_rng([SEED, 25, SERIES.index(name), DESIGNS.index(design)])
    active = np.zeros(24)
    active[slice(*one.hours)] = 1.0
    for _ in range(n):
        day = int(rng.integers(len(one.days)))
        others = [day] if one.same_day else [d for d in range(len(one.days)) if d != day]
        mean = daily[day] if name == "kerb" else daily.mean(axis=0)
        true_db = np.array([level_for(grid, mean, rate) for rate in TARGETS])
        settings = np.unique(np.append(grid, true_db))
        heard_on = _days(others, design, rng)
        visits = [
            made_visit(one, d, rng, 60 * first, 60 * last, design.minutes, settings)
            for d in heard_on
        ]
        count = one.heard(one.levels[day], settings)[0]
        yield Case(
            name,
            design.name,
            settings,
            visits,
            active,
            true_db,
            np.searchsorted(settings, true_db),
            count[np.searchsorted(settings, true_db)],
            level_for(settings, count.astype(float), LIMIT),
        )


def _days(others, design, rng):
    """Days of the visits; on end where the design says so."""
    if not design.in_a_row or len(others) < design.visits:
        return rng.choice(others, design.visits, replace=len(others) < design.visits)
    begin = int(rng.integers(len(others) - design.visits + 1))
    return others[begin : begin + design.visits]
