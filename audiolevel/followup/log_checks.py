"""Whether logs can have been made as they are said to be: at such a setting, and each time once.

A setting that the plan's curve knows nothing of is a slip of the pen or a number of the camera's
own scale, and a time that is given twice would count twice.

Entry points: `setting_of`, `shown_of`, `refuse_setting`, `refuse_overlap`, `span_of`.
"""

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from math import isfinite

import numpy as np

from audiolevel.followup.event_log import Log
from audiolevel.followup.plan_file import Expectation
from audiolevel.ground.errors import SettingError
from audiolevel.planning.plan_record import CurveRecord

# two of the largest steps that a follow-up makes: farther from the plan's curve nothing is known
_BEYOND_DB = 12.0
# readings this near to each other are the same setting
_ALIKE_DB = 0.5
# times are told and kept in seconds, without all of their fractions
_SAME_S = 1.0


def setting_of(expectation: Expectation, said: float | str) -> float:
    """The setting of a log in the plan's unit, from what somebody typed.

    Parameters
    ----------
    expectation : Expectation
    said : float or str
        A number in the plan's unit; in text also with `dB` behind it.

    Raises
    ------
    SettingError
        It is no number, or one without a unit that may as well be meant on the camera's own scale.
    """
    if not isinstance(said, str):
        return said
    text = said.strip()
    number = text.lower().removesuffix("spl").removesuffix("fs").rstrip().removesuffix("db")
    try:
        at_db = float(number)
    except ValueError:
        raise SettingError(f"setting {text!r}: is no number; write 84 dB, say") from None
    if number != text:
        return at_db
    meant_db = on_scale(expectation.curve, at_db)
    lowest, highest = min(expectation.curve.settings_db), max(expectation.curve.settings_db)
    # a rise of 12 dB is never meant on a scale of levels
    if meant_db is None or not lowest <= at_db <= highest or abs(meant_db - at_db) < _ALIKE_DB:
        return at_db
    unit = expectation.unit
    raise SettingError(
        f"setting {at_db:g}: may be {at_db:g} {unit}, or {at_db:g} on the camera's own scale, "
        f'which is {meant_db:.0f} {unit}; write --setting "{at_db:g} dB", or --shown {at_db:g}'
    )


def on_scale(curve: CurveRecord, shown: float) -> float | None:
    """The level that a number on the camera's own scale means; None where the scale ends before."""
    scale = curve.display_levels
    if not scale or not min(scale) <= shown <= max(scale):
        return None
    return float(np.interp(shown, scale, curve.settings_db))


def shown_of(expectation: Expectation, shown: float) -> float:
    """The setting of a log that was read off the camera's own scale.

    Raises
    ------
    SettingError
        The plan does not know the scale, or not so far.
    """
    scale = expectation.curve.display_levels
    at_db = on_scale(expectation.curve, shown)
    if at_db is not None:
        return at_db
    if not scale:
        raise SettingError(
            "shown: the plan does not know the camera's own scale (audiolevel calibrate); give "
            "the setting in dB"
        )
    raise SettingError(
        f"shown {shown:g}: the plan knows the camera's own scale from {min(scale):g} to "
        f"{max(scale):g}; give the number that was set"
    )


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
