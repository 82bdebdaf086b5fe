"""Active minutes by the clock on the wall, counted by hand."""

from datetime import UTC, datetime, timedelta

import numpy as np

from audiolevel.counting.schedule import read_schedule, zone_named
from audiolevel.followup.active_time import active_minutes


def _seconds(*when, zone=UTC):
    return datetime(*when).replace(tzinfo=zone).timestamp()


def test_summer_time_skips_an_hour_and_repeats_one():
    # Directive 2000/84/EC: summer time begins and ends at 01:00 UTC on the last Sundays of March
    # and October, so the 31st of March 2024 has 23 hours and the 27th of October 25 in CET
    cet = zone_named("CET")
    for day, hours, twice in ((datetime(2024, 3, 31), 23, None), (datetime(2024, 10, 27), 25, 2)):
        begin = day.replace(tzinfo=cet).timestamp()
        end = (day + timedelta(days=1)).replace(tzinfo=cet).timestamp()
        minutes = active_minutes(read_schedule([]), begin, end, cet)
        assert minutes.active_s.sum() == hours * 3600
        by_hour = np.bincount(minutes.hour, minutes.active_s, 24) / 3600
        assert set(minutes.weekday.tolist()) == {6}
        if twice is None:
            assert by_hour[2] == 0
        else:
            assert by_hour[twice] == 2


def test_active_windows_follow_the_clock_on_the_wall():
    # the night of the skipped hour is an hour short
    cet = zone_named("CET")
    begin, end = _seconds(2024, 3, 30, 12, zone=cet), _seconds(2024, 3, 31, 12, zone=cet)
    minutes = active_minutes(read_schedule(["22:00-06:00"]), begin, end, cet)
    assert minutes.active_s.sum() == 7 * 3600


def test_a_stretch_within_minutes():
    begin = _seconds(2024, 6, 3, 10, 0, 30)  # a Monday
    minutes = active_minutes(read_schedule(["mon 10:01-10:02"]), begin, begin + 45)
    assert minutes.active_s.tolist() == [0, 15]
    assert minutes.weekday.tolist() == [0, 0]
