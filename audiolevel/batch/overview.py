"""Many recordings together: by site and hour, by gain setting, from visit to visit.

Works on the records that a batch wrote, one at a time. Levels are averaged as energy, weighted by
time; a recording counts in the hour it began in. Levels are compared only where they can be: dB SPL
with dB SPL, dB FS with dB FS of the same gain setting. A recording of digital silence is no level
of its site: it is named among the faults and left out of all else.

Entry points: `by_site_and_hour`, `gain_steps`, `drifts`, `silent_by_site`, `comparable`.
"""

import itertools
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from math import log10, sqrt
from typing import Any

import numpy as np

Record = dict[str, Any]

# a slope over less than a week is the week's own rhythm
_LEAST_DAYS, _FEWEST_VISITS = 7.0, 3
# the spread of a value that was rounded to hundredths, 0.01/√12
_ROUNDED_DB = 0.003


@dataclass(frozen=True)
class HourRow:
    """One site in one hour of the day (None where no start is known); dB FS at one gain only."""

    site: str
    hour: int | None
    recordings: int
    minutes: float
    laeq_db: float
    lafmax_db: float
    reference: str
    gain_setting: float | str | None = None


@dataclass(frozen=True)
class GainStep:
    """Two gain settings of a site: what the level did, and what the site file says it should do."""

    site: str
    from_setting: float
    to_setting: float
    measured_db: float
    standard_error_db: float | None
    stated_db: float | None


@dataclass(frozen=True)
class Drift:
    """A site's L90 over its visits, dB per 30 days, and how far off that may be (95 %).

    `gain_setting` is that of all of them where their levels are dB FS, else None.
    """

    site: str
    gain_setting: float | str | None
    visits: int
    db_per_30_days: float
    within_db: float


def by_site_and_hour(records: Iterable[Record]) -> list[HourRow]:
    """Energy means by site and hour, in their order; dB FS and dB SPL are never one mean."""
    groups: dict[tuple[str, int, str, str], list[Record]] = defaultdict(list)
    for record in _heard(records):
        start = _start(record)
        # −1 sorts before hour 0, where None could not be compared
        hour = -1 if start is None else start.hour
        setting = comparable(record)
        key = record["site"], hour, record["reference"], "" if setting is None else f"{setting}"
        groups[key].append(record)
    return [_hour_row(site, hour, group) for (site, hour, *_), group in sorted(groups.items())]


def silent_by_site(records: Iterable[Record]) -> list[tuple[str, int]]:
    """How many recordings of each site hold nothing but digital silence; sites without are not."""
    counts = Counter(record["site"] for record in records if _is_silent(record))
    return sorted(counts.items())


def _is_silent(record: Record) -> bool:
    return "silent" in record["warnings"]


def _heard(records: Iterable[Record]) -> Iterator[Record]:
    return (record for record in records if not _is_silent(record))


def comparable(record: Record) -> float | str | None:
    """The gain setting that a level holds for: dB FS differ from setting to setting, SPL do not."""
    setting: float | str | None = record.get("gain_setting")
    return setting if record["reference"] == "dB FS" else None


def _hour_row(site: str, hour: int, group: Sequence[Record]) -> HourRow:
    seconds = sum(record["duration_s"] for record in group)
    # a mean of energies over time, so that a short loud recording counts for its length only
    energy = sum(record["duration_s"] * 10 ** (record["laeq_db"] / 10) for record in group)
    return HourRow(
        site=site,
        hour=None if hour < 0 else hour,
        recordings=len(group),
        minutes=seconds / 60,
        laeq_db=10 * log10(energy / seconds),
        lafmax_db=max(record["lafmax_db"] for record in group),
        reference=group[0]["reference"],
        gain_setting=comparable(group[0]),
    )


def gain_steps(records: Iterable[Record], stated: dict[str, dict[float, float]]) -> list[GainStep]:
    """Differences in dB FS between neighbouring gain settings of each site, beside those stated.

    Settings that are names have no neighbours. Compares the mean L50 of repeated recordings; street
    levels differ from visit to visit, so the standard error (from the spread at each setting) says
    how much to make of it.

    Parameters
    ----------
    records : iterable of Record
    stated : dict
        For each site, the dB of each setting by its site file.

    Returns
    -------
    list of GainStep
        By site and setting.
    """
    levels: dict[str, dict[float, list[float]]] = defaultdict(lambda: defaultdict(list))
    for record in _heard(records):
        if isinstance(record.get("gain_setting"), int | float):
            # the calibration takes the gain out of a level again
            full_scale_db = record.get("spl_at_full_scale_db") or 0.0
            level = record["percentiles_db"]["L50"] - full_scale_db
            levels[record["site"]][record["gain_setting"]].append(level)
    steps = []
    for site, by_setting in sorted(levels.items()):
        settings = sorted(by_setting)
        for low, high in itertools.pairwise(settings):
            table = stated.get(site, {})
            # half of a step says nothing
            known = low in table and high in table
            steps.append(
                GainStep(
                    site=site,
                    from_setting=low,
                    to_setting=high,
                    measured_db=float(np.mean(by_setting[high]) - np.mean(by_setting[low])),
                    standard_error_db=_error_of_difference(by_setting[low], by_setting[high]),
                    stated_db=table[high] - table[low] if known else None,
                )
            )
    return steps


def _error_of_difference(a: Sequence[float], b: Sequence[float]) -> float | None:
    # one recording has no spread, so nothing is known of the error
    if len(a) < 2 or len(b) < 2:
        return None
    return sqrt(float(np.var(a, ddof=1)) / len(a) + float(np.var(b, ddof=1)) / len(b))


def drifts(records: Iterable[Record], without: Set[str] = frozenset()) -> list[Drift]:
    """Least-squares slope of L90 over the dates of three visits or more, a week or more apart.

    A visit is a day, with the mean of its recordings.

    Parameters
    ----------
    records : iterable of Record
    without : set of str
        Paths of recordings that something is wrong with.

    Returns
    -------
    list of Drift
        By site, and by gain setting in dB FS; only what lies outside its own 95 % interval
        (Student's t, independent residuals).
    """
    visits: dict[tuple[str, str], dict[int, list[tuple[float, float]]]]
    visits = defaultdict(lambda: defaultdict(list))
    settings: dict[tuple[str, str], float | str | None] = {}
    for record in _heard(records):
        start = _start(record)
        if start is not None and record["path"] not in without:
            setting = comparable(record)
            # a site that was calibrated on the way has two lines, not one with a step
            key = record["site"], f"{record['reference']} {setting}"
            days = start.toordinal() + (start.hour * 60 + start.minute) / 1440
            # L90, the site between vehicles, depends least on who happened to pass
            visits[key][start.toordinal()].append((days, record["percentiles_db"]["L90"]))
            settings[key] = setting
    found = [
        _drift(key[0], settings[key], [np.mean(day, axis=0).tolist() for day in days_of.values()])
        for key, days_of in sorted(visits.items(), key=lambda one: one[0])
    ]
    return [one for one in found if one is not None and abs(one.db_per_30_days) > one.within_db]


def _drift(
    site: str, setting: float | str | None, points: Sequence[tuple[float, float]]
) -> Drift | None:
    days, level = np.array(sorted(points)).T
    # about their mean, so that slope and mean level do not disturb each other
    days = days - days.mean()
    spread = float((days**2).sum())
    if len(points) < _FEWEST_VISITS or np.ptp(days) < _LEAST_DAYS:
        return None
    slope = float((days * level).sum()) / spread
    left = level - level.mean() - slope * days
    # two fewer than the points: mean and slope were both fitted
    freedom = len(points) - 2
    error = sqrt(float((left**2).sum()) / freedom / spread)
    # levels are written in hundredths: three in a line do not know their slope exactly
    error = max(error, _ROUNDED_DB / sqrt(spread))
    # kept out of start-up: few batches have visits enough
    from scipy.special import stdtrit

    within = float(stdtrit(freedom, 0.975)) * error
    return Drift(site, setting, len(points), 30 * slope, 30 * within)


def _start(record: Record) -> datetime | None:
    return datetime.fromisoformat(record["start"]) if record.get("start") else None
