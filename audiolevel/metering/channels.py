"""Dead and inverted channels, told by how the channels of a recording agree."""

import numpy as np

from audiolevel.metering.readers import Block

# a channel this far under the loudest carries no sound of the site
DEAD_BELOW_DB = 40.0
# two microphones near each other agree at low frequencies; one wired backwards is their mirror
INVERTED_CORRELATION = -0.8


class ChannelCheck:
    """Products of the channels with each other, summed over all blocks."""

    def __init__(self, channels: int) -> None:
        self._products = np.zeros((channels, channels))

    def add(self, block: Block) -> None:
        """Take in a block of samples, shape (frames, channels)."""
        # energies on the diagonal, shape (channels, channels) however long the recording
        self._products += block.T @ block

    def include(self, other: "ChannelCheck") -> None:
        """Take in everything of another check."""
        self._products += other._products

    def faults(self) -> list[tuple[int, str]]:
        """Channels that are dead or inverted: (number from 1, "dead" or "inverted"), in order."""
        energy = np.diag(self._products)
        loudest = energy.max(initial=0.0)
        if len(energy) < 2 or loudest == 0:
            return []
        dead = energy <= loudest * 10 ** (-DEAD_BELOW_DB / 10)
        found = [(int(i) + 1, "dead") for i in np.flatnonzero(dead)]
        return sorted(found + [(i + 1, "inverted") for i in self._inverted(dead)])

    def _inverted(self, dead: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> list[int]:
        alive = np.flatnonzero(~dead)
        scale = np.sqrt(np.diag(self._products)[alive])
        # from -1 to 1; what is alive has energy, so nothing is divided by nought
        correlation = self._products[np.ix_(alive, alive)] / np.outer(scale, scale)
        # the first channel is taken to be right where two disagree
        reference = correlation[0] if len(alive) == 2 else np.sign(correlation).sum(axis=0)
        lowest = correlation.min(axis=0)
        return [
            int(alive[i])
            for i in range(1, len(alive))
            if lowest[i] <= INVERTED_CORRELATION and reference[i] < 0
        ]
