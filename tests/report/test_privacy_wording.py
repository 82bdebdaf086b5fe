"""Distances, shares and minutes of the review sheet, by hand."""

from math import inf

import pytest

from audiolevel.intervals import Interval
from audiolevel.report.privacy_wording import metres, minutes_a_day, percent, up_to


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.0, "0.1 m"),
        (0.04, "0.1 m"),
        (9.94, "9.9 m"),
        (9.96, "10 m"),
        (23.4, "23 m"),
        (inf, "over 300 m"),
    ],
)
def test_a_distance_is_never_none(value: float, said: str) -> None:
    assert metres(value) == said


def test_what_reaches_beyond_all_claims_is_not_up_to_it() -> None:
    assert (up_to(23.4), up_to(inf)) == ("up to 23 m", "over 300 m")


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.0, "0 %"), (0.004, "0.4 %"), (0.096, "9.6 %"), (0.1, "10 %"), (1.0, "100 %")],
)
def test_small_shares_have_a_decimal(share: float, said: str) -> None:
    assert percent(share) == said


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (Interval(None, 0.0, 0.0), "none"),
        (Interval(None, 0.0, 3.0), "fewer than 3 min a day"),
        (Interval(12.0, 4.0, 30.0), "12 min a day (4 to 30)"),
    ],
)
def test_minutes_stand_with_their_interval(minutes: Interval, said: str) -> None:
    assert minutes_a_day(minutes).replace(".0", "") == said
