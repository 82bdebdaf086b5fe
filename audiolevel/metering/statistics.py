"""Levels of a whole recording: Leq, maxima, percentiles, clipping.

A `Summary` is fed level rows as they come and keeps only sums, maxima and a histogram, so its
size does not depend on the length of the recording. Symbols follow IEC 61672-1 and ISO 1996-1.

Entry points: `Summary`, `Levels`, `Clipping`, `known_levels`.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray, Centi, IntArray
from audiolevel.metering.decibels import SILENCE_DB, level_db, mean_square
from audiolevel.metering.meter import ROW_S, LevelRows

PERCENTS = (1, 5, 10, 50, 90, 95, 99)
# what another unit, gain or calibration moves together; the highest sample is always re full scale
MOVING = (
    *("laeq_db", "lceq_db", "lzeq_db", "lafmax_db", "lasmax_db", "lafmin_db", "lae_db"),
    "lcpeak_db",
)
# clipped samples up to this share leave levels and counts as they are (0.1 %, see docs/gain.md)
CLIPPED_SHARE_LIMIT = 0.001
# top of the histogram, far above anything in dB FS
_HIGHEST_DB = 60.0


@dataclass(frozen=True)
class Clipping:
    """How much of a recording sits at full scale.

    Attributes
    ----------
    clipped_share : float
        Of the samples, 0 to 1.
    longest_run_s : float
        Longest run of rows of 10 ms that all hold clipped samples.
    verdict : str
        "none", "some" (up to `CLIPPED_SHARE_LIMIT`) or "heavy".
    """

    clipped_share: float
    longest_run_s: float
    verdict: str


@dataclass(frozen=True)
class Levels:
    """The levels of a recording in dB FS, under the symbols of IEC 61672-1 and ISO 1996-1.

    Attributes
    ----------
    duration_s : float
    laeq_db, lceq_db, lzeq_db : float
        Energy means over the whole.
    lafmax_db, lasmax_db, lafmin_db : float
        Highest and lowest F, highest S reading.
    lae_db : float
        Sound exposure level, LAeq + 10 lg(duration / 1 s).
    lcpeak_db, sample_peak_db : float
        Highest C-weighted peak; highest sample relative to the full-scale amplitude.
        NaN, like every level but the A-weighted F ones, where a history does not hold it.
    percentiles_db : mapping of str to float
        "L10" and others: LAF exceeded for so many % of the time.
    clipping : Clipping
    """

    duration_s: float
    laeq_db: float
    lceq_db: float
    lzeq_db: float
    lafmax_db: float
    lasmax_db: float
    lafmin_db: float
    lae_db: float
    lcpeak_db: float
    sample_peak_db: float
    percentiles_db: Mapping[str, float]
    clipping: Clipping

    def shifted(self, by_db: float) -> "Levels":
        """The same in another unit: every level moved but the highest sample, always re full scale.

        Parameters
        ----------
        by_db : float
        """
        changed: dict[str, Any] = {name: getattr(self, name) + by_db for name in MOVING}
        changed["percentiles_db"] = {
            name: level + by_db for name, level in self.percentiles_db.items()
        }
        return replace(self, **changed)


class Summary:
    """Levels of all rows fed so far.

    Parameters
    ----------
    row_s : float
        Length of a row in seconds.
    """

    def __init__(self, row_s: float = ROW_S) -> None:
        self.row_s = row_s
        self._rows = 0
        # sums of mean squares of A, C and Z, then the maxima of LAF, LAS, LCpeak and sample
        self._energy = np.zeros(3)
        self._highest = np.full(4, SILENCE_DB)
        self._lowest = np.inf
        self._clipped = 0.0
        # rows on end that hold clipped samples: at the beginning, now, and at most
        self._first_run, self._run, self._longest_run = 0, 0, 0
        # 26,001 bins of 0.01 dB, 200 kB for any length
        bins = round((_HIGHEST_DB - SILENCE_DB) * 100) + 1
        self._histogram = np.zeros(bins, dtype=np.int64)

    def add(self, rows: LevelRows) -> None:
        """Take in more rows."""
        if not len(rows):
            return
        self._rows += len(rows)
        means = (rows.laeq_db, rows.lceq_db, rows.lzeq_db)
        self._energy += [mean_square(level).sum() for level in means]
        tops = (rows.lafmax_db, rows.las_db, rows.lcpeak_db, rows.sample_peak_db)
        self._highest = np.maximum(self._highest, [level.max() for level in tops])
        self._lowest = min(self._lowest, float(rows.laf_db.min()))
        self._histogram += np.bincount(_bin(rows.laf_db), minlength=len(self._histogram))
        self._clipped += float(rows.clipped.sum())
        self._count_runs(rows.clipped > 0)

    def _count_runs(self, clipped: BoolArray) -> None:
        before = self._rows - len(clipped)
        gaps = np.flatnonzero(~clipped)
        if not len(gaps):
            # no gap has come yet, so the first run goes on
            self._first_run += len(clipped) if self._first_run == before else 0
            self._run += len(clipped)
            self._longest_run = max(self._longest_run, self._run)
            return
        self._first_run += int(gaps[0]) if self._first_run == before else 0
        # between two gaps g rows apart lie g − 1 clipped ones
        inner = int(np.diff(gaps).max(initial=1)) - 1
        self._longest_run = max(self._longest_run, self._run + int(gaps[0]), inner)
        self._run = len(clipped) - 1 - int(gaps[-1])
        self._longest_run = max(self._longest_run, self._run)

    def include(self, other: "Summary") -> None:
        """Take in everything of another summary, whose rows come after those of this one."""
        # a run may go on across the seam
        joint = self._run + other._first_run
        self._longest_run = max(self._longest_run, other._longest_run, joint)
        self._first_run = joint if self._first_run == self._rows else self._first_run
        self._run = joint if other._run == other._rows else other._run
        self._rows += other._rows
        self._energy = self._energy + other._energy
        self._highest = np.maximum(self._highest, other._highest)
        self._lowest = min(self._lowest, other._lowest)
        self._histogram = self._histogram + other._histogram
        self._clipped += other._clipped

    def without(self, silence: Centi) -> "Summary":
        """The same without rows of digital silence, given by their LAF in hundredths of a dB FS.

        Silence has no energy and no maximum, so only the rows and their histogram change.
        """
        out = Summary(self.row_s)
        out.include(self)
        out._rows -= len(silence)
        out._histogram -= np.bincount(_bin(silence / 100), minlength=len(out._histogram))
        out._lowest = SILENCE_DB + int(np.flatnonzero(out._histogram)[0]) / 100
        return out

    @property
    def rows(self) -> int:
        """Rows taken in."""
        return self._rows

    def exceeded_db(self, percent: float) -> float:
        """LN: the LAF exceeded for `percent` % of the time, in dB FS (ISO 1996-1).

        Exact on the 0.01 dB of the rows: the histogram has a bin for each hundredth, and the level
        between two of them is interpolated as `numpy.percentile` does.
        """
        cumulative = np.cumsum(self._histogram)
        # exceeded for N % of the time is the percentile 100 − N
        place = (self._rows - 1) * (1 - percent / 100)
        # "right": the first bin with more rows up to it than the place, which counts from 0
        low, high = np.searchsorted(cumulative, [np.floor(place), np.ceil(place)], side="right")
        part = float(place - np.floor(place))
        return round(SILENCE_DB + (int(low) * (1 - part) + int(high) * part) / 100, 4)

    def levels(self, duration_s: float | None = None) -> Levels:
        """The levels of everything fed; `duration_s` when the recording is not whole rows long."""
        # no rows at all read as silence
        energy = level_db(self._energy / max(self._rows, 1))
        duration = self._rows * self.row_s if duration_s is None else duration_s
        lafmax, lasmax, lcpeak, sample_peak = self._highest.tolist()
        return Levels(
            duration_s=duration,
            laeq_db=float(energy[0]),
            lceq_db=float(energy[1]),
            lzeq_db=float(energy[2]),
            lafmax_db=lafmax,
            lasmax_db=lasmax,
            lafmin_db=float(self._lowest),
            # sound exposure level: that of the same energy within 1 s (IEC 61672-1:2013, 3)
            lae_db=float(energy[0] + 10 * np.log10(max(duration, self.row_s))),
            lcpeak_db=lcpeak,
            sample_peak_db=sample_peak,
            percentiles_db={f"L{n}": self.exceeded_db(n) for n in PERCENTS},
            clipping=self.clipping(),
        )

    def clipping(self) -> Clipping:
        """Share of samples at full scale, and the longest run of rows that all have some."""
        share = self._clipped / max(self._rows, 1)
        verdict = "none" if share == 0 else "some" if share <= CLIPPED_SHARE_LIMIT else "heavy"
        return Clipping(share, self._longest_run * self.row_s, verdict)


# what each level of a recording is made of
_MADE_OF = {
    "lceq_db": "lceq_db",
    "lzeq_db": "lzeq_db",
    "lasmax_db": "las_db",
    "lcpeak_db": "lcpeak_db",
    "sample_peak_db": "sample_peak_db",
}


def known_levels(levels: Levels, lacking: Collection[str]) -> Levels:
    """The same with NaN for every level that would be made of a column that is lacking."""
    unknown: dict[str, Any] = {n: np.nan for n, column in _MADE_OF.items() if column in lacking}
    return replace(levels, **unknown)


def _bin(level: Array) -> IntArray:
    centi = np.rint((level - SILENCE_DB) * 100).astype(np.int64)
    return np.clip(centi, 0, round((_HIGHEST_DB - SILENCE_DB) * 100))
