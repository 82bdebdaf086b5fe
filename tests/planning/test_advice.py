"""What would make a prediction better."""

from datetime import datetime

import numpy as np
import pytest

from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.planning.advice import prediction_advice
from audiolevel.report.plan_wording import advice_text

LEVELS = np.arange(60.0, 80.0)


def _visit(start: datetime | None = None) -> Visit:
    counts = np.round(60 * np.exp(-0.4 * (LEVELS - LEVELS[0]))).astype(np.int64)
    return Visit(counts, 600.0, start=start)


def test_one_short_visit_without_a_start_time() -> None:
    prediction = predict(LEVELS, [_visit()], extrapolate=False)
    codes = [one.code for one in prediction_advice(prediction, 20.0)]
    assert codes == ["a day like the sample", "listen longer"]


def test_the_hours_of_a_morning_are_not_asked_for_again() -> None:
    morning = _visit(datetime(2024, 6, 4, 10, 0))
    prediction = predict(LEVELS, [morning], extrapolate=False, traffic="published")
    advice = {one.code: one for one in prediction_advice(prediction, 20.0)}
    assert "a day like the sample" not in advice
    text = advice_text(advice["hours not heard"])
    assert "night" in text
    assert "evening peak" in text
    assert "morning" not in text


def test_how_long_to_listen_is_the_jeffreys_limit_of_none_seen() -> None:
    # none seen in t: the 97.5 % limit of a Poisson mean is 2.51/t (Jeffreys); times e^spread
    prediction = predict(LEVELS, [_visit()], extrapolate=False, spread=0.0)
    advice = {one.code: one for one in prediction_advice(prediction, 100.0)}
    more_s = advice["listen longer"].facts["more_s"]
    assert more_s == pytest.approx(2.51 * 86400 / 100 - 600)
    generous = {one.code for one in prediction_advice(prediction, 1000.0)}
    assert "listen longer" not in generous
