"""What a recorder does to a recording that no site does: dropouts, repeats, ceilings, steps.

Looked for while the recording is measured, at next to no cost. Each is only a suspicion, said with
where it was met; the active test of `gain_control` is what shows how a camera treats loud sounds.

Entry points: `SampleCheck`, `Irregularities`, `ceiling_db`, `floor_step`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.metering.readers import Block
from audiolevel.metering.silence import SILENT_DB

# an analogue input is never exactly zero for so long; a lost packet of a stream is
_ZEROS_S = 0.02
# looks at every dropout: quiet sound of 16 bit has a zero in each of so many hardly ever
_LOOKS = 16
# lengths of buffers that recorders and streams work in; a buffer played twice repeats exactly
_BUFFERS = (160, 256, 320, 512, 1024, 2048, 4096)
# samples that are compared first; only where all of them repeat is every one looked at
_EVERY = 16
# A limiter brings the loudest seconds to one level; of natural peaks hardly two lie so close
_CEILING_WITHIN_DB = 0.2
_CEILING_SECONDS = 6
# below full scale, where it would be clipping, and well above an ordinary second
_CEILING_BELOW_DB = -0.5
_CEILING_ABOVE_USUAL_DB = 6.0
# what is quietest in ten seconds, compared over three minutes to each side
_FLOOR_S = 10
_FLOOR_BLOCKS = 18
_FLOOR_STEP_DB = 4.0


@dataclass(frozen=True)
class Irregularities:
    """What was met in the samples.

    Attributes
    ----------
    dropouts : int
        Runs of exact zeros of 20 ms or more between sounds.
    dropouts_s : float
        Their length together.
    repeats : int
        Buffers that are the one before once more.
    """

    dropouts: int = 0
    dropouts_s: float = 0.0
    repeats: int = 0


NOTHING_IRREGULAR = Irregularities()


class SampleCheck:
    """Look for dropouts and repeated buffers in a stream of blocks.

    Parameters
    ----------
    rate_hz : int
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._shortest = max(2, round(_ZEROS_S * rate_hz))
        # zeros at the end of what was heard so far; a beginning of silence is no dropout
        self._zeros_before: int | None = None
        self._dropouts = self._dropout_samples = self._repeats = 0

    def add(self, block: Block) -> None:
        """Take in the next block, shape (frames, channels)."""
        if not len(block):
            return
        # a lost packet takes every channel with it
        self._look_for_zeros(block)
        self._repeats += _repeated(block[:, 0])

    def _look_for_zeros(self, block: Block) -> None:
        if self._may_hold_a_dropout(block):
            at_begin, whole, at_end = _zero_runs((block == 0).all(axis=1))
        else:
            # what is left of runs are those that the block's ends cut
            at_begin = _zeros_first(block[: self._shortest])
            at_end = _zeros_first(block[-self._shortest :][::-1])
            whole = np.zeros(0, np.intp)
        if at_begin == len(block):
            if self._zeros_before is not None:
                self._zeros_before += len(block)
            return
        if self._zeros_before is not None:
            whole = np.append(whole, self._zeros_before + at_begin)
        long = whole[whole >= self._shortest]
        self._dropouts += len(long)
        self._dropout_samples += int(long.sum())
        self._zeros_before = at_end

    def _may_hold_a_dropout(self, block: Block) -> bool:
        """Whether zeros lie so close among a few of the samples that a dropout may be there."""
        if len(block) < self._shortest:
            return True
        step = max(1, self._shortest // _LOOKS)
        thin = (block[::step] == 0).all(axis=1)
        return len(_runs(thin, self._shortest // step)) > 0

    def found(self) -> Irregularities:
        """What was met so far."""
        return Irregularities(self._dropouts, self._dropout_samples / self._rate_hz, self._repeats)


def _runs(held: BoolArray, shortest: int) -> NDArray[np.intp]:
    """First and one after the last of each run of True, shape (runs, 2)."""
    # most often there are too few in all for one run
    if np.count_nonzero(held) < shortest:
        return np.zeros((0, 2), np.intp)
    edges = np.flatnonzero(held[1:] != held[:-1]) + 1
    first, last = [0] if held[0] else [], [len(held)] if held[-1] else []
    runs = np.concatenate([first, edges, last]).astype(np.intp).reshape(-1, 2)
    return runs[runs[:, 1] - runs[:, 0] >= shortest]


def _zero_runs(silent: BoolArray) -> tuple[int, NDArray[np.intp], int]:
    """Lengths of runs of zeros: at the beginning of a block, wholly within it, at its end."""
    runs = _runs(silent, 1)
    lengths = runs[:, 1] - runs[:, 0]
    begins, ends = runs[:, 0] == 0, runs[:, 1] == len(silent)
    # what goes on into the next block, and what went on from the last, are no whole runs
    return int(lengths[begins].sum()), lengths[~begins & ~ends], int(lengths[ends].sum())


def _zeros_first(block: Block) -> int:
    """How many samples are zero before the first that is not."""
    heard = (block != 0).any(axis=1)
    return int(heard.argmax()) if heard.any() else len(block)


def _repeated(wave: NDArray[np.float32]) -> int:
    """Buffers in a block that are the one before once more."""
    found = 0
    # copied once: seven comparisons of every sixteenth sample would fetch all the others too
    thin = np.ascontiguousarray(wave[::_EVERY])
    for size in _BUFFERS:
        lag = size // _EVERY
        if len(thin) < 2 * lag or size % _EVERY:
            continue
        # runs of equal samples as long as a buffer; equal by chance a few times, never so often.
        # One less: a buffer need not begin on a sample that is compared
        for begin in (_runs(thin[lag:] == thin[:-lag], lag - 1)[:, 0] * _EVERY).tolist():
            length = (lag - 1) * _EVERY
            first = wave[begin : begin + length]
            second = wave[begin + size : begin + size + length]
            # silence repeats, and so does a steady tone whose period fits: both are no fault
            varied = len(np.unique(first)) > length // 4
            if varied and np.array_equal(first, second) and not _periodic(first.astype(np.float64)):
                found += 1
    return found


def _periodic(buffer: Array) -> bool:
    """Whether a buffer repeats itself within, as a tone of whole periods does."""
    centred = buffer - buffer.mean()
    spectrum = np.abs(np.fft.rfft(centred, 2 * len(centred))) ** 2
    likeness = np.fft.irfft(spectrum)[: len(centred) // 2]
    # the first dip ends the peak at lag 0; noise never comes near it again
    below = np.flatnonzero(likeness < 0.5 * likeness[0])
    return bool(len(below) and likeness[below[0] :].max() > 0.6 * likeness[0])


def ceiling_db(second_peak_db: Array) -> float | None:
    """The level that the loudest seconds are held down to; None where their peaks differ.

    Parameters
    ----------
    second_peak_db : array, shape (seconds,)
        Highest sample of each second re full scale.
    """
    if len(second_peak_db) < 4 * _CEILING_SECONDS:
        return None
    highest = float(second_peak_db.max())
    held = int((second_peak_db >= highest - _CEILING_WITHIN_DB).sum())
    usual = float(np.median(second_peak_db))
    # above it, it is clipping, which has a caution of its own
    limited = highest < _CEILING_BELOW_DB and highest > usual + _CEILING_ABOVE_USUAL_DB
    return highest if limited and held >= _CEILING_SECONDS else None


def floor_step(second_lafmin_db: Array) -> tuple[float, float] | None:
    """A step in what is quietest: seconds from the beginning, and dB; None where there is none.

    Parameters
    ----------
    second_lafmin_db : array, shape (seconds,)
        Lowest LAF of each second, dB FS.

    Notes
    -----
    Everything within three minutes before lies below everything within three minutes after, or
    above it, by 4 dB and by more than either varies: traffic changes more slowly, or comes back.
    """
    # digital silence is no floor of a site; what is left of the seconds keeps its times
    heard = np.flatnonzero(second_lafmin_db > SILENT_DB)
    second_lafmin_db = second_lafmin_db[heard]
    blocks = len(second_lafmin_db) // _FLOOR_S
    if blocks < 2 * _FLOOR_BLOCKS:
        return None
    quietest = second_lafmin_db[: blocks * _FLOOR_S].reshape(blocks, _FLOOR_S).min(axis=1)
    best: tuple[float, float] | None = None
    for at in range(_FLOOR_BLOCKS, blocks - _FLOOR_BLOCKS + 1):
        before = quietest[at - _FLOOR_BLOCKS : at]
        after = quietest[at : at + _FLOOR_BLOCKS]
        up, down = float(after.min() - before.max()), float(before.min() - after.max())
        gap = max(up, down)
        if gap < max(_FLOOR_STEP_DB, float(np.ptp(before)), float(np.ptp(after))):
            continue
        if best is None or gap > abs(best[1]):
            best = (float(heard[at * _FLOOR_S]), gap if up > 0 else -gap)
    return best
