"""The shift between visits and days: against scipy's distributions and by hand."""

import math
from datetime import datetime, timedelta

import numpy as np
import pytest
from scipy import stats

from audiolevel.counting.day_shift import Design, Shift, Weather, shift_of, wet_of
from audiolevel.counting.exposure import Visit
from audiolevel.counting.posterior import SharedDraws
from audiolevel.counting.rates import predict
from audiolevel.counting.site_kinds import KINDS, UNKNOWN, kind_of
from audiolevel.errors import SettingError

STREET = KINDS["street"]
SHARED = SharedDraws(0, 20_000)


def _design(days, heard=0.0):
    return Design(np.array(days), np.full(len(days), heard), len(set(days)))


def test_the_shift_is_student_s_t():
    mean, day = Shift(2.0, 4.0, 1.0, 0.5, 4.0).draws(SHARED)
    # the mean of log-normal rates lies half a variance above their median: 0.28/2·2² dB
    for share in (0.05, 0.5, 0.975):
        expected = stats.t.ppf(share, 4, 0.28 / 2 * 4, 2.0)
        assert np.quantile(mean, share) == pytest.approx(expected, abs=0.15)
    # of a single day's own part the same, by half the variance, and that below: 0.28/2·2 dB
    for share in (0.05, 0.5, 0.975):
        expected = stats.t.ppf(share, 4, -0.28 / 2 * 2, math.sqrt(2.0))
        assert np.quantile(day - mean, share) == pytest.approx(expected, abs=0.1)


def test_days_can_be_unusual_however_much_is_known_of_their_size():
    """Rates of t-distributed days by scipy: known in size, heavy in the tail."""
    mean, day = Shift(2.0, 400.0, 0.0, 0.5, 4.0).draws(SHARED)
    assert np.ptp(mean) == 0
    found = (np.quantile(day, 0.99) - np.quantile(day, 0.5)) / math.sqrt(2.0)
    assert found == pytest.approx(stats.t.ppf(0.99, 4), rel=0.03)


def test_its_half_width_is_that_of_student_s_t():
    expected = stats.t.ppf(0.975, 4) * 2.0 * math.sqrt(0.6)
    assert Shift(2.0, 4.0, 0.6, 0.5, 4.0).half_width_db(0.95) == pytest.approx(expected)


def test_visits_levels_teach_its_size():
    apart = _design([0, 1, 2])
    prior = shift_of(STREET, apart, None, [], Weather())
    alike = shift_of(STREET, apart, np.array([60.0, 60.2, 59.9]), [], Weather())
    unlike = shift_of(STREET, apart, np.array([60.0, 68.0, 53.0]), [], Weather())
    assert alike.scale_db < prior.scale_db < unlike.scale_db
    assert alike.worth == prior.worth + 2
    # Gelman et al. (2013), section 2.6: (ν₀σ₀² + Σ(x − x̄)²)/(ν₀ + n − 1)
    by_hand = (4 * 2.3**2 + ((np.array([60.0, 68.0, 53.0]) - 181 / 3) ** 2).sum()) / 6
    assert unlike.scale_db == pytest.approx(math.sqrt(by_hand))


def test_hours_of_one_day_show_only_what_hours_do():
    levels = np.array([60.0, 63.0])
    same, other = (shift_of(STREET, _design(d), levels, [], Weather()) for d in ([0, 0], [0, 1]))
    assert same.scale_db > other.scale_db
    assert same.of_mean > other.of_mean


def test_a_wet_day_is_louder_than_the_mean_one_and_a_dry_one_quieter():
    # by hand, 3 dB on a quarter of days: 0.75 + 0.25·exp(0.28·3) is 1.329 times, or 1.016 dB
    weather = Weather(0.25, 3.0)
    assert weather.louder_db(True) == pytest.approx(1.984, abs=0.001)
    assert weather.louder_db(False) == pytest.approx(-1.016, abs=0.001)
    assert weather.louder_db(None) == 0.0


def test_a_wet_day_is_louder_than_a_dry_visit():
    dry = Shift(0.001, 4.0, 1.0, 0.5, 4.0, Weather(0.25, 4.0, (False,)))
    mean, day = dry.draws(SHARED)
    assert np.mean(day > 3.9) == pytest.approx(0.25, abs=0.01)
    # mean rate: (0.75 + 0.25·exp(0.28·4)), by hand 1.516, which is 1.49 dB
    assert mean == pytest.approx(1.486, abs=0.05)
    wet_mean, wet_day = Shift(0.001, 4.0, 1.0, 0.5, 4.0, Weather(0.25, 4.0, (True,))).draws(SHARED)
    assert wet_mean == pytest.approx(mean - 4.0, abs=0.05)
    assert np.mean(wet_day < -3.9) == pytest.approx(0.75, abs=0.01)
    unsaid, _ = Shift(0.001, 4.0, 1.0, 0.5, 4.0, Weather(0.25, 4.0, (None, None))).draws(SHARED)
    # none, one or both of two days wet: 9/16, 6/16 and 1/16
    assert np.mean(unsaid > 1) == pytest.approx(9 / 16, abs=0.01)
    assert np.mean(unsaid < -2) == pytest.approx(1 / 16, abs=0.01)


def test_no_kind_is_the_widest():
    assert all(kind.shift_db <= UNKNOWN.shift_db for kind in KINDS.values())
    assert all(kind.shift_worth >= UNKNOWN.shift_worth for kind in KINDS.values())
    assert kind_of(None) is UNKNOWN


def test_other_words_are_refused_with_the_nearest():
    with pytest.raises(SettingError, match='did you mean "street"'):
        kind_of("stret")
    with pytest.raises(SettingError, match="neither dry nor wet"):
        wet_of("damp")


@pytest.mark.parametrize("kind", [*KINDS, None])
def test_a_kind_s_intervals_hold_what_the_kind_before_it_holds(kind):
    levels = np.arange(60.0, 100.0)
    peaks = 60 - 3 * np.log((np.arange(240) + 0.5) / 240)
    counts = (peaks >= levels[:, None]).sum(axis=1)
    start = datetime(2024, 6, 4, 10)
    visit = Visit(counts, 3600.0, peaks, start)
    alone = predict(levels, [visit], extrapolate=True, spread=0.0, kind=kind)
    whole = predict(levels, [visit], extrapolate=True, kind=kind)
    again = predict(
        levels,
        [visit, Visit(counts, 3600.0, peaks, start + timedelta(days=1, hours=3))],
        extrapolate=True,
        kind=kind,
    )
    row = int(np.nanargmin(abs(alone.per_day - 200)))
    ratio = [p.rate_high_per_day[row] / p.rate_low_per_day[row] for p in (alone, again, whole)]
    assert ratio == sorted(ratio)
    # a single day lies wider than the mean one
    assert whole.high_per_day[row] > whole.rate_high_per_day[row]
