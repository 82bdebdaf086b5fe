"""The question turned round: which level for so many a day, against the curve read by hand."""

import numpy as np
import pytest

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.counting.schedule import read_schedule
from tests.counting.made_visits import LEVELS, site


def test_level_for_limit_is_the_curve_turned_round():
    p = predict(LEVELS, [site()], extrapolate=True)
    answer = p.level_for_limit(50)
    assert answer.low_db < answer.best_db < answer.safe_db < answer.high_db

    def rate_at(level_db, rate):
        known = rate > 0
        return np.exp(np.interp(level_db, LEVELS[known], np.log(rate[known])))

    assert rate_at(answer.best_db, p.per_day) == pytest.approx(50, rel=1e-6)
    assert rate_at(answer.low_db, p.rate_low_per_day) == pytest.approx(50, rel=1e-6)
    often = p.level_for_limit(300)
    assert rate_at(often.high_db, p.rate_high_per_day) == pytest.approx(300, rel=1e-6)
    # 6 dB above the loudest peak the question turned round has an end, and a setting has none
    assert rate_at(answer.high_db, p.rate_high_per_day) >= 50 * (1 - 1e-6)


def test_a_safe_level_keeps_the_limit_on_nine_days_of_ten():
    p = predict(LEVELS, [site()], extrapolate=True)
    safe_db = p.level_for_limit(50).safe_db

    def kept(curves):
        logs = np.log(np.maximum(curves, 1e-9))
        at = [np.interp([safe_db], p.curve_db, node) for node in logs.T]
        return np.mean(np.exp(at) <= 50)

    assert kept(p.curve_of_day) == pytest.approx(0.9, abs=0.01)
    # days differ besides what is unknown of their mean
    assert kept(p.curve_per_day) > 0.9


def test_level_for_limit_does_not_need_the_sweep_to_reach_it():
    visit = site()
    whole = predict(LEVELS, [visit], extrapolate=True).level_for_limit(2)
    few = visit.counts[:15]
    part = predict(LEVELS[:15], [Visit(few, 3600.0, visit.peaks_db)], extrapolate=True)
    assert part.level_for_limit(2).best_db == pytest.approx(whole.best_db, abs=0.2)


def test_a_threshold_in_the_background_is_no_answer():
    # 50 and 55 dB fire once, because the site is never quieter; they are not the quietest choice.
    visit = Visit(np.array([1, 1, 60, 20, 2]), 3600.0)
    p = predict([50.0, 55.0, 60.0, 65.0, 70.0], [visit], extrapolate=False)
    assert p.level_for_limit(700).best_db > 60
    assert p.count[np.argmax(p.per_day)] == 60


def test_no_rate_is_above_what_the_re_arm_time_allows():
    # by hand: a firing every 60 s at the most makes 60 an hour and 720 in twelve active hours
    conditions = Conditions(read_schedule(["12:00-24:00"]))
    p = predict(LEVELS, [site()], conditions, extrapolate=True).capped(60.0)
    assert np.nanmax(p.per_hour_high) == 60.0
    assert max(np.nanmax(p.rate_high_per_day), np.nanmax(p.high_per_day)) == 720.0


def test_a_gain_moves_every_level_and_no_rate():
    p = predict(LEVELS, [site()], extrapolate=True)
    louder = p.shifted(6.0)
    assert louder.level_for_limit(50).best_db == pytest.approx(p.level_for_limit(50).best_db + 6.0)
    assert louder.reach_db == p.reach_db + 6.0
    assert louder.rate_quantiles(20, [0.5]) == pytest.approx(p.rate_quantiles(20, [0.5]))
