"""Whether logs can have been made as they are said to be: at such a setting, and each time once.

A setting that the plan's curve knows nothing of is a slip of the pen or a number of the camera's
own scale, and a time that is given twice would count twice.

Entry points: `refuse_setting`, `refuse_overlap`, `span_of`.
"""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from math import isfinite

from audiolevel.errors import SettingError
from audiolevel.followup.event_log import Log
from audiolevel.followup.plan_file import Expectation

# two of the largest steps that a follow-up makes: farther from the plan's curve nothing is known
_BEYOND_DB = 12.0
# times are told and kept in seconds, without all of their fractions
_SAME_S = 1.0


def refuse_setting(expectation: Expectation, at_db: float) -> None:
    """Refuse a setting at which no log of this plan can have been made.

    Raises
    ------
    SettingError
        It is not a number, or lies more than 12 dB beyond the plan's curve.
    """
    lowest, highest = min(expectation.curve.settings_db), max(expectation.curve.settings_db)
    if isfinite(at_db) and lowest - _BEYOND_DB <= at_db <= highest + _BEYOND_DB:
        return
    said = f"setting {at_db:g}: the plan's curve goes from {lowest:g} to {highest:g} "
    said += f"{expectation.unit}; give the setting of the log in that unit"
    shown, unit = expectation.option.display_level, expectation.unit
    if shown is not None:
        said += f" (the plan's is {expectation.set_db:g} {unit}, {shown:g} on the camera's scale)"
    raise SettingError(said)


def span_of(log: Log) -> tuple[float, float]:
    """First and last second that a log covers, since 1970 (UTC), whatever gaps it has."""
    return log.covered[0][0], log.covered[-1][1]


def refuse_overlap(logs: Sequence[Log], counted: Iterable[tuple[float, float]] = ()) -> None:
    """Refuse logs that cover a time twice.

    Parameters
    ----------
    logs : sequence of Log
    counted : iterable of (float, float)
        Times that were followed up before, seconds since 1970 (UTC).

    Raises
    ------
    SettingError
        The log, and from when on it would be a new one.
    """
    spans = [(*span, "the plan") for span in counted]
    for log in logs:
        begin, end = span_of(log)
        for first, last, by in spans:
            if min(end, last) - max(begin, first) > _SAME_S:
                new = datetime.fromtimestamp(last, UTC).astimezone(log.zone)
                raise SettingError(
                    f"{log.name}: part of its time is counted in {by} already; give each time "
                    f"once, this log with --from {new:%Y-%m-%dT%H:%M:%S}"
                )
        spans.append((begin, end, log.name))
