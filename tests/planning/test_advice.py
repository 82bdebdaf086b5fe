"""What would make a prediction better."""

from datetime import datetime

import numpy as np
import pytest

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.counting.schedule import read_schedule
from audiolevel.planning.advice import prediction_advice
from audiolevel.report.words.cautions import advice_text
from tests.counting.made_visits import STILL

LEVELS = np.arange(60.0, 80.0)
PUBLISHED = Conditions(traffic="published")


def _visit(start: datetime | None = None) -> Visit:
    counts = np.round(60 * np.exp(-0.4 * (LEVELS - LEVELS[0]))).astype(np.int64)
    return Visit(counts, 600.0, start=start)


def test_one_short_visit_without_a_start_time() -> None:
    prediction = predict(LEVELS, [_visit()], extrapolate=False)
    codes = [one.code for one in prediction_advice(prediction, 20.0)]
    assert codes == ["a day like the sample", "listen longer"]


def test_the_hours_of_a_morning_are_not_asked_for_again() -> None:
    morning = _visit(datetime(2024, 6, 4, 10, 0))
    prediction = predict(LEVELS, [morning], PUBLISHED, extrapolate=False)
    advice = {one.code: one for one in prediction_advice(prediction, 20.0)}
    assert "a day like the sample" not in advice
    text = advice_text(advice["hours not heard"])
    assert "night" in text
    assert "evening peak" in text
    assert "morning" not in text


def test_how_long_to_listen_is_the_jeffreys_limit_of_none_seen() -> None:
    # none seen in t: the 97.5 % limit of a Poisson mean is 2.51/t (Jeffreys); times e^spread
    prediction = predict(LEVELS, [_visit()], extrapolate=False, belief=STILL)
    advice = {one.code: one for one in prediction_advice(prediction, 100.0)}
    more_s = advice["listen longer"].facts["more_s"]
    assert more_s == pytest.approx(2.51 * 86400 / 100 - 600)
    generous = {one.code for one in prediction_advice(prediction, 1000.0)}
    assert "listen longer" not in generous
    # a day of two active hours is a twelfth as long
    late = Conditions(read_schedule(["22:00-24:00"]))
    prediction = predict(LEVELS, [_visit()], late, extrapolate=False, belief=STILL)
    two = {one.code: one for one in prediction_advice(prediction, 20.0)}
    assert two["listen longer"].facts["more_s"] == pytest.approx(2.51 * 7200 / 20 - 600)
    counted = prediction_advice(prediction, 100.0, shown=True)
    assert "listen longer" not in {one.code for one in counted}


def _at(hour: int, count: int, l10_db: float) -> Visit:
    counts = np.round(count * np.exp(-0.4 * (LEVELS - LEVELS[0]))).astype(np.int64)
    return Visit(counts, 3600.0, start=datetime(2024, 6, 4, hour), l10_db=l10_db)


def test_visits_say_by_how_much_they_differ_and_what_that_is_worth() -> None:
    visits = [_at(10, 400, 70.0), _at(11, 400, 74.0)]
    prediction = predict(LEVELS, visits, PUBLISHED, extrapolate=False)
    advice = {one.code: one for one in prediction_advice(prediction, 20.0)}
    assert advice["visits differ"].facts["apart_db"] == pytest.approx(4.0)
    assert "differ by 4.0 dB" in advice_text(advice["visits differ"])
    one = predict(LEVELS, visits[:1], PUBLISHED, extrapolate=False)
    assert "visits differ" not in {one.code for one in prediction_advice(one, 20.0)}


def test_a_night_alone_is_sent_to_an_hour_by_day() -> None:
    night = predict(LEVELS, [_at(2, 400, 70.0)], PUBLISHED, extrapolate=False)
    advice = {one.code: one for one in prediction_advice(night, 20.0)}
    assert 7 <= advice["hours unlike"].facts["hour"] < 22
    by_day = predict(LEVELS, [_at(11, 400, 70.0)], PUBLISHED, extrapolate=False)
    assert "hours unlike" not in {one.code for one in prediction_advice(by_day, 20.0)}
    # a camera of the night is told by the night
    at_night = Conditions(read_schedule(["22:00-05:00"]), "published")
    own = predict(LEVELS, [_at(2, 400, 70.0)], at_night, extrapolate=False)
    assert "hours unlike" not in {one.code for one in prediction_advice(own, 20.0)}
