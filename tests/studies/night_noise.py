"""How much quieter is each hour of the day on real streets, by L90?

    AUDIOLEVEL_REAL_LEVELS=... python -m tests.studies.night_noise

Of every day of a year at four streets, L90 of each hour less the mean L90 of that day's 9 to 17 h.
Prints the mean over the streets, and what one day in twenty lies below, all days together: the
numbers of `audiolevel.privacy.active_hours`.
"""

import csv
import gzip
import os
from collections import defaultdict
from pathlib import Path

import numpy as np

STREETS = ("street_1", "street_3", "street_5", "street_6")


def days(path: Path) -> np.ndarray:
    """L90 by hour less that of the day's 9 to 17 h, shape (days, 24); NaN where none is known."""
    by_day: dict[str, dict[int, float]] = defaultdict(dict)
    with gzip.open(path, "rt", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["L90"]:
                by_day[row["time"][:10]][int(row["time"][11:13])] = float(row["L90"])
    level = np.full((len(by_day), 24), np.nan)
    for i, day in enumerate(sorted(by_day)):
        for hour, value in by_day[day].items():
            level[i, hour] = value
    # a day of which no such hour is known has nothing to compare with
    level = level[np.isfinite(level[:, 9:17]).any(axis=1)]
    return level - np.nanmean(level[:, 9:17], axis=1, keepdims=True)


def table(folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """Mean over the streets, and the 5 % quantile of all days, by hour; shapes (24,)."""
    each = [days(folder / f"{name}_hours.csv.gz") for name in STREETS]
    mean = np.mean([np.nanmean(one, axis=0) for one in each], axis=0)
    return mean, np.nanpercentile(np.concatenate(each), 5, axis=0)


def main() -> None:
    """Print the table."""
    mean, quiet = table(Path(os.environ["AUDIOLEVEL_REAL_LEVELS"]))
    for hour in range(24):
        print(
            f"{hour:02d}:00  {mean[hour]:+5.1f} dB  one day in twenty below {quiet[hour]:+5.1f} dB"
        )


if __name__ == "__main__":
    main()
