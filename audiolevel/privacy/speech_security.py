"""Thresholds of speech that attentive listeners catch: a word, its cadence, that somebody talks.

The measure is the uniformly weighted mean of the signal-to-noise ratios in third-octaves from
160 Hz to 5 kHz, each no lower than −32 dB (Gover and Bradley, J. Acoust. Soc. Am. 116, 2004,
3480-3490, whose abstract was read: it names the measure and its three thresholds; the paper's
numbers are given here from memory). It falls farther than an index of intelligibility does: a word
may be caught long after sentences can no longer be followed.

Entry points: `uniform_ratio_db`, `WORD_DB`, `CADENCE_DB`, `VOICE_DB`, `ENHANCED_DB`.
"""

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array
from audiolevel.privacy.intelligibility import BANDS_HZ

# half of attentive listeners catch a word, hear the cadence of speech, hear that somebody talks
WORD_DB, CADENCE_DB, VOICE_DB = -16.0, -20.0, -22.0
LOWEST_DB = -32.0
_BANDS = BANDS_HZ <= 5000.0
# What software that cleans speech, or playing it again and again, is reckoned to gain: 3 to 5 dB of
# ratio is a judgement of ours, not a published figure
ENHANCED_DB = 4.0


def uniform_ratio_db(
    speech_db: ArrayLike, noise_db: ArrayLike, usable: ArrayLike | None = None
) -> Array:
    """Uniformly weighted signal-to-noise ratio of speech, clipped at −32 dB in each band.

    Parameters
    ----------
    speech_db, noise_db
        Spectrum or band levels at the microphone, both of one kind, shape (..., 18), dB.
    usable
        Which bands the recording holds, bool, shape (18,); the others count −32 dB.

    Returns
    -------
    array, shape (...)
    """
    speech = np.asarray(speech_db, dtype=np.float64)
    ratio = np.maximum(speech - np.asarray(noise_db, dtype=np.float64), LOWEST_DB)
    if usable is not None:
        ratio = np.where(np.asarray(usable, dtype=bool), ratio, LOWEST_DB)
    mean: Array = ratio[..., _BANDS].mean(axis=-1)
    return mean
