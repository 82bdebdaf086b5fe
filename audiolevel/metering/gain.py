"""What the camera would hear at another gain.

Up to full scale another gain is a shift of every level. Past it the input saturates, so the gain
is applied to the waveform: a clipped wave is the amplified wave plus a residue that is zero
wherever nothing clips, and A weighting is linear, so only the residue has to be filtered again.

The converter's noise, where the site file states it, arises behind the gain and does not move
with it (`own_noise`): a lower gain is simulated with as much of it added as the scaled recording
lacks, a higher one with as much taken away as it has too much.

Entry points: `Gains`, `GainSimulator`, `SimulatedGain`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audiolevel.ground.arrays import Array, Centi
from audiolevel.ground.errors import SettingError
from audiolevel.metering.decibels import centibels, level_db
from audiolevel.metering.meter import FAST_S, MS_PER_ROW, MeteredBlock, TimeWeighting, power_of
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.weighting import filters

# more than any camera has from end to end; -200 dB FS moved by it still fits 16 bits of hundredths
_MOST_GAIN_DB = 120.0
_MOST_GAINS = 64


def check_gain(gain_db: float, said: str = "gain") -> None:
    """Refuse a gain that no camera has.

    Parameters
    ----------
    gain_db : float
        Relative to the recording.
    said : str
        What it is called where it comes from.

    Raises
    ------
    SettingError
        It is more than 120 dB to either side, or no number.
    """
    if not abs(gain_db) <= _MOST_GAIN_DB:
        raise SettingError(
            f"{said} {gain_db:+g} dB from the recording's: must lie between "
            f"{-_MOST_GAIN_DB:g} and {_MOST_GAIN_DB:g} dB"
        )


@dataclass(frozen=True)
class Gains:
    """Which gains to simulate, and how.

    Attributes
    ----------
    gains_db : sequence of float
        Relative to the recording.
    noise : OwnNoise or None
        Of the camera; what of it does not move with the gain is simulated.
    clipped_share_limit : float or None
        Give a gain up once more of it than this is sure to be clipped; None never gives up.

    Raises
    ------
    SettingError
        A gain that no camera has, or more than 64 of them.
    """

    gains_db: Sequence[float]
    noise: OwnNoise | None = None
    clipped_share_limit: float | None = None

    def __post_init__(self) -> None:
        # each is simulated on every block
        if len(self.gains_db) > _MOST_GAINS:
            raise SettingError(
                f"gains: {len(self.gains_db)} to simulate; give at most {_MOST_GAINS}"
            )
        for gain_db in self.gains_db:
            check_gain(gain_db)


@dataclass(frozen=True)
class SimulatedGain:
    """What the detector receives at one gain.

    Attributes
    ----------
    gain_db : float
        Relative to the recording.
    clipped_share : float
        Share of the samples at or past full scale; NaN where a history does not say.
    as_recorded : array of int16, shape (rows,)
        LAF of the recording in hundredths of a dB FS, shared by all gains.
    own : array of int16, shape (rows,), or None
        LAF at this gain where it is no plain shift.
    given_up : bool
        The gain was no longer simulated once its clipping had passed the limit.
    """

    gain_db: float
    clipped_share: float
    as_recorded: Centi
    own: Centi | None = None
    given_up: bool = False

    @property
    def shifted(self) -> bool:
        """Whether every level is that of the recording plus `gain_db`."""
        return self.own is None and not self.given_up

    @property
    def laf(self) -> Centi | None:
        """LAF in hundredths of a dB FS at this gain, shape (rows,); None if given up.

        Made when asked for: a day of levels is 17 MB, and most gains are only a shift.
        """
        if self.given_up:
            return None
        if self.own is not None:
            return self.own
        return self.as_recorded + np.int16(round(self.gain_db * 100))


class GainSimulator:
    """Simulate a list of gains on a stream of metered blocks.

    Parameters
    ----------
    gains_db : sequence of float
        Relative to the recording.
    rate_hz : int
    noise : OwnNoise or None
        Of the camera.
    give_up_after : float or None
        Clipped samples (a count) after which a gain is no longer simulated, only counted.
    """

    def __init__(
        self,
        gains_db: Sequence[float],
        rate_hz: int,
        *,
        noise: OwnNoise | None = None,
        give_up_after: float | None = None,
    ) -> None:
        self.gains_db = list(gains_db)
        self._one_by_one = [_OneGain(gain, rate_hz, give_up_after) for gain in gains_db]
        self._noise = noise
        self._laf: list[Centi] = []
        self._samples = 0
        self._clipped_as_recorded = 0.0

    def add(self, block: MeteredBlock) -> None:
        """Take in one more block; its meter must keep the waves."""
        self._laf.append(centibels(block.rows.laf_db))
        self._samples += sum(len(wave) for wave in block.waves)
        # once for all gains: those that stay below full scale need not look at the wave
        peak = max(float(np.abs(wave).max(initial=0.0)) for wave in block.waves)
        for gain in self._one_by_one:
            gain.add(block, peak)

    @property
    def laf(self) -> Centi:
        """LAF as recorded, in hundredths of a dB FS, shape (rows,)."""
        return np.concatenate(self._laf) if self._laf else np.zeros(0, dtype=np.int16)

    def result(self) -> list[SimulatedGain]:
        """Levels and clipping at each gain, in the order asked for."""
        base = self.laf
        # one array in place of the pieces, so that a day of levels is held once
        self._laf = [base]
        return [
            SimulatedGain(
                gain_db=gain.gain_db,
                clipped_share=gain.clipped / max(self._samples, 1),
                as_recorded=base,
                own=None
                if gain.given_up
                else own_levels(base, gain.laf(base), gain.gain_db, self._noise),
                given_up=gain.given_up,
            )
            for gain in self._one_by_one
        ]


def own_levels(
    as_recorded: Centi, clipped: Centi | None, gain_db: float, noise: OwnNoise | None
) -> Centi | None:
    """Levels at a gain that is no plain shift: where it clips, or where noise does not follow."""
    if noise is None or not noise.changes_levels(gain_db):
        return clipped
    laf = as_recorded + np.int16(round(gain_db * 100)) if clipped is None else clipped
    return noise.in_history(laf, gain_db)


class _OneGain:
    """One gain: the residue of its clipping is filtered only where there is some."""

    def __init__(self, gain_db: float, rate_hz: int, give_up_after: float | None) -> None:
        self.gain_db = gain_db
        self.clipped = 0.0
        self.given_up = False
        # gains are dB, samples are amplitudes
        self._factor = 10 ** (gain_db / 20)
        self._sections = filters(rate_hz).a
        self._give_up_after = give_up_after
        self._ringing: list[Array] | None = None
        self._weighting: TimeWeighting | None = None
        self._parts: list[Centi] = []
        self._rows_before = 0

    def add(self, block: MeteredBlock, peak: float) -> None:
        clips = peak * self._factor > 1.0
        if clips:
            # an amplified sample just at full scale is not clipped yet
            self.clipped += sum(
                float(np.count_nonzero(np.abs(wave) > 1 / self._factor)) for wave in block.waves
            )
            self._check_worth()
        if self.given_up:
            return
        # up to the first clipped block the levels are a shift, made without filtering
        if self._weighting is None:
            if not clips:
                self._rows_before += len(block.rows)
                return
            self._weighting = TimeWeighting(FAST_S)
            # a full-scale square wave is the most that can have come before
            self._weighting.start_at(min(block.laf_before * self._factor**2, 1.0))
        ms = self._ms_squares(block, clips)
        # a row is read at its end, the last of its ten milliseconds
        laf = self._weighting.feed(ms)[MS_PER_ROW - 1 :: MS_PER_ROW]
        self._parts.append(centibels(level_db(laf)))

    def _check_worth(self) -> None:
        if self._give_up_after is not None and self.clipped > self._give_up_after:
            self.given_up = True
            self._parts.clear()

    def _ms_squares(self, block: MeteredBlock, clips: bool) -> Array:
        if not clips and self._ringing is None:
            return block.a_ms * self._factor**2
        # kept out of start-up, as in the meter
        from scipy.signal import sosfilt

        # where the block before did not clip the residue was 0 and the filter is at rest
        states = self._ringing or [np.zeros((len(self._sections), 2)) for _ in block.waves]
        squares, after = [], []
        for wave, weighted, state in zip(block.waves, block.a_weighted, states, strict=True):
            amplified = wave * np.float32(self._factor)
            residue, state_after = sosfilt(
                self._sections, np.clip(amplified, -1, 1) - amplified, zi=state
            )
            # A is linear: the clipped wave's A is gain times that of the wave, and the residue's
            residue += self._factor * weighted
            # power_of overwrites the residue, which is not wanted any more
            squares.append(power_of(residue, block.starts, block.frames).ms_squares)
            after.append(state_after)
        # the filter's slowest pole falls by more than 500 dB within the second a block lasts
        self._ringing = after if clips else None
        mean: Array = np.mean(squares, axis=0)
        return mean

    def laf(self, base: Centi) -> Centi | None:
        """LAF at this gain, given LAF as recorded; None where nothing clipped."""
        if not self._parts:
            return None
        # levels before the first clipped block were not made: there a shift is exact
        unclipped = base[: self._rows_before] + np.int16(round(self.gain_db * 100))
        return np.concatenate([unclipped, *self._parts])
