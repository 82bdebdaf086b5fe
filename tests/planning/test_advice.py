"""What would make a prediction better."""

from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.planning.advice import prediction_advice
from audiolevel.planning.asked import Asked
from audiolevel.report.words.cautions import advice_text
from audiolevel.site.sections import TriggerSection, Wanted
from tests.made_street import SITE, plan

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
    # a day of two active hours is a twelfth as long
    share = np.zeros(24)
    share[[22, 23]] = 1
    two = {one.code: one for one in prediction_advice(prediction, 20.0, share)}
    assert two["listen longer"].facts["more_s"] == pytest.approx(2.51 * 7200 / 20 - 600)
    counted = prediction_advice(prediction, 100.0, shown=True)
    assert "listen longer" not in {one.code for one in counted}


def _at(hour: int, count: int, l10_db: float) -> Visit:
    counts = np.round(count * np.exp(-0.4 * (LEVELS - LEVELS[0]))).astype(np.int64)
    start = datetime(2024, 6, 4, hour, 0)
    return Visit(counts, 3600.0, start=start, l10_db=l10_db, laeq_db=l10_db - 3.0)


def test_visits_say_by_how_much_they_differ_and_what_that_is_worth() -> None:
    visits = [_at(10, 400, 70.0), _at(11, 400, 74.0)]
    prediction = predict(LEVELS, visits, extrapolate=False, traffic="published", kind="street")
    advice = {one.code: one for one in prediction_advice(prediction, 20.0)}
    # 10 h and 11 h have 5.66 and 5.83 % of the traffic, which explains 0.06 dB
    assert advice["visits differ"].facts["apart_db"] == pytest.approx(4.0 - 2.0 * 0.0296, abs=0.01)
    text = advice_text(advice["visits differ"])
    assert "the visits differ by 3.9 dB" in text
    one = predict(LEVELS, visits[:1], extrapolate=False, traffic="published", kind="street")
    assert "visits differ" not in {one.code for one in prediction_advice(one, 20.0)}


def test_visits_that_contradict_the_traffic_are_told() -> None:
    # three in the night have six times as many as three by day, where the flow has a tenth: by hand
    # a power of -ln(6)/ln(13), two standard deviations from 0.40 ± 0.35
    by_day, by_night = [8, 11, 16], [1, 2, 3]
    visits = [_at(hour, 200, 70.0) for hour in by_day] + [
        _at(hour, 1200, 70.0) for hour in by_night
    ]
    told = predict(LEVELS, visits, extrapolate=False, traffic="published", kind="street")
    advice = {one.code: one for one in prediction_advice(told, 20.0)}
    assert "do not follow the traffic" in advice_text(advice["flow contradicted"])
    followed = [_at(hour, 400, 70.0) for hour in by_day] + [_at(h, 150, 70.0) for h in by_night]
    usual = predict(LEVELS, followed, extrapolate=False, traffic="published", kind="street")
    assert "flow contradicted" not in {one.code for one in prediction_advice(usual, 20.0)}


def test_a_mode_that_was_asked_for_is_not_called_untried() -> None:
    # too faint to be caught within the limit, with only the threshold allowed to try
    site = replace(
        SITE,
        trigger=TriggerSection(modes=("threshold",), rearm_s=2.0),
        wanted=(Wanted("vehicle horn", distance_m=80.0),),
    )
    untried = {}
    for asked in (None, Asked("mid", "rise", change_db=15.0)):
        told = [
            one.facts["modes"] for one in plan(site, asked).advice if one.code == "another mode"
        ]
        untried[asked is None] = told
    assert untried == {True: ["rise, fall, change"], False: ["fall, change"]}
