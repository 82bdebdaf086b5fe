"""Times of logs, in zones and through changes of the clock."""

from datetime import UTC, datetime
from typing import Any

import pytest

from audiolevel.counting.schedule import zone_named
from audiolevel.followup.timestamps import seconds_of
from audiolevel.report.words.cautions import notice_text
from tests.followup.log_times import TWO, codes, seconds


def test_local_times_follow_the_zone(read: Any) -> None:
    log = read("time\n2024-06-04T12:00:05\n2024-06-04T13:30:00\n", zone=zone_named("CET"))
    assert log.fired_s.tolist() == TWO


def test_the_repeated_hour_is_told_by_order(read: Any) -> None:
    # 2024-10-27 in CET: 02:30 comes twice, at 00:30 and 01:30 UTC
    log = read(
        "time\n2024-10-27T02:30\n2024-10-27T02:50\n2024-10-27T02:10\n2024-10-27T03:30\n",
        zone=zone_named("CET"),
    )
    hours = (log.fired_s - seconds(2024, 10, 27)) / 3600
    assert hours == pytest.approx([0.5, 0.8333, 1.1667, 2.5], abs=1e-3)
    assert "clock change" in codes(log)


def test_the_skipped_hour_is_told(read: Any) -> None:
    log = read("time\n2024-03-31T01:30\n2024-03-31T02:30\n", zone=zone_named("CET"))
    assert any("is the camera's clock changed" in notice_text(caution) for caution in log.notices)


def test_times_in_utc_ask_for_the_zone(read: Any) -> None:
    log = read("time\n2024-06-04T10:00:05Z\n2024-06-04T11:30:00Z\n")
    assert codes(log) == ["zone"]
    assert log.fired_s.tolist() == TWO


def test_an_offset_that_changes_asks_for_the_zone() -> None:
    moments = [datetime.fromisoformat(f"2024-06-04T10:00+0{hours}:00") for hours in (1, 2)]
    zone, utc_s, notices = seconds_of(moments, None)
    assert zone == moments[0].tzinfo
    assert utc_s.tolist() == [seconds(2024, 6, 4, 9), seconds(2024, 6, 4, 8)]
    assert [(one.code, one.cause) for one in notices] == [("zone", "offset changes")]
    assert seconds_of(moments, UTC)[2] == ()
