"""Settings of another scale and times given twice are refused, what follows on is not."""

from dataclasses import replace
from datetime import timedelta, timezone

import pytest

from audiolevel.followup.log_checks import refuse_overlap, refuse_setting, span_of
from audiolevel.followup.plan_file import expectation_of
from audiolevel.ground.errors import SettingError
from tests.followup.made_log import MONDAY, log_of, plan_of

DAY_S = 86400


def test_a_setting_lies_near_the_plans_curve() -> None:
    expectation = expectation_of(plan_of())
    lowest, highest = min(expectation.curve.settings_db), max(expectation.curve.settings_db)
    for at_db in (lowest - 12, lowest, 75.0, highest + 12):
        refuse_setting(expectation, at_db)
    for at_db in (lowest - 12.1, highest + 12.1, float("nan"), float("-inf")):
        with pytest.raises(SettingError, match="give the setting of the log in that unit"):
            refuse_setting(expectation, at_db)


def test_the_cameras_own_number_is_told_from_the_level() -> None:
    # the made plan sets 75 dB, which its camera shows as 50
    with pytest.raises(SettingError, match=r"the plan's is 75 .*, 50 on the camera's scale"):
        refuse_setting(expectation_of(plan_of()), 5.0)


def test_logs_that_follow_each_other_overlap_nowhere() -> None:
    monday = log_of([], 1.0)
    tuesday = replace(monday, name="b", covered=((MONDAY + DAY_S, MONDAY + 2 * DAY_S),))
    assert span_of(tuesday) == (MONDAY + DAY_S, MONDAY + 2 * DAY_S)
    refuse_overlap([monday, tuesday])
    # to the second, as the next log's --from is told
    close = replace(tuesday, covered=((MONDAY + DAY_S - 0.9, MONDAY + 2 * DAY_S),))
    refuse_overlap([monday, close])
    # in any order, and after a week that was counted before
    refuse_overlap([tuesday, monday], [(MONDAY - 7 * DAY_S, MONDAY)])


def test_a_time_given_twice_is_refused_by_the_clock_on_the_wall() -> None:
    cet = timezone(timedelta(hours=1))
    late = replace(
        log_of([], 1.0), name="b", zone=cet, covered=((MONDAY + DAY_S / 2, MONDAY + 2 * DAY_S),)
    )
    # the first ends at midnight UTC, which is one o'clock there
    with pytest.raises(SettingError, match=r"b: .* in log\.csv already.*--from 2024-06-04T01:00"):
        refuse_overlap([log_of([], 1.0), late])
    with pytest.raises(SettingError, match="in the plan already"):
        refuse_overlap([late], [(MONDAY, MONDAY + DAY_S)])
