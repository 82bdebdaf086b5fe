"""Times that logs of the tests tell, and the codes of their notices."""

from datetime import UTC, datetime

from audiolevel.followup.event_log import Log


def seconds(
    year: int, month: int, day: int, hour: int = 0, minute: int = 0, second: int = 0
) -> float:
    return datetime(year, month, day, hour, minute, second, tzinfo=UTC).timestamp()


def codes(log: Log) -> list[str]:
    return [caution.code for caution in log.notices]


TWO = [seconds(2024, 6, 4, 10, 0, 5), seconds(2024, 6, 4, 11, 30)]
