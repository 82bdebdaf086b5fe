"""Array types that run through the program."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Centi = NDArray[np.int16]
"""Levels in whole hundredths of a dB: a comparison made here is the one made on the CSV."""
