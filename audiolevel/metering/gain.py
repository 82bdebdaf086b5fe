"""What would the camera hear at another gain, and which gains leave room above and below?

Up to full scale another gain is a shift of every level. Past it the input saturates, so the gain
is applied to the waveform: a clipped wave is the amplified wave plus a residue that is zero
wherever nothing clips, and A weighting is linear, so only the residue has to be filtered again.

The microphone's own noise, where the site file knows it, arises behind the gain and does not
shrink with it: a lower gain is heard with as much noise added as the scaled recording lacks.

Entry points: `GainSimulator`, `SimulatedGain`, `GainMargins`, `room`, `amplitude_tail`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.signal import sosfilt

from audiolevel.arrays import Array, Centi
from audiolevel.metering.decibels import centibels, level_db, mean_square
from audiolevel.metering.meter import FAST_S, MS_PER_ROW, MeteredBlock, TimeWeighting, power_of
from audiolevel.metering.weighting import filters

# below this distance from the noise floor noise adds more than 1 dB to what is heard
FOOTROOM_NEEDED_DB = 6.0


@dataclass(frozen=True)
class SimulatedGain:
    """What the detector hears at one gain.

    Attributes
    ----------
    gain_db : float
        Relative to the recording.
    clipped_share : float
        Share of the samples at or past full scale.
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
    noise_db : float or None
        Level of the microphone's own A-weighted noise in dB FS at the recorded gain.
    give_up_after : float or None
        Clipped samples (a count) after which a gain is no longer simulated, only counted.
    """

    def __init__(
        self,
        gains_db: Sequence[float],
        rate_hz: int,
        *,
        noise_db: float | None = None,
        give_up_after: float | None = None,
    ) -> None:
        self.gains_db = list(gains_db)
        self._one_by_one = [_OneGain(gain, rate_hz, give_up_after) for gain in gains_db]
        self._noise_db = noise_db
        self._laf: list[Centi] = []
        self._samples = 0
        self._clipped_as_recorded = 0.0

    def add(self, block: MeteredBlock) -> None:
        """Hear one more block; its meter must keep the waves."""
        self._laf.append(centibels(block.rows.laf_db))
        self._samples += sum(len(wave) for wave in block.waves)
        peak = max(float(np.abs(wave).max(initial=0.0)) for wave in block.waves)
        for gain in self._one_by_one:
            gain.add(block, peak)

    @property
    def laf(self) -> Centi:
        """LAF as recorded, in hundredths of a dB FS, shape (rows,)."""
        return np.concatenate(self._laf) if self._laf else np.zeros(0, dtype=np.int16)

    def heard(self) -> list[SimulatedGain]:
        """What was heard at each gain, in the order asked for."""
        base = self.laf
        self._laf = [base]
        return [
            SimulatedGain(
                gain_db=gain.gain_db,
                clipped_share=gain.clipped / max(self._samples, 1),
                as_recorded=base,
                own=None
                if gain.given_up
                else own_levels(base, gain.laf(base), gain.gain_db, self._noise_db),
                given_up=gain.given_up,
            )
            for gain in self._one_by_one
        ]


def own_levels(
    as_recorded: Centi, clipped: Centi | None, gain_db: float, noise_db: float | None
) -> Centi | None:
    """Levels at a gain that is no plain shift: where it clips, or where noise is added."""
    if noise_db is None or gain_db >= 0:
        return clipped
    laf = as_recorded + np.int16(round(gain_db * 100)) if clipped is None else clipped
    return with_own_noise(laf, gain_db, noise_db)


def with_own_noise(laf: Centi, gain_db: float, noise_db: float | None) -> Centi:
    """Add the noise that a recording turned down by `gain_db` lacks; nothing at or above 0 dB."""
    if noise_db is None or gain_db >= 0:
        return laf
    lacking = mean_square(noise_db) * (1 - 10 ** (gain_db / 10))
    return centibels(level_db(mean_square(laf / 100) + lacking))


class _OneGain:
    """One gain: the residue of its clipping is filtered only where there is some."""

    def __init__(self, gain_db: float, rate_hz: int, give_up_after: float | None) -> None:
        self.gain_db = gain_db
        self.clipped = 0.0
        self.given_up = False
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
        if self._weighting is None:
            if not clips:
                self._rows_before += len(block.rows)
                return
            self._weighting = TimeWeighting(FAST_S)
            # a full-scale square wave is the most that can have been heard before
            self._weighting.start_at(min(block.laf_before * self._factor**2, 1.0))
        ms = self._ms_squares(block, clips)
        laf = self._weighting.feed(ms)[MS_PER_ROW - 1 :: MS_PER_ROW]
        self._parts.append(centibels(level_db(laf)))

    def _check_worth(self) -> None:
        if self._give_up_after is not None and self.clipped > self._give_up_after:
            self.given_up = True
            self._parts.clear()

    def _ms_squares(self, block: MeteredBlock, clips: bool) -> Array:
        if not clips and self._ringing is None:
            return block.a_ms * self._factor**2
        states = self._ringing or [np.zeros((len(self._sections), 2)) for _ in block.waves]
        squares, after = [], []
        for wave, weighted, state in zip(block.waves, block.a_weighted, states, strict=True):
            amplified = wave * np.float32(self._factor)
            residue, state_after = sosfilt(
                self._sections, np.clip(amplified, -1, 1) - amplified, zi=state
            )
            residue += self._factor * weighted
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
        unclipped = base[: self._rows_before] + np.int16(round(self.gain_db * 100))
        return np.concatenate([unclipped, *self._parts])


@dataclass(frozen=True)
class GainMargins:
    """Room above and below the sound at one gain, in dB.

    Attributes
    ----------
    headroom_db : float
        From the highest sample to full scale; below 0 where the input clips.
    headroom_l10_db : float
        From L10 to a full-scale sine.
    footroom_db : float
        From L90 to the noise floor.
    clipped_share : float
        Measured, or estimated where `estimated` says so (the recording itself was clipped).
    """

    gain_db: float
    headroom_db: float
    headroom_l10_db: float
    footroom_db: float
    clipped_share: float
    estimated: bool
    usable: bool


@dataclass(frozen=True)
class AmplitudeTail:
    """Share of samples beyond an amplitude, P(|x| > a) = exp(−(a/scale)^shape), past full scale.

    Drawn through the shares at full scale and half of it, so it is only as good as the sound is
    steady; it says roughly how far a clipped recording was too loud.
    """

    shape: float
    log_share_at_full_scale: float

    def share_beyond(self, amplitude: float) -> float:
        """Expected share of samples beyond `amplitude`, which is 1 or more."""
        return float(np.exp(self.log_share_at_full_scale * amplitude**self.shape))

    def amplitude_of(self, share: float) -> float:
        """The amplitude that `share` of the samples exceed."""
        return float((np.log(share) / self.log_share_at_full_scale) ** (1 / self.shape))


def amplitude_tail(share_at_full_scale: float, share_at_half: float) -> AmplitudeTail | None:
    """The tail through two measured shares; None where nothing clipped.

    The shape is held between 0.5 and 2 (a Gaussian wave has 2, a street with gusts less than 1).
    """
    if share_at_full_scale <= 0:
        return None
    share = min(share_at_full_scale, 0.95)
    half = min(max(share_at_half, share * 1.0001), 0.99)
    shape = float(np.clip(np.log2(np.log(share) / np.log(half)), 0.5, 2.0))
    return AmplitudeTail(shape, float(np.log(share)))


def room(
    gain_db: float,
    *,
    clipped_share: float,
    sample_peak_db: float,
    l10_db: float,
    l90_db: float,
    noise_floor_db: float,
    clipped_share_limit: float,
    tail: AmplitudeTail | None = None,
) -> GainMargins:
    """Judge one gain; levels are those of the recording, in dB FS (peak re full-scale amplitude).

    `tail` is given when the recording itself was clipped: what a lower gain would then have
    caught is not in it, and share and peak are estimates.
    """
    estimated = tail is not None and gain_db < 0
    if tail is not None and gain_db < 0:
        clipped_share = tail.share_beyond(10 ** (-gain_db / 20))
        sample_peak_db = max(
            sample_peak_db, 20 * float(np.log10(tail.amplitude_of(clipped_share_limit)))
        )
    footroom_db = l90_db + gain_db - noise_floor_db
    return GainMargins(
        gain_db=gain_db,
        headroom_db=-(sample_peak_db + gain_db),
        headroom_l10_db=-(l10_db + gain_db),
        footroom_db=footroom_db,
        clipped_share=clipped_share,
        estimated=estimated,
        usable=clipped_share <= clipped_share_limit and footroom_db >= FOOTROOM_NEEDED_DB,
    )
