"""A day of a log."""

from audiolevel.counting.day_counts import DayCount


def test_a_wet_day_fires_as_a_mean_one_does_at_a_lower_setting() -> None:
    assert DayCount(75.0, 12, 1.0).heard_db == 75.0
    assert DayCount(75.0, 12, 1.0, louder_db=1.5).heard_db == 73.5
