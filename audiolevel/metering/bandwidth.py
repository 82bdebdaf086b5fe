"""Up to which frequency a recording carries sound: where its long-term spectrum breaks off.

Half the sampling rate says what a file could hold. A codec, a narrow microphone path or a file
converted from a lower rate holds less: its spectrum falls off a cliff, far steeper than a street
or a microphone does, to a floor that no sound of the site reaches.

Entry points: `LongTermSpectrum`.
"""

from __future__ import annotations

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.metering.readers import Block

# 5 Hz to 47 Hz a line at 8 to 192 kHz
_PIECE = 4096
# one is heard of every second at first, since a few are no mean, and then of every fourth
_EACH_UNTIL_S, _EVERY_S = 20, 4
_LOWEST_HZ = 500.0
_PER_OCTAVE = 6
# A street falls by 2 to 8 dB in a third of an octave (three real ones: up to 8.2); a filter of
# eighth order by 16, a codec or a resampler by far more
_CLIFF_DB = 14.0
# on the way down a sixth of an octave of a street falls by 6 dB at most
_EDGE_DB = 5.0


class LongTermSpectrum:
    """Mean power spectrum of a recording, gathered as its blocks come.

    Parameters
    ----------
    rate_hz : int
    second : int
        Of the recording at which the first block begins.
    """

    def __init__(self, rate_hz: int, second: int = 0) -> None:
        self.rate_hz = rate_hz
        self._second = second
        self._window = np.hanning(_PIECE)
        self._power = np.zeros(_PIECE // 2 + 1)

    def add(self, block: Block) -> None:
        """Take in a block that begins on a whole second, shape (frames, channels)."""
        # counted from the recording's beginning, whatever the blocks
        begins = [
            first
            for first in range(0, len(block) - _PIECE + 1, self.rate_hz)
            if self._is_heard(self._second + first // self.rate_hz)
        ]
        if begins:
            # each channel by itself: opposite waves of two would cancel in a mean. All pieces at
            # once: one by one takes two and a half times as long
            pieces = np.concatenate([block[first : first + _PIECE].T for first in begins])
            spectra = np.fft.rfft(pieces * self._window)
            self._power += (spectra.real**2 + spectra.imag**2).sum(axis=0)
        self._second += len(block) // self.rate_hz

    @staticmethod
    def _is_heard(second: int) -> bool:
        return second < _EACH_UNTIL_S or second % _EVERY_S == 0

    def include(self, other: LongTermSpectrum) -> None:
        """Take in what another part of the same recording gathered."""
        self._power += other._power

    def top_hz(self) -> float:
        """Highest frequency at which the recording carries sound of the site.

        Half the sampling rate where the spectrum does not break off, or where nothing was heard.
        """
        top_hz = self.rate_hz / 2
        edge_hz, band_db = self._bands()
        # in one band or over two, which is a third of an octave
        over_two = np.full(len(band_db), -np.inf)
        over_two[:-2] = band_db[:-2] - band_db[2:]
        over_one = np.append(band_db[:-1] - band_db[1:], -np.inf)
        cliffs = np.flatnonzero(np.maximum(over_one, over_two) >= _CLIFF_DB)
        for first in cliffs.tolist():
            # a notch comes up again behind: that is no end
            if (band_db[first + 2 :] > band_db[first] - _CLIFF_DB).any():
                continue
            # the edge is where the fall begins
            while over_one[first] < _EDGE_DB:
                first += 1
            return float(min(edge_hz[first + 1], top_hz))
        return top_hz

    def _bands(self) -> tuple[Array, Array]:
        """Edges of sixth-octaves, shape (bands + 1,), and their power density in dB, (bands,)."""
        hz = np.arange(len(self._power)) * self.rate_hz / _PIECE
        count = int(np.floor(_PER_OCTAVE * np.log2(self.rate_hz / 2 / _LOWEST_HZ)))
        edge_hz = _LOWEST_HZ * 2 ** (np.arange(count + 1) / _PER_OCTAVE)
        # the last band ends short of half the rate, where every recorder's filter falls
        first = np.searchsorted(hz, edge_hz)
        totals = np.add.reduceat(self._power, first)[:-1]
        density = totals / np.maximum(np.diff(first), 1)
        if not density.any():
            return edge_hz, np.zeros(count)
        # digital zeros above a cliff: a floor far below any quantising noise
        return edge_hz, 10 * np.log10(density + 1e-20 * density.max())
