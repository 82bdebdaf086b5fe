"""Room above and below a site's sound at each gain: headroom, footroom and clipping.

Entry points: `gain_margins`, `GainMargins`, `amplitude_tail`.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from audiolevel.metering.own_noise import OwnNoise, Part

# below this distance from the noise floor noise adds more than 1 dB to what is heard
FOOTROOM_NEEDED_DB = 6.0


@dataclass(frozen=True)
class GainMargins:
    """Room above and below the sound at one gain, in dB.

    Attributes
    ----------
    gain_db : float
        Relative to the recording.
    setting : float, str or None
        The camera's own value for it.
    headroom_db : float or None
        From the highest sample to full scale; below 0 where the input clips; None where a level
        history does not hold the highest samples.
    headroom_l10_db : float
        From L10 to a full-scale sine.
    footroom_db : float
        From L90 to the noise floor.
    noise_db : float
        The noise floor, dB FS at this gain.
    limited_by : str
        The part of the noise that is louder: "capsule" or "converter".
    clipped_share : float
        Measured, or estimated where `estimated` says so (the recording itself was clipped); NaN
        where nobody knows.
    """

    gain_db: float
    setting: float | str | None
    headroom_db: float | None
    headroom_l10_db: float
    footroom_db: float
    noise_db: float
    limited_by: Part
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
    # off 1, whose logarithm of 0 could not be divided by
    share = min(share_at_full_scale, 0.95)
    # beyond half of full scale lie more samples than beyond full scale, if by a hair
    half = min(max(share_at_half, share * 1.0001), 0.99)
    # by exp(−(a/scale)^shape) twice the amplitude has 2^shape times the logarithm
    shape = float(np.clip(np.log2(np.log(share) / np.log(half)), 0.5, 2.0))
    return AmplitudeTail(shape, float(np.log(share)))


def gain_margins(
    gain_db: float,
    *,
    setting: float | str | None = None,
    clipped_share: float,
    sample_peak_db: float | None,
    percentiles_db: Mapping[str, float],
    noise: OwnNoise,
    clipped_share_limit: float,
    tail: AmplitudeTail | None = None,
) -> GainMargins:
    """Judge one gain; levels are those of the recording, in dB FS (peak re full-scale amplitude).

    `tail` is given when the recording itself was clipped: what a lower gain would then have
    caught is not in it, and share and peak are estimates. `sample_peak_db` is None where the
    highest samples are not known: a gain above the recorded one is then not usable.
    """
    estimated = tail is not None and gain_db < 0
    if tail is not None and gain_db < 0:
        # at a lower gain full scale lies further out on the scale of the recording
        clipped_share = tail.share_beyond(10 ** (-gain_db / 20))
        # a clipped wave has lost its peak: the amplitude that the limit's share passes is taken
        beyond_db = 20 * float(np.log10(tail.amplitude_of(clipped_share_limit)))
        sample_peak_db = None if sample_peak_db is None else max(sample_peak_db, beyond_db)
    # the capsule's noise moves with the site, the converter's stays
    noise_db = noise.at(gain_db)
    footroom_db = float(noise.moved(np.array(percentiles_db["L90"]), gain_db)) - noise_db
    usable = clipped_share <= clipped_share_limit and footroom_db >= FOOTROOM_NEEDED_DB
    if sample_peak_db is None:
        # higher could clip, and no peak is known that says it does not
        usable = usable and gain_db <= 0
        # what was seen to clip did; where nothing was seen nobody looked
        clipped_share = clipped_share if clipped_share > 0 else np.nan
    return GainMargins(
        gain_db=gain_db,
        setting=setting,
        headroom_db=None if sample_peak_db is None else -(sample_peak_db + gain_db),
        headroom_l10_db=-(percentiles_db["L10"] + gain_db),
        footroom_db=footroom_db,
        noise_db=noise_db,
        limited_by=noise.limiting(gain_db),
        clipped_share=clipped_share,
        estimated=estimated,
        usable=usable,
    )
