"""The array types hold what they are used for."""

from typing import get_args

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray, Centi, IntArray
from audiolevel.metering.decibels import SILENCE_DB, centibels


def _type_of(kind: object) -> object:
    return get_args(get_args(kind)[1])[0]


def test_each_type_is_an_array_of_its_numbers() -> None:
    expected = {Array: np.float64, IntArray: np.int64, BoolArray: np.bool_, Centi: np.int16}
    assert {kind: _type_of(kind) for kind in expected} == expected


def test_hundredths_hold_every_level_from_silence_to_far_above_full_scale() -> None:
    # 16 bits: ±327.67 dB (two's complement, 2^15 / 100)
    levels = np.array([SILENCE_DB, -0.005, 0.0, 120.0])
    held = centibels(levels)
    assert held.dtype == np.int16
    assert np.abs(held / 100 - levels).max() <= 0.005 + 1e-12
    assert np.iinfo(np.int16).max / 100 == 327.67
