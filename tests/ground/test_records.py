"""Records are written, read and documented alike: round trip, rounding, refusals, schema."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf, nan
from typing import Any

import jsonschema
import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.ground.records import (
    from_object,
    json_text,
    key,
    number,
    significant,
    to_object,
)
from tests.plan_schema import json_schema


@dataclass(frozen=True)
class _Point:
    """A level at a moment."""

    at_s: float = key("seconds", digits=1)
    level_db: float | None = key("level", digits=2)


@dataclass(frozen=True)
class _Visit:
    """A visit to
    a site."""

    name: str = key("of the place")
    count: int = key("firings")
    share: float = key("clipped", figures=3)
    wet: bool = key("the road")
    points: tuple[_Point, ...] = key("levels")
    limits: tuple[float, float] = key("low and high", digits=1)
    by_channel: Mapping[str, float] = key("levels by channel", digits=1)
    setting: float | str = key("of the gain", digits=1)
    note: str | None = key("what was seen", absent=True)


VISIT = _Visit(
    name="Quarry Lane",
    count=12,
    share=0.00123456,
    wet=False,
    points=(_Point(0.25, -31.234), _Point(1.0, None)),
    limits=(-20.04, 3.06),
    by_channel={"1": -40.06},
    setting="mid",
)
WRITTEN: dict[str, Any] = {
    "name": "Quarry Lane",
    "count": 12,
    "share": 0.00123,
    "wet": False,
    "points": [{"at_s": 0.2, "level_db": -31.23}, {"at_s": 1.0, "level_db": None}],
    "limits": [-20.0, 3.1],
    "by_channel": {"1": -40.1},
    "setting": "mid",
}


def test_numbers_are_rounded_and_what_is_not_known_is_null() -> None:
    assert to_object(VISIT) == WRITTEN
    for unknown in (nan, inf, -inf, None):
        assert number(unknown) is None
        assert significant(unknown) is None
    assert number(-0.125, 1) == -0.1
    # nothing has no sign
    assert str(number(-0.004)) == "0.0"
    assert significant(123456.0, 2) == 120000.0
    # JSON knows no NaN (RFC 8259, section 6)
    with pytest.raises(ValueError, match="JSON"):
        json_text({"level_db": nan})


@pytest.mark.parametrize("setting", ["mid", 2.5])
@pytest.mark.parametrize("note", [None, "rain"])
def test_what_is_read_is_what_was_written(setting: float | str, note: str | None) -> None:
    written = to_object(replace(VISIT, setting=setting, note=note))
    assert ("note" in written) is (note is not None)
    read = from_object(_Visit, json.loads(json_text(written)))
    assert read.setting == setting
    assert read.note == note
    assert to_object(read) == written


def test_keys_of_a_later_version_are_passed_over() -> None:
    assert from_object(_Visit, {**WRITTEN, "colour": "red"}) == from_object(_Visit, WRITTEN)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"count": 1.5}, "visit.count: must be a whole number, not a number"),
        ({"count": True}, "visit.count: must be a whole number, not true or false"),
        ({"share": "some"}, "visit.share: must be a number, not text"),
        ({"share": None}, "visit.share: must be a number, not null"),
        ({"wet": 1}, "visit.wet: must be true or false, not a number"),
        ({"points": {}}, "visit.points: must be a list, not an object"),
        ({"points": [{"at_s": 1}]}, r"visit.points\[0\].level_db: is missing"),
        ({"limits": [1, 2, 3]}, "visit.limits: needs 2 values, not 3"),
        ({"by_channel": {"1": []}}, "visit.by_channel.1: must be a number, not a list"),
    ],
)
def test_a_wrong_value_is_named_with_its_place(change: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingError, match=words):
        from_object(_Visit, {**WRITTEN, **change}, "visit")
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**WRITTEN, **change}, json_schema(_Visit, "Visit"))


def test_the_schema_is_one_and_takes_what_is_written() -> None:
    schema = json_schema(_Visit, "Visit")
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(WRITTEN, schema)
    assert schema["description"] == "A visit to a site."
    assert schema["properties"]["share"]["description"] == "clipped"
    assert "note" not in schema["required"]
    assert set(schema["$defs"]) == {"_Point"}
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**WRITTEN, "note": None}, schema)  # left out, never null


@dataclass(frozen=True)
class _Rate:
    """A rate and what it makes of a card."""

    a_day: tuple[float | None, ...] = key("firings", figures=3, least=1e-3)
    days: float | None = key("of the card", figures=3, most=1e6)


def test_numbers_too_small_or_too_large_to_mean_anything() -> None:
    written = to_object(_Rate((2.678e-299, 9.99e-4, 1.001e-3, 0.0, nan), 1.9e302))
    assert written == {"a_day": [0.0, 0.0, 0.001, 0.0, None], "days": None}
    assert to_object(_Rate((), 1e6))["days"] == 1e6
    assert to_object(_Rate((), nan))["days"] is None
