"""Decibels re full scale by hand, there and back."""

import numpy as np
import pytest

from audiolevel.metering.decibels import SILENCE_DB, centibels, level_db, mean_square, rounded_db


def test_a_full_scale_sine_is_nought() -> None:
    # AES17: a full-scale sine, whose mean square is a half, reads 0 dB FS
    sine = np.sin(2 * np.pi * np.arange(1000) / 1000)
    assert float(level_db(np.mean(sine**2))) == pytest.approx(0.0, abs=1e-9)
    assert float(level_db(1.0)) == pytest.approx(3.0103, abs=1e-4)  # a square wave
    assert float(level_db(0.05)) == pytest.approx(-10.0)


def test_silence_has_a_level_and_not_minus_infinity() -> None:
    assert float(level_db(0.0)) == SILENCE_DB
    assert level_db([[0.0, 0.5]]).shape == (1, 2)


def test_the_mean_square_of_a_level_is_its_inverse() -> None:
    level = np.array([-90.0, -20.0, 0.0, 3.0])
    assert level_db(mean_square(level)) == pytest.approx(level)


def test_whole_hundredths_as_in_the_history() -> None:
    assert centibels([-20.126, -0.004, 12.0]).tolist() == [-2013, 0, 1200]
    assert centibels([-20.126]).dtype == np.int16
    assert float(rounded_db(mean_square(-20.126))) == -20.13
