"""The Speech Intelligibility Index: how much of speech a listener understands over a noise.

The Speech Intelligibility Index of ANSI S3.5-1997: 0 (nothing) to 1 (everything that speech
carries is audible), on arrays: its one-third-octave procedure (clause 5, table 3) with the spread
of masking and level distortion.

Conventions: spectrum levels in dB re 20 µPa per hertz, bands along the last axis. A *band level* is
`BANDWIDTH_DB` higher; one taken for the other gives an index that is far too low.

Entry points: `sii`, `sii_recorded`, `share_understood`, `SPEECH_DB`, `BANDS_HZ`.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Array
from audiolevel.errors import SettingError

EFFORTS = ("normal", "raised", "loud", "shout")


def _table(*values: float) -> Array:
    table = np.array(values)
    # shared by all who import it
    table.flags.writeable = False
    return table


# ANSI S3.5-1997, table 3. Columns: nominal midband (Hz), band importance, standard speech spectrum
# level at 1 m for each vocal effort (dB), reference internal noise spectrum level (dB).
_THIRDS = np.array(
    [
        [160, 0.0083, 32.41, 33.81, 35.29, 30.77, 0.6],
        [200, 0.0095, 34.48, 33.92, 37.76, 36.65, -1.7],
        [250, 0.0150, 34.75, 38.98, 41.55, 42.50, -3.9],
        [315, 0.0289, 33.98, 38.57, 43.78, 46.51, -6.1],
        [400, 0.0440, 34.59, 39.11, 43.30, 47.40, -8.2],
        [500, 0.0578, 34.27, 40.15, 44.85, 49.24, -9.7],
        [630, 0.0653, 32.06, 38.78, 45.55, 51.21, -10.8],
        [800, 0.0711, 28.30, 36.37, 44.05, 51.44, -11.9],
        [1000, 0.0818, 25.01, 33.86, 42.16, 51.31, -12.5],
        [1250, 0.0844, 23.00, 31.89, 40.53, 49.63, -13.5],
        [1600, 0.0882, 20.15, 28.58, 37.70, 47.65, -15.4],
        [2000, 0.0898, 17.32, 25.32, 34.39, 44.32, -17.7],
        [2500, 0.0868, 13.18, 22.35, 30.98, 40.80, -21.2],
        [3150, 0.0844, 11.55, 20.15, 28.21, 38.13, -24.2],
        [4000, 0.0771, 9.33, 16.78, 25.41, 34.41, -25.9],
        [5000, 0.0527, 5.31, 11.47, 18.35, 28.24, -23.6],
        [6300, 0.0364, 2.59, 7.67, 13.87, 23.45, -15.8],
        [8000, 0.0185, 1.13, 5.07, 11.39, 20.72, -7.1],
    ]
)
BANDS_HZ: Array = _table(*_THIRDS[:, 0])
"""Nominal one-third-octave midbands, 160 Hz to 8 kHz, shape (18,)."""

IMPORTANCE: Array = _table(*_THIRDS[:, 1])
"""Band importance of average speech (table 3); sums to 1."""

SPEECH_DB: Mapping[str, Array] = MappingProxyType(
    {effort: _table(*_THIRDS[:, 2 + i]) for i, effort in enumerate(EFFORTS)}
)
"""Standard speech spectrum levels at 1 m by vocal effort (table 3)."""

INTERNAL_NOISE_DB: Array = _table(*_THIRDS[:, 6])
"""Reference internal noise spectrum level of a listener with normal hearing (table 3)."""

# the bandwidth of a one-third octave, 10 lg(0.2316 F); table 3 prints 15.65 for 160 Hz and 1.00
# more for each band
BANDWIDTH_DB: Array = _table(*(15.65 + np.arange(18)))
"""Band level minus spectrum level (table 3)."""

# Words of connected speech that listeners with normal hearing repeat, in %, against the index:
# Sherbecoe and Studebaker, Ear and Hearing 24 (2003), as tabled in an audiometry handbook.
_INDEX = (0.0, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.60, 0.80)
_UNDERSTOOD = (0, 1, 8, 20, 45, 60, 74, 84, 90, 94, 98, 100)


def sii(
    speech_db: ArrayLike,
    noise_db: ArrayLike,
    hearing_loss_db: ArrayLike = 0.0,
) -> Array:
    """Speech Intelligibility Index of a listener in the field, one-third-octave procedure.

    Parameters
    ----------
    speech_db, noise_db
        Spectrum levels at the listener, shape (..., 18), dB; -inf is none.
    hearing_loss_db
        Hearing threshold level, dB HL, a number or shape (..., 18).

    Returns
    -------
    array, shape (...)

    Raises
    ------
    SettingError
        Another number of bands, a NaN, or a level of plus infinity.

    Notes
    -----
    ANSI S3.5-1997, clauses 5.3 to 5.9.
    """
    speech, noise = _checked(speech_db, "speech_db"), _checked(noise_db, "noise_db")
    internal = INTERNAL_NOISE_DB + np.asarray(hearing_loss_db, dtype=np.float64)
    disturbance = np.maximum(_masking_db(speech, noise), internal)  # 5.6
    audible = _audibility(speech, disturbance) * _undistorted(speech)
    return np.asarray(audible @ IMPORTANCE, dtype=np.float64)


def sii_recorded(
    speech_db: ArrayLike, noise_db: ArrayLike, usable: ArrayLike | None = None
) -> Array:
    """Index of speech in a recording, played back at whatever level suits.

    As `sii`, without the parts that belong to someone who stands at the microphone: a recording
    can be turned up, so no hearing threshold and no level distortion protects anyone. What is
    left is the noise: the site's, and the microphone's own, which the caller has added.

    Parameters
    ----------
    speech_db, noise_db
        Spectrum levels at the microphone, shape (..., 18), dB.
    usable
        Which bands the recording holds, bool, shape (18,); speech in the others is lost.

    Returns
    -------
    array, shape (...)

    Raises
    ------
    SettingError
        As of `sii`.
    """
    speech, noise = _checked(speech_db, "speech_db"), _checked(noise_db, "noise_db")
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


def _undistorted(speech: Array) -> Array:
    """Level distortion factor: loud speech is understood less well (5.7)."""
    # a band louder than normal speech by 170 dB would pass through nought
    above = speech - SPEECH_DB["normal"]
    return np.asarray(np.clip(1.0 - (above - 10.0) / 160.0, 0.0, 1.0), dtype=np.float64)


def _checked(values: ArrayLike, name: str) -> Array:
    levels = np.asarray(values, dtype=np.float64)
    if levels.ndim < 1 or levels.shape[-1] != len(BANDS_HZ):
        raise SettingError(
            f"{name}: give {len(BANDS_HZ)} spectrum levels, not shape {levels.shape}"
        )
    if np.isnan(levels).any() or np.isposinf(levels).any():
        raise SettingError(f"{name}: holds a value that is no level")
    return levels
