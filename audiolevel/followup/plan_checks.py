"""Whether the numbers of a plan that was read can be those of a plan.

The form of the file is checked as it is read (`records.from_object`); here it is what the numbers
mean: a rate that is none, hours of no day, a curve without settings. A plan that was edited by hand
or damaged must not be followed up as if it were one.

Entry point: `check_plan`.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import fields
from typing import Any

from audiolevel.counting.schedule import zone_named
from audiolevel.ground.errors import SettingError
from audiolevel.planning.plan_record import CurveRecord, ExpectedRecord, OptionRecord, PlanRecord

_HOURS = 24


def check_plan(plan: PlanRecord) -> None:
    """Refuse a plan whose numbers cannot be meant.

    Raises
    ------
    SettingError
        The key, and what it must be.
    """
    for key, must in _faults(plan):
        raise SettingError(f"{key}: must be {must}; plan again")
    # names the key itself
    zone_named(plan.schedule.zone)


def _faults(plan: PlanRecord) -> Iterator[tuple[str, str]]:
    if plan.false_triggers_per_day_limit <= 0:
        yield "false_triggers_per_day_limit", "above 0"
    if plan.recommended is not None:
        yield from _of_option(plan.recommended, "recommended")
    if plan.followed is not None:
        yield from _of_option(plan.followed.planned, "followed.planned")
        for i, (_, count, days) in enumerate(plan.followed.days):
            if count < 0 or days < 0:
                yield f"followed.days[{i}]", "a count and days of 0 or more"
    for i, curve in enumerate(plan.curves):
        yield from _of_curve(curve, f"curves[{i}]")


def _of_option(option: OptionRecord, key: str) -> Iterator[tuple[str, str]]:
    for name in ("hold_s", "rearm_s", "release_db"):
        if getattr(option, name) < 0:
            yield f"{key}.{name}", "0 or more"
    yield from _of_expected(option.expected, f"{key}.expected")


def _of_expected(expected: ExpectedRecord, key: str) -> Iterator[tuple[str, str]]:
    if not 0.5 < expected.confidence < 1:
        yield f"{key}.confidence", "above 0.5 and below 1"
    if expected.seen < 0 or (expected.per_day or 0.0) < 0:
        yield f"{key}.seen and per_day", "0 or more"
    for name in ("by_hour", "by_hour_low", "by_hour_high"):
        hours = getattr(expected, name)
        if hours is None:
            continue
        if len(hours) != _HOURS or min((one for one in hours if one is not None), default=0.0) < 0:
            yield f"{key}.{name}", f"{_HOURS} rates of 0 or more"
    if not all(0 <= hour < _HOURS for hour in expected.hours_not_heard or ()):
        yield f"{key}.hours_not_heard", "hours of the day"
    quantiles = expected.rate_quantiles
    rates = [one for one in quantiles.per_day if one is not None]
    rising = all(a < b for a, b in zip(quantiles.shares, quantiles.shares[1:], strict=False))
    within = all(0 < one < 1 for one in quantiles.shares)
    if not (rising and within and len(quantiles.shares) == len(quantiles.per_day) >= 2):
        yield f"{key}.rate_quantiles", "a rate for each of two or more rising shares"
    if len(rates) < len(quantiles.per_day) or min(rates, default=-1.0) < 0:
        yield f"{key}.rate_quantiles.per_day", "rates of 0 or more"


def _of_curve(curve: CurveRecord, key: str) -> Iterator[tuple[str, str]]:
    settings = curve.settings_db
    if not settings or any(a >= b for a, b in itertools.pairwise(settings)):
        yield f"{key}.settings_db", "one or more settings, rising"
    rows: list[tuple[str, Any]] = [(key, curve)]
    rows += [(f"{key}.detection[{i}]", one) for i, one in enumerate(curve.detection or ())]
    rows += [(f"{key}.storage", curve.storage)] if curve.storage else []
    for where, record in rows:
        for name, values in _lists(record):
            if len(values) != len(settings):
                yield f"{where}.{name}", "as many as settings_db"


def _lists(record: Any) -> Iterator[tuple[str, Sequence[Any]]]:
    """The fields of a record that hold one value a setting: numbers and words, not records."""
    for name in (one.name for one in fields(record) if one.name != "detection"):
        values = getattr(record, name)
        if isinstance(values, tuple):
            yield name, values
