"""The interval record by hand, and the score interval against published limits."""

import pytest

from audiolevel.intervals import Interval, wilson_interval


def test_the_limits_belong_to_the_interval() -> None:
    interval = Interval(2.0, 1.0, 4.0)
    assert 1.0 in interval
    assert 4.0 in interval
    assert 4.000001 not in interval
    assert 0.999999 not in interval


def test_a_factor_scales_the_estimate_and_its_limits() -> None:
    assert Interval(2.0, 1.0, 4.0).times(0.5) == Interval(1.0, 0.5, 2.0)
    assert Interval(2.0, 1.0, 4.0).times(Interval(0.5, 0.1, 1.0)) == Interval(1.0, 0.1, 4.0)


def test_an_unknown_estimate_stays_unknown() -> None:
    assert Interval(None, 0.0, 4.0).times(0.5) == Interval(None, 0.0, 2.0)
    assert Interval(2.0, 1.0, 4.0).times(Interval(None, 0.0, 1.0)) == Interval(None, 0.0, 4.0)


def test_the_score_interval_of_81_of_263() -> None:
    # Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3: 0.2553 to 0.3662
    low, high = wilson_interval(81 / 263, 263)
    assert float(low) == pytest.approx(0.2553, abs=5e-5)
    assert float(high) == pytest.approx(0.3662, abs=5e-5)


def test_the_score_interval_of_none_of_20() -> None:
    # Newcombe (1998), table I, method 3: 0.0000 to 0.1611
    low, high = wilson_interval(0.0, 20)
    assert float(low) == 0.0
    assert float(high) == pytest.approx(0.1611, abs=5e-5)
