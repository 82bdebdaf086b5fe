"""The Speech Intelligibility Index: how much of speech a listener understands over a noise.

The Speech Intelligibility Index of ANSI S3.5-1997: 0 (nothing) to 1 (everything that speech
carries is audible), on arrays: its one-third-octave procedure (clause 5, table 3) with the spread
of masking.

Conventions: spectrum levels, as in `sounds.speech_levels`, bands along the last axis.

Entry points: `sii_recorded`, `share_understood`, and the standard's tables.
"""

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array
from audiolevel.sounds.speech_levels import BANDS_HZ as BANDS_HZ
from audiolevel.sounds.speech_levels import BANDWIDTH_DB as BANDWIDTH_DB
from audiolevel.sounds.speech_levels import EFFORTS as EFFORTS
from audiolevel.sounds.speech_levels import IMPORTANCE
from audiolevel.sounds.speech_levels import SPEECH_DB as SPEECH_DB

# Words of connected speech that listeners with normal hearing repeat, in %, against the index:
# Sherbecoe and Studebaker, Ear and Hearing 24 (2003), as tabled in an audiometry handbook.
_INDEX = (0.0, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.60, 0.80)
_UNDERSTOOD = (0, 1, 8, 20, 45, 60, 74, 84, 90, 94, 98, 100)


def sii_recorded(
    speech_db: ArrayLike, noise_db: ArrayLike, usable: ArrayLike | None = None
) -> Array:
    """Index of speech in a recording, played back at whatever level suits.

    Without the parts of the standard's procedure that belong to someone who stands at the
    microphone (5.5, 5.7): a recording can be turned up, so no hearing threshold and no level
    distortion protects anyone. What is left is the noise: the site's, and the microphone's own,
    which the caller has added.

    Parameters
    ----------
    speech_db, noise_db
        Spectrum levels at the microphone, shape (..., 18), dB; -inf is none.
    usable
        Which bands the recording holds, bool, shape (18,); speech in the others is lost.

    Returns
    -------
    array, shape (...)

    Notes
    -----
    ANSI S3.5-1997, clauses 5.3 to 5.9.
    """
    speech = np.asarray(speech_db, dtype=np.float64)
    noise = np.asarray(noise_db, dtype=np.float64)
    # the other bands keep their weights: what is not recorded is lost, not made up for
    importance = IMPORTANCE if usable is None else IMPORTANCE * np.asarray(usable, dtype=bool)
    audible = _audibility(speech, _masking_db(speech, noise))
    return np.asarray(audible @ importance, dtype=np.float64)


def share_understood(index: ArrayLike) -> Array:
    """Share of the words of connected speech understood at an index, shape as given.

    Sherbecoe and Studebaker (2003), between its points by straight lines: 0.60 at 0.30. It is for
    attentive listeners with normal hearing who hear it once.
    """
    return np.interp(np.asarray(index, dtype=np.float64), _INDEX, np.array(_UNDERSTOOD) / 100)


def _masking_db(speech: Array, noise: Array) -> Array:
    """Equivalent masking spectrum level: the noise and its spread to higher bands (5.4)."""
    own = np.maximum(noise, speech - 24.0)  # 5.4: speech masks itself
    slope = -80.0 + 0.6 * (own + 10.0 * np.log10(BANDS_HZ) - 6.353)  # 5.4, dB per octave
    octaves = np.log10(0.89 * BANDS_HZ[:, None] / BANDS_HZ)  # of band i above band k
    # -inf (no sound at all) has no slope; it spreads nothing
    slope = np.where(np.isfinite(own), slope, 0.0)
    # shape (..., 18 masked bands, 18 maskers); 3.32 is 1 / lg 2, decades to octaves
    spread = own[..., None, :] + 3.32 * slope[..., None, :] * octaves
    # without the diagonal: only lower bands spread into a band
    below = np.tri(len(BANDS_HZ), k=-1)
    power = np.sum(below * 10.0 ** (spread / 10.0), axis=-1) + 10.0 ** (noise / 10.0)
    # no noise at all is −300 dB, so that nothing is −inf
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-30)), dtype=np.float64)


def _audibility(speech: Array, disturbance: Array) -> Array:
    """Share of the 30 dB that speech spans which lies above the disturbance (5.8)."""
    return np.asarray(np.clip((speech - disturbance + 15.0) / 30.0, 0.0, 1.0), dtype=np.float64)
