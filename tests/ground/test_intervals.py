"""The interval record by hand, and the score interval against limits as tabled."""

import pytest

from audiolevel.ground.intervals import Interval, wilson_interval


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


# Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3 (from memory, and equal to
# Wilson's formula worked by hand): events, tries, 95 % limits.
@pytest.mark.parametrize(
    ("events", "tries", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611),
     (1, 29, 0.0061, 0.1718)],
)  # fmt: skip
def test_wilson_limits_as_tabled(events: int, tries: int, low: float, high: float) -> None:
    found = wilson_interval(events / tries, tries)
    assert float(found[0]) == pytest.approx(low, abs=6e-5)
    assert float(found[1]) == pytest.approx(high, abs=6e-5)
