"""Standard levels of speech in third-octave bands, by vocal effort: ANSI S3.5-1997, table 3.

Conventions: spectrum levels in dB re 20 µPa per hertz, bands along the last axis. A *band level* is
`BANDWIDTH_DB` higher; one taken for the other gives levels that are far too low.

Entry points: `SPEECH_DB`, `BANDWIDTH_DB`, `BANDS_HZ`, `IMPORTANCE`, `EFFORTS`.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from audiolevel.ground.arrays import Array

EFFORTS = ("normal", "raised", "loud", "shout")


def _table(*values: float) -> Array:
    table = np.array(values)
    # shared by all who import it
    table.flags.writeable = False
    return table


# Columns: nominal midband (Hz), band importance, standard speech spectrum level at 1 m for each
# vocal effort (dB).
_THIRDS = np.array(
    [
        [160, 0.0083, 32.41, 33.81, 35.29, 30.77],
        [200, 0.0095, 34.48, 33.92, 37.76, 36.65],
        [250, 0.0150, 34.75, 38.98, 41.55, 42.50],
        [315, 0.0289, 33.98, 38.57, 43.78, 46.51],
        [400, 0.0440, 34.59, 39.11, 43.30, 47.40],
        [500, 0.0578, 34.27, 40.15, 44.85, 49.24],
        [630, 0.0653, 32.06, 38.78, 45.55, 51.21],
        [800, 0.0711, 28.30, 36.37, 44.05, 51.44],
        [1000, 0.0818, 25.01, 33.86, 42.16, 51.31],
        [1250, 0.0844, 23.00, 31.89, 40.53, 49.63],
        [1600, 0.0882, 20.15, 28.58, 37.70, 47.65],
        [2000, 0.0898, 17.32, 25.32, 34.39, 44.32],
        [2500, 0.0868, 13.18, 22.35, 30.98, 40.80],
        [3150, 0.0844, 11.55, 20.15, 28.21, 38.13],
        [4000, 0.0771, 9.33, 16.78, 25.41, 34.41],
        [5000, 0.0527, 5.31, 11.47, 18.35, 28.24],
        [6300, 0.0364, 2.59, 7.67, 13.87, 23.45],
        [8000, 0.0185, 1.13, 5.07, 11.39, 20.72],
    ]
)
BANDS_HZ: Array = _table(*_THIRDS[:, 0])
"""Nominal one-third-octave midbands, 160 Hz to 8 kHz, shape (18,)."""
IMPORTANCE: Array = _table(*_THIRDS[:, 1])
"""Band importance of average speech; sums to 1."""
SPEECH_DB: Mapping[str, Array] = MappingProxyType(
    {effort: _table(*_THIRDS[:, 2 + i]) for i, effort in enumerate(EFFORTS)}
)
"""Standard speech spectrum levels at 1 m by vocal effort."""
# the bandwidth of a one-third octave, 10 lg(0.2316 F); the table prints 15.65 for 160 Hz and 1.00
# more for each band
BANDWIDTH_DB: Array = _table(*(15.65 + np.arange(18)))
"""Band level minus spectrum level."""
