"""Levels of the site in each third-octave band, and how they spread over time and hours.

The power spectrum of every eighth of a second is summed into the bands of speech, 160 Hz to 8 kHz
as far as the sampling rate goes, and counted into a histogram of 0.5 dB, for every hour of the day
when the start is known. So the quiet moments, in which talk carries furthest, are told from the
loud ones, and nothing grows with the recording.

Conventions: band levels in dB FS (a full-scale sine reads 0.0); band edges are those of IEC
61260-1:2014, base 10. Sharp band edges in the spectrum stand for the standard's filters.

Entry points: `BandAnalyser`, `BandLevels`.
"""

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray, IntArray
from audiolevel.metering.decibels import level_db
from audiolevel.metering.readers import Block
from audiolevel.privacy.intelligibility import BANDS_HZ

SLICE_S = 0.125
# above this share of the sampling rate the recorder's own filter takes away what was there
# (common practice: converters pass 0.45 of their rate and stop 0.55)
USABLE_SHARE = 0.45
HOURS = 24
# −160 to +20 dB FS
_LOWEST_DB, STEP_DB, _STEPS = -160.0, 0.5, 360
# exact midbands (nominal 160 Hz to 8 kHz); edges are half a tenth of a decade off
_MIDBANDS_HZ = 1000.0 * 10.0 ** (np.arange(-8, 10) / 10.0)
# more seconds than any recording has
_ALL = 2**62
FEWEST_SLICES = 16 * 60  # a minute, before an hour of its own is told


def carried_bands(top_hz: float) -> BoolArray:
    """Which bands a recording carries whole that ends at a frequency; shape (18,)."""
    # the edge is known to a sixth of an octave, half a band
    return np.asarray(top_hz >= _MIDBANDS_HZ)


def usable_bands(rate_hz: int) -> BoolArray:
    """Which of the 18 bands lie wholly below what the sampling rate can hold, bool, shape (18,)."""
    return np.asarray(USABLE_SHARE * rate_hz >= _MIDBANDS_HZ * 10**0.05)


@dataclass(frozen=True)
class BandLevels:
    """Histograms of the band levels of a recording.

    Attributes
    ----------
    counts : array of int64, shape (25, 18, steps)
        Slices of 0.125 s by hour of the day, band and step of 0.5 dB; the last of the 25 hours is
        the time whose hour is not known.
    usable : array of bool, shape (18,)
        Bands that the recording holds.
    spoken : int
        Slices left out because somebody talks in them.
    """

    counts: IntArray
    usable: BoolArray
    spoken: int = 0

    @property
    def heard_s(self) -> float:
        """Length of what was counted; slices overlap by half."""
        return float(self.counts[:, 0].sum()) * SLICE_S / 2

    def exceeded_db(self, percent: float, hour: int | None = None) -> Array:
        """Band level exceeded for `percent` % of the time, dB FS, shape (18,).

        Each band has its own percentile; L90 is the level of the quiet moments. NaN in bands that
        are not usable, and everywhere for an hour that was not recorded.

        Parameters
        ----------
        percent : float
            0 to 100.
        hour : int or None
            Of the day; None takes all.
        """
        # of shape (18, steps) either way
        counts = self.counts.sum(axis=0) if hour is None else self.counts[hour]
        cumulated = np.cumsum(counts, axis=1)
        total = cumulated[:, -1]
        # steps wholly below the level; its middle is right within 0.25 dB
        at = (cumulated < (1 - percent / 100) * total[:, None]).sum(axis=1)
        middle = _LOWEST_DB + (at + 0.5) * STEP_DB
        return np.where(self.usable & (total > 0), middle, np.nan)

    @property
    def hours(self) -> list[int]:
        """The hours of the day of which at least a minute was recorded."""
        slices = self.counts[:HOURS, 0].sum(axis=1)
        return [int(hour) for hour in np.flatnonzero(slices >= FEWEST_SLICES)]

    def with_other(self, other: "BandLevels") -> "BandLevels":
        """Both together; only bands that both hold."""
        usable = self.usable & other.usable
        return BandLevels(self.counts + other.counts, usable, self.spoken + other.spoken)


class BandAnalyser:
    """Third-octave levels of a stream of samples.

    Parameters
    ----------
    rate_hz : int
    start : datetime or None
        When the recording began.
    """

    def __init__(self, rate_hz: int, start: datetime | None = None) -> None:
        self._rate_hz, self._start = rate_hz, start
        self._size = round(SLICE_S * rate_hz)
        # a Hann window and slices that overlap by half count every moment once
        self._window = np.hanning(self._size + 1)[:-1]
        hz = np.asarray(np.arange(self._size // 2 + 1) * (rate_hz / self._size), dtype=np.float64)
        self._share = _shares(hz, _MIDBANDS_HZ * 10**-0.05, _MIDBANDS_HZ * 10**0.05)
        self._counts = np.zeros((HOURS + 1, len(BANDS_HZ), _STEPS), dtype=np.int64)
        self._spoken = 0
        # slices of digital silence by hour: no noise that could hide talk
        self._silent = np.zeros(HOURS + 1, dtype=np.int64)
        # second, cells: slices of which nobody knows yet whether speech is in them
        self._pending: list[tuple[IntArray, IntArray]] = []
        self._rest: Block | None = None
        self._at = 0

    def add(self, block: Block) -> None:
        """Take in one more block, shape (frames, channels); any length."""
        held = block if self._rest is None else np.concatenate([self._rest, block])
        hop = self._size // 2
        count = max(0, (len(held) - self._size) // hop + 1)
        # 500 slices, half a minute, bound the memory of the spectra
        for first in range(0, count, 500):
            starts = np.arange(first, min(first + 500, count)) * hop
            self._measure(held, starts)
        # a copy, since a view would hold the whole block in memory
        self._rest = held[count * hop :].copy()
        self._at += count * hop

    def settle(self, spoken: BoolArray, judged: int) -> None:
        """Count the slices of the seconds that were judged for speech.

        Parameters
        ----------
        spoken : array of bool, shape (seconds,)
            In which seconds speech was found; what lies past its end holds none. Talk is no noise
            that hides talk, so those slices are not counted.
        judged : int
            Seconds of which that is settled.
        """
        kept = []
        for seconds, cells in self._pending:
            ready = seconds < judged
            talk = np.zeros(len(seconds), dtype=np.bool_)
            within = seconds < len(spoken)
            talk[within] = spoken[seconds[within]]
            self._count(cells[ready & ~talk])
            self._spoken += int((ready & talk).sum())
            if not ready.all():
                kept.append((seconds[~ready], cells[~ready]))
        self._pending = kept

    def result(self) -> BandLevels:
        """Levels of everything taken in; what was not settled counts as without speech.

        Digital silence is left out, unless there was nothing else.
        """
        self.settle(np.zeros(0, dtype=np.bool_), _ALL)
        if not self._counts.any() and not self._spoken:
            self._counts[:, :, 0] = self._silent[:, None]
        usable = usable_bands(self._rate_hz)
        return BandLevels(self._counts.copy(), usable, self._spoken)

    def _measure(self, samples: Block, starts: IntArray) -> None:
        # of shape (slices, size, channels)
        cut = samples[starts[:, None] + np.arange(self._size)]
        power = np.zeros((len(starts), self._size // 2 + 1))
        for channel in range(cut.shape[2]):
            spectrum = np.fft.rfft(cut[:, :, channel] * self._window, axis=1)
            power += spectrum.real**2 + spectrum.imag**2
        # mean square of one side of the spectrum (Parseval), mean of the channels
        power *= 2 / (self._size * (self._window**2).sum() * cut.shape[2])
        level = level_db(power @ self._share)
        step = np.clip(np.floor((level - _LOWEST_DB) / STEP_DB), 0, _STEPS - 1).astype(np.int64)
        hour = self._hours(starts)
        sound = level.max(axis=1) > _LOWEST_DB
        self._silent += np.bincount(hour[~sound], minlength=HOURS + 1)
        starts, step, hour = starts[sound], step[sound], hour[sound]
        bands, steps = self._counts.shape[1:]
        # one number for hour, band and step together, so that one bincount counts them all
        cell = (hour[:, None] * bands + np.arange(bands)) * steps + step
        # the middle of a slice says which second it belongs to
        second = (self._at + starts + self._size // 2) // self._rate_hz
        self._pending.append((second, cell))

    def _count(self, cells: IntArray) -> None:
        counted = np.bincount(cells.ravel(), minlength=self._counts.size)
        self._counts += counted.reshape(self._counts.shape)

    def _hours(self, starts: IntArray) -> IntArray:
        if self._start is None:
            return np.full(len(starts), HOURS)
        start = self._start
        second = start.hour * 3600 + start.minute * 60 + start.second
        # samples since midnight
        sample = second * self._rate_hz + self._at + starts
        return np.asarray(sample // (3600 * self._rate_hz) % HOURS)


def _shares(hz: Array, low: Array, high: Array) -> Array:
    """Which part of each spectral line belongs to each band, shape (lines, bands)."""
    # each line stands for what lies nearer to it than to its neighbours
    half = hz[1] / 2
    overlap = np.minimum(hz[:, None] + half, high) - np.maximum(hz[:, None] - half, low)
    return np.asarray(np.clip(overlap / (2 * half), 0, 1), dtype=np.float64)
