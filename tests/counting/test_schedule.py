"""Active minutes of the week: by hand, by properties, and over changes of the clock."""

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from audiolevel.counting.schedule import (
    WEEKDAYS,
    read_schedule,
    zone_named,
)
from audiolevel.counting.traffic import published
from audiolevel.ground.errors import SettingError

NIGHTS = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]


def test_all_of_the_week_when_nothing_is_set():
    schedule = read_schedule([])
    assert schedule.hours_active_per_week == 168
    assert schedule.hours_active_per_day == 24
    assert schedule.always
    assert read_schedule([]).always


def test_nights_and_weekends_by_hand():
    schedule = read_schedule(NIGHTS)
    # 5 nights of 13 h and two days of 24 h; Saturday 00 to 07 h is in both, and counts once
    assert schedule.hours_active_per_week == 5 * 13 + 48 - 7
    share = schedule.share_active_by_weekday()
    assert share[0, 6] == 0  # Monday 06 h: Sunday has no night window of its own
    assert share[1, 6] == 1
    assert share[0, 7] == 0
    assert schedule.share_active_by_hour()[12] == pytest.approx(2 / 7)


@pytest.mark.parametrize(
    ("windows", "days", "hours_a_day"),
    [
        (["sat 10:00-11:00"], 1, 1),
        (["mon-fri 08:00-16:00"], 5, 8),
        # five nights of eight hours, though they touch six dates
        (["mon-fri 22:00-06:00"], 5, 8),
        # one night written in two windows is one night
        (["fri 22:00-00:00", "sat 00:00-06:00"], 1, 8),
        (["mon 22:30-22:45"], 1, 0.25),
        # 106 hours a week by hand, some of each of the seven days
        (NIGHTS, 7, 106 / 7),
        ([], 7, 24),
    ],
)
def test_a_day_is_one_on_which_it_is_active(windows, days, hours_a_day):
    schedule = read_schedule(windows)
    assert schedule.days_active_per_week == days
    assert schedule.hours_active_per_day == pytest.approx(hours_a_day)
    share = schedule.share_active_by_hour()
    assert share.sum() == pytest.approx(hours_a_day)
    assert share.max() <= 1


@pytest.mark.parametrize(
    ("window", "hours"),
    [
        ("08:00-09:00", 7),
        ("mon 00:00-24:00", 24),
        ("Monday, wed 8:00-9:30", 3),
        ("fri-mon 23:00-01:00", 8),
        ("sun 23:00-01:00", 2),
        ("mon-sun 00:00-24:00", 168),
        ("sat 18:00-00:00", 6),
    ],
)
def test_windows_by_hand(window, hours):
    assert read_schedule([window]).hours_active_per_week == hours


def test_a_window_across_sunday_night_goes_on_on_monday():
    share = read_schedule(["sun 23:00-01:00"]).share_active_by_weekday()
    assert share[6, 23] == 1
    assert share[0, 0] == 1
    assert share.sum() == 2


@pytest.mark.parametrize(
    ("window", "words"),
    [
        ("mon-fri 18-7", "write it like"),
        ("mon-fri 25:00-07:00", "no time 25:00"),
        ("mon-fri 18:60-07:00", "no time 18:60"),
        ("mo-fri 18:00-07:00", "no weekday 'mo'"),
        ("mondag 18:00-07:00", "no weekday 'mondag'"),
        ("mon 08:00-08:00", "00:00-24:00"),
        ("mon 24:00-08:00", "begins at 24:00"),
        ("mon-wed-fri 08:00-09:00", "two weekdays"),
        ("", "write it like"),
    ],
)
def test_a_bad_window_is_one_line_that_names_the_key(window, words):
    with pytest.raises(SettingError, match=words) as refused:
        read_schedule([window])
    assert str(refused.value).startswith("schedule.active: ")
    assert "\n" not in str(refused.value)


clock = st.integers(0, 1439)


@st.composite
def window(draw):
    first, last = draw(st.lists(clock, min_size=2, max_size=2, unique=True))
    days = draw(st.sampled_from(WEEKDAYS)), draw(st.sampled_from(WEEKDAYS))
    return days, first, last


def _text(days, first, last):
    times = [f"{minute // 60:02d}:{minute % 60:02d}" for minute in (first, last)]
    return f"{days[0]}-{days[1]} {times[0]}-{times[1]}"


def _slow(windows):
    """Minutes of the week one by one: a minute is active if any window holds it."""
    active = set()
    for days, first, last in windows:
        day = WEEKDAYS.index(days[0])
        while True:
            minute = first
            while minute % 1440 != last:
                active.add((day * 1440 + minute) % 10080)
                minute += 1
            if day == WEEKDAYS.index(days[1]):
                break
            day = (day + 1) % 7
    return active


@given(st.lists(window(), min_size=1, max_size=4))
def test_any_set_of_windows_covers_each_minute_of_the_week_once(windows):
    schedule = read_schedule([_text(*one) for one in windows])
    slow = _slow(windows)
    assert set(np.flatnonzero(schedule.minutes.ravel()).tolist()) == slow
    assert schedule.hours_active_per_week == pytest.approx(len(slow) / 60)
    assert schedule.share_active_by_weekday().sum() == pytest.approx(len(slow) / 60)
    assert schedule.share_active_by_hour().sum() == pytest.approx(schedule.hours_active_per_day)


@given(window())
def test_a_window_and_its_complement_are_the_week(one):
    days, first, last = one
    every = ("mon", "sun")
    inside = read_schedule([_text(every, first, last)])
    outside = read_schedule([_text(every, last, first)])
    assert not np.any(inside.minutes & outside.minutes)
    assert np.all(inside.minutes | outside.minutes)
    assert days  # of no matter here


# --- the clock -----------------------------------------------------------------------------------


def test_a_zone_that_is_not_there():
    with pytest.raises(SettingError, match=r"schedule\.zone: no time zone 'Nowhere/Town'"):
        zone_named("Nowhere/Town")
    assert zone_named("") is UTC


def test_without_a_list_of_zones_the_package_is_named(monkeypatch):
    import zoneinfo

    def missing(name):
        raise zoneinfo.ZoneInfoNotFoundError(name)

    monkeypatch.setattr(zoneinfo, "ZoneInfo", missing)
    monkeypatch.setattr(zoneinfo, "available_timezones", set)
    with pytest.raises(SettingError, match="install the package tzdata"):
        zone_named("CET")


# --- counts in active hours ----------------------------------------------------------------------


def _visit(start=None):
    return Visit(np.array([400, 100]), 4 * 3600.0, None, start)


MORNINGS = Conditions(read_schedule(["00:00-12:00"]))


def test_counts_are_those_of_the_active_hours():
    whole = predict([60.0, 65.0], [_visit()], extrapolate=False)
    half = predict([60.0, 65.0], [_visit()], MORNINGS, extrapolate=False)
    assert half.per_day == pytest.approx(whole.per_day / 2, rel=1e-6)
    assert half.per_hour == pytest.approx(whole.per_hour)


def test_active_hours_are_weighed_by_traffic():
    # UK DfT table TRA0307, weekdays: 10.37 % of the traffic passes from 23 to 07 h
    start = datetime(2024, 6, 4, 10)
    night = Conditions(read_schedule(["23:00-07:00"]), "published")
    always = Conditions(traffic="published")
    whole = predict([60.0, 65.0], [_visit(start)], always, extrapolate=False)
    part = predict([60.0, 65.0], [_visit(start)], night, extrapolate=False)
    # of the traffic; loud sounds follow it to a power about 0.65
    busy = published(start) ** 0.65
    night_hours = [23, *range(7)]
    assert 0.1037 < busy[night_hours].sum() / busy.sum() < 8 / 24
    assert part.per_day / whole.per_day == pytest.approx(
        busy[night_hours].sum() / busy.sum(), rel=0.05
    )
    assert part.by_hour is not None
    assert part.by_hour[0, 7:23].sum() == 0
    assert part.by_hour[0].sum() == pytest.approx(part.per_day[0])
    # and the night is less well known than the day
    assert (
        part.rate_high_per_day[0] / part.rate_low_per_day[0]
        > whole.rate_high_per_day[0] / whole.rate_low_per_day[0]
    )
    assert published(start)[3] < 1
