"""A sound level meter: A, C and Z, F and S, equivalent and peak levels every 10 ms.

A `Meter` takes the samples block by block and gives `LevelRows`: one row for every 10 ms with the
levels a sound level meter would show (IEC 61672-1:2013). Its state is carried from block to block,
so the rows do not depend on the size of the blocks.

Conventions: a full-scale sine reads 0.0 dB FS (AES17), so a mean square of 0.5 is 0 dB; peak levels
are on the same scale, where that sine's LCpeak is +3.0. Levels are rounded to 0.01 dB, the
resolution of the history file, so that a count made from the file is the count made here.
Digital silence reads `SILENCE_DB`.

Entry points: `Meter`, `LevelRows`, `time_weighted`, `level_db`.
"""

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields
from functools import lru_cache
from math import exp
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audiolevel.ground.arrays import Array, IntArray
from audiolevel.metering.decibels import mean_square, rounded_db
from audiolevel.metering.readers import Block
from audiolevel.metering.weighting import filters

ROW_S = 0.01
MS_PER_ROW = 10
FAST_S, SLOW_S = 0.125, 1.0  # IEC 61672-1:2013, 5.8.1
_WARM_UP_S = 2


@dataclass(frozen=True)
class LevelRows:
    """Levels of consecutive rows of 10 ms, dB FS; every array has shape (rows,).

    Attributes
    ----------
    laf_db, las_db, lzf_db : array
        A-weighted F and S, and unweighted F, readings at the end of the row.
    lafmax_db : array
        Highest A-weighted F reading within the row.
    laeq_db, lceq_db, lzeq_db : array
        Means over the row.
    lcpeak_db, sample_peak_db : array
        Highest C-weighted and plain sample, the latter relative to the full-scale amplitude.
    clipped : array
        Share of the samples at full scale.
    """

    laf_db: Array
    las_db: Array
    lzf_db: Array
    lafmax_db: Array
    laeq_db: Array
    lceq_db: Array
    lzeq_db: Array
    lcpeak_db: Array
    sample_peak_db: Array
    clipped: Array

    def __len__(self) -> int:
        return len(self.laf_db)

    def __getitem__(self, rows: slice) -> Self:
        return type(self)(*(getattr(self, field.name)[rows] for field in fields(self)))


@dataclass(frozen=True)
class MeteredBlock:
    """What a meter makes of one block.

    Attributes
    ----------
    rows : LevelRows
        Of the channel listened to, or of the mean square of all.
    channel_rows : tuple of LevelRows
        Of each channel, when several are listened to.
    waves, a_weighted : sequence of arrays, shape (frames,)
        The samples of each channel before and after A weighting; empty unless the meter keeps them.
    a_ms : array, shape (ms,)
        A-weighted mean square of each millisecond, of the channels together.
    laf_before : float
        F-weighted mean square before the block.
    starts : array, shape (ms,)
        First sample of each whole millisecond.
    frames : int
        Samples that the whole milliseconds span.
    """

    rows: LevelRows
    channel_rows: tuple[LevelRows, ...]
    waves: Sequence[NDArray[np.floating]]
    a_weighted: Sequence[Array]
    a_ms: Array
    laf_before: float
    starts: IntArray
    frames: int


class TimeWeighting:
    """Exponential time weighting of mean squares over 1 ms, carried from block to block.

    IEC 61672-1:2013, 5.8: the mean square over 1 ms in place of each sample differs by less than
    0.02 dB from the integral for any sound longer than 0.25 ms.
    """

    def __init__(self, time_constant_s: float) -> None:
        # what is left after 1 ms: 99.2 % for F, 99.9 % for S
        self._keep = exp(-0.001 / time_constant_s)
        self._state: Array | None = None

    def start_at(self, mean_square_before: float) -> None:
        """Begin as if this mean square had lasted for ever."""
        # lfilter's state is what the next output begins with, so it has decayed once more
        self._state = np.array([self._keep * mean_square_before])

    @property
    def now(self) -> float:
        """Weighted mean square at the end of what was fed; 0 before the first."""
        return 0.0 if self._state is None else float(self._state[0]) / self._keep

    def feed(self, ms_squares: Array) -> Array:
        """Weighted mean square at the end of each millisecond, shape as given, (ms,)."""
        # as in `_filtered`
        from scipy.signal import lfilter

        # from the first value and not from 0, or the beginning would be an onset
        if self._state is None:
            self.start_at(float(ms_squares[0]) if len(ms_squares) else 0.0)
        out, self._state = lfilter([1 - self._keep], [1, -self._keep], ms_squares, zi=self._state)
        weighted: Array = out
        return weighted


def time_weighted(ms_squares: ArrayLike, time_constant_s: float = FAST_S) -> Array:
    """F (default) or S weighting of mean squares over 1 ms, shape (ms,), started cold at 0."""
    weighting = TimeWeighting(time_constant_s)
    weighting.start_at(0.0)
    return weighting.feed(np.asarray(ms_squares, dtype=np.float64))


# blocks are of one length but for the last
@lru_cache(maxsize=2)
def millisecond_starts(frames: int, rate_hz: int) -> tuple[IntArray, int]:
    """First sample of each whole row's milliseconds, and the number of samples they span.

    A millisecond is not a whole number of samples at every rate (44.1 per ms at 44.1 kHz): the
    k-th begins at the sample nearest to k ms, and a part of a row at the end is left out.
    """
    # in whole numbers, so that the grid is exact however long the recording is
    whole_ms = frames * 1000 // rate_hz // MS_PER_ROW * MS_PER_ROW
    # the 500 rounds to the nearest sample
    edges = (np.arange(whole_ms + 1, dtype=np.int64) * rate_hz + 500) // 1000
    # shared by all blocks
    edges.flags.writeable = False
    return edges[:-1], int(edges[-1])


@dataclass(frozen=True)
class Power:
    """What is left of a waveform.

    Attributes
    ----------
    ms_squares : array, shape (ms,)
        Mean square of each millisecond.
    row_peak_square : array, shape (rows,)
        Highest square within each row of 10 ms.
    """

    ms_squares: Array
    row_peak_square: Array


def power_of(waveform: NDArray[np.floating], starts: IntArray, frames: int) -> Power:
    """Mean square of each millisecond of a waveform, shape (frames,), and the peak of each row.

    The waveform is overwritten by its squares: at these lengths a further copy costs as much as
    the filter that made it.
    """
    squares = waveform[:frames]
    np.multiply(squares, squares, out=squares)
    return _power_of_squares(squares, starts)


def _power_of_squares(squares: NDArray[np.floating], starts: IntArray) -> Power:
    if not len(starts):
        return Power(np.zeros(0), np.zeros(0))
    # 44 or 45 samples at 44.1 kHz: each millisecond has its own divisor
    lengths = np.diff(starts, append=len(squares))
    means = np.add.reduceat(squares, starts).astype(np.float64) / lengths
    peaks = np.maximum.reduceat(squares, starts[::MS_PER_ROW]).astype(np.float64)
    return Power(means, peaks)


def _mean(powers: Sequence[Power]) -> Power:
    """The mean square of all channels, and the highest peak of any."""
    if len(powers) == 1:
        return powers[0]
    return Power(
        np.mean([p.ms_squares for p in powers], axis=0),
        np.max([p.row_peak_square for p in powers], axis=0),
    )


def _row_means(ms_squares: Array) -> Array:
    """Mean square of each row; as a product, which is quicker over so short an axis."""
    means: Array = ms_squares.reshape(-1, MS_PER_ROW) @ np.full(MS_PER_ROW, 1 / MS_PER_ROW)
    return means


def _filtered(
    sections: Array, waves: NDArray[np.float32], states: Sequence[Array]
) -> tuple[list[Array], list[Array]]:
    """Each channel's wave through a filter, and the states that it goes on from."""
    # kept out of start-up: it takes a second, and the parent of a batch measures nothing
    from scipy.signal import sosfilt

    pairs = [sosfilt(sections, w, zi=state) for w, state in zip(waves, states, strict=True)]
    return [wave for wave, _ in pairs], [state for _, state in pairs]


def _settled(sections: Array, waves: NDArray[np.float32]) -> list[Array]:
    """States of a filter that each channel's mean has passed through for ever."""
    # as in `_filtered`
    from scipy.signal import sosfilt_zi

    return [sosfilt_zi(sections) * np.mean(wave, dtype=np.float64) for wave in waves]


class _Ballistics:
    """The time weightings of one channel, or of all together."""

    def __init__(self) -> None:
        self._laf, self._lzf = TimeWeighting(FAST_S), TimeWeighting(FAST_S)
        self._las = TimeWeighting(SLOW_S)

    @property
    def laf_before(self) -> float:
        """F-weighted mean square of all that was fed."""
        return self._laf.now

    def rows(self, a: Power, c: Power, z: Power, clipped: Array) -> LevelRows:
        laf = self._laf.feed(a.ms_squares)
        at_end = slice(MS_PER_ROW - 1, None, MS_PER_ROW)
        firsts = np.arange(0, len(laf), MS_PER_ROW)
        return LevelRows(
            laf_db=rounded_db(laf[at_end]),
            las_db=rounded_db(self._las.feed(a.ms_squares)[at_end]),
            lzf_db=rounded_db(self._lzf.feed(z.ms_squares)[at_end]),
            lafmax_db=rounded_db(np.maximum.reduceat(laf, firsts) if len(laf) else laf),
            laeq_db=rounded_db(_row_means(a.ms_squares)),
            lceq_db=rounded_db(_row_means(c.ms_squares)),
            lzeq_db=rounded_db(_row_means(z.ms_squares)),
            # a peak beside mean squares, so a full-scale sine's reads +3.0
            lcpeak_db=rounded_db(c.row_peak_square),
            # re full-scale amplitude: halved, the highest sample reads 0.0
            sample_peak_db=rounded_db(z.row_peak_square / 2),
            clipped=clipped,
        )

    def start_at(self, laeq_before: Array) -> None:
        """S is slow (1 s): give it the mean of the run-in, or two seconds would not settle it."""
        if len(laeq_before):
            self._las.start_at(float(mean_square(laeq_before).mean()))


class Meter:
    """Levels of a stream of samples.

    Parameters
    ----------
    rate_hz, channels : int
        Of the blocks that will be fed.
    clip_amplitude : float
        Samples at or beyond it are counted as clipped.
    channel : int or None
        Listen to this channel (from 0); None takes the mean of the squares of all.
    keep_waves : bool
        Hand on the waveforms with each block, for simulating other gains.
    second_core : bool
        Run C weighting beside A weighting, which the filters allow; not where every core has a
        recording of its own.

    Notes
    -----
    Before the first block its first two seconds are played backwards, so that filters and time
    weightings are warm and no recording begins with a false onset.
    """

    def __init__(
        self,
        rate_hz: int,
        channels: int,
        *,
        clip_amplitude: float = 1.0,
        channel: int | None = None,
        keep_waves: bool = False,
        second_core: bool = True,
    ) -> None:
        self.rate_hz = rate_hz
        self._channel, self._keep_waves = channel, keep_waves
        self._clip_amplitude = clip_amplitude
        self._filters = filters(rate_hz)
        used = channels if channel is None else 1
        # one array for all channels will do: sosfilt returns new states and leaves these alone
        self._a_state = [np.zeros((len(self._filters.a), 2))] * used
        self._c_state = [np.zeros((len(self._filters.c), 2))] * used
        self._together = _Ballistics()
        self._single = [_Ballistics() for _ in range(used)] if used > 1 else []
        # the filters leave the interpreter's lock alone, so a thread is enough
        self._second_core = ThreadPoolExecutor(max_workers=1) if second_core else None
        self._warm = False

    def feed(self, block: Block) -> MeteredBlock:
        """Levels of one more block, shape (frames, channels).

        Every block but the last must be whole seconds long, as `Recording.blocks` gives them.
        """
        columns = block if self._channel is None else block[:, self._channel : self._channel + 1]
        # shape (channels, frames): each wave in one piece for its filter
        waves = np.ascontiguousarray(columns.T)
        if not self._warm:
            self._warm_up(waves)
        return self._measure(waves)

    def _warm_up(self, waves: NDArray[np.float32]) -> None:
        self._warm = True
        # backwards, so that the run-in ends at the very sample the recording begins with
        backwards = np.ascontiguousarray(waves[:, : _WARM_UP_S * self.rate_hz][:, ::-1])
        # a steady offset would be a step to cold filters, and the step a sound
        self._a_state = _settled(self._filters.a, backwards)
        self._c_state = _settled(self._filters.c, backwards)
        before = self._measure(backwards)
        self._together.start_at(before.rows.laeq_db)
        for single, rows in zip(self._single, before.channel_rows, strict=True):
            single.start_at(rows.laeq_db)
        # once more with settled filters and S; what it gives is not wanted
        self._measure(backwards)

    def _measure(self, waves: NDArray[np.float32]) -> MeteredBlock:
        starts, frames = millisecond_starts(waves.shape[1], self.rate_hz)
        beside = None
        if self._second_core is not None:
            beside = self._second_core.submit(self._c_and_z, waves, starts, frames)
        a_weighted, self._a_state = _filtered(self._filters.a, waves, self._a_state)
        # power_of squares the waves in place
        kept = [wave.copy() for wave in a_weighted] if self._keep_waves else []
        a = [power_of(wave, starts, frames) for wave in a_weighted]
        c, z, clipped = self._c_and_z(waves, starts, frames) if beside is None else beside.result()
        # read first: making the rows moves it on
        before = self._together.laf_before
        return MeteredBlock(
            rows=self._together.rows(_mean(a), _mean(c), _mean(z), np.mean(clipped, axis=0)),
            channel_rows=tuple(
                single.rows(a[i], c[i], z[i], clipped[i]) for i, single in enumerate(self._single)
            ),
            waves=list(waves) if self._keep_waves else [],
            a_weighted=kept,
            a_ms=_mean(a).ms_squares,
            laf_before=before,
            starts=starts,
            frames=frames,
        )

    def _c_and_z(
        self, waves: NDArray[np.float32], starts: IntArray, frames: int
    ) -> tuple[list[Power], list[Power], list[Array]]:
        c_weighted, self._c_state = _filtered(self._filters.c, waves, self._c_state)
        c = [power_of(wave, starts, frames) for wave in c_weighted]
        # not in place, since the caller's samples must stay as they are
        z = [_power_of_squares(np.square(wave[:frames]), starts) for wave in waves]
        clipped = [
            self._clipped(wave, power.row_peak_square, starts, frames)
            for wave, power in zip(waves, z, strict=True)
        ]
        return c, z, clipped

    def _clipped(
        self,
        wave: NDArray[np.float32],
        peak_square: Array,
        starts: IntArray,
        frames: int,
    ) -> Array:
        """Share of the samples of each row that are at full scale."""
        # in the precision of the samples, or a full-scale one is missed by a rounding
        if not len(peak_square) or np.sqrt(peak_square.max()) < self._clip_amplitude * (1 - 1e-6):
            return np.zeros(len(peak_square))
        at_limit = (np.abs(wave[:frames]) >= self._clip_amplitude).astype(np.float64)
        rows = starts[::MS_PER_ROW]
        share: Array = np.add.reduceat(at_limit, rows) / np.diff(rows, append=frames)
        return share
