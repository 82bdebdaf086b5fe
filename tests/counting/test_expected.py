"""What is expected of one setting, taken from a prediction whose numbers are known."""

import numpy as np
import pytest
from scipy.stats import gamma

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.expected import Expected
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.ground.intervals import Interval


def _expected(seen: int, confidence: float = 0.95) -> Expected:
    visit = Visit(np.array([seen]), 3600.0)
    return predict([70.0], [visit], Conditions(confidence=confidence), extrapolate=False).at(0)


def test_a_counted_hour_has_its_gamma_interval() -> None:
    # Jeffreys (1961): after 100 events the rate is Gamma(100.5) an hour
    one = _expected(100, confidence=0.9)
    assert (one.method, one.seen, one.heard_s, one.confidence) == ("counted", 100, 3600.0, 0.9)
    assert not one.only_limited
    assert one.per_hour.best == pytest.approx(gamma.median(100.5), rel=0.005)
    assert one.per_hour.low == pytest.approx(gamma.ppf(0.05, 100.5), rel=0.01)
    assert one.per_hour.high == pytest.approx(gamma.ppf(0.95, 100.5), rel=0.01)
    assert one.rate.best is not None
    assert one.rate.best in one.rate
    assert one.count.high > one.rate.high  # a day scatters about its rate


def test_nothing_seen_is_an_upper_limit_without_a_best_estimate() -> None:
    one = _expected(0)
    assert one.only_limited
    assert one.rate.best is None
    assert one.rate.low == 0 < one.rate.high


def test_only_the_method_decides_what_is_only_limited() -> None:
    nothing = Interval(None, 0.0, 1.0)
    for method, limited in (("counted", False), ("extrapolated", False), ("upper limit", True)):
        assert Expected(nothing, nothing, nothing, method, 0, 60.0, 0.95).only_limited is limited
