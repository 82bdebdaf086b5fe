"""The JSON of a plan against its schema, and read again."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from audiolevel.cli import main
from audiolevel.ground.errors import SettingError
from audiolevel.ground.records import to_object
from audiolevel.planning.plan_record import SCHEMA, plan_of_object
from tests.plan_schema import PAGE, plan_schema


@pytest.fixture(scope="module")
def written() -> dict[str, Any]:
    folder = Path(__file__).parents[2] / "sample_audio"
    arguments = ["plan", str(folder / "bridge_approach.ogg"), "--json", "-"]
    arguments += ["--site", str(folder / "site.toml"), "--start", "2024-06-04T10:00"]
    # half of it holds marks, several gains and both prongs of a choice
    arguments += ["--marks", str(folder / "wanted.csv"), "--to", "10:00"]
    run = CliRunner().invoke(main, [*arguments, "--level", "84", "--gain", "mid"])
    assert run.exit_code == 0, run.output
    value: dict[str, Any] = json.loads(run.stdout)
    return value


def test_the_documented_schema_is_that_of_the_program() -> None:
    assert json.loads(PAGE.read_text(encoding="utf-8")) == plan_schema()


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(plan_schema())


def test_a_plan_fits_its_schema(written: dict[str, Any]) -> None:
    jsonschema.validate(written, plan_schema())
    assert written["case"] == "limit only"
    assert written["alternatives"]
    assert written["asked"]["level_db"] == 84.0


@pytest.mark.parametrize("key", ["recommended", "curves", "schedule", "limit"])
def test_the_schema_refuses_a_plan_that_lacks_a_key(written: dict[str, Any], key: str) -> None:
    key = "false_triggers_per_day_limit" if key == "limit" else key
    without = {name: value for name, value in written.items() if name != key}
    with pytest.raises(jsonschema.ValidationError, match=key):
        jsonschema.validate(without, plan_schema())


def test_what_is_read_is_what_was_written(written: dict[str, Any]) -> None:
    # the command that wrote it is the mark of every report, not a key of the plan
    plan = {name: value for name, value in written.items() if name != "command"}
    assert to_object(plan_of_object(written)) == plan


@pytest.mark.parametrize("schema", [None, 1, SCHEMA + 1])
def test_a_plan_of_another_version_is_refused(written: dict[str, Any], schema: int | None) -> None:
    other = {**written, "schema": schema}
    if schema is None:
        del other["schema"]
    with pytest.raises(SettingError, match="plan again"):
        plan_of_object(other)


def test_a_wrong_value_is_named_with_its_place(written: dict[str, Any]) -> None:
    broken = json.loads(json.dumps(written))
    broken["options"][0]["expected"]["seen"] = "three"
    with pytest.raises(SettingError, match=r"options\[0\].expected.seen: must be a whole number"):
        plan_of_object(broken)


def test_what_is_no_plan_is_refused() -> None:
    for value in ([], {}, {"recordings": []}, None):
        with pytest.raises(SettingError, match="is not a plan"):
            plan_of_object(value)


def _numbers(value: Any, name: str = "") -> Iterator[tuple[str, float]]:
    """Every number of an object with the name of its key."""
    if isinstance(value, dict):
        for key, one in value.items():
            yield from _numbers(one, key)
    elif isinstance(value, list):
        for one in value:
            yield from _numbers(one, name)
    elif isinstance(value, float):
        yield name, value


def test_no_number_is_the_formula_s_alone(written: dict[str, Any]) -> None:
    # far above all that was heard a lower limit was 1e-299 a day, and a card lasted 1e302 days
    numbers = list(_numbers(written))
    assert not [(name, one) for name, one in numbers if 0 < abs(one) < 1e-10]
    assert not [(name, one) for name, one in numbers if abs(one) > 1e6]
    lowest = [one for name, one in numbers if name == "rate_low_per_day"]
    assert min(lowest) == 0.0
    assert min(one for one in lowest if one) >= 2.7e-6
    storage = [curve["storage"] for curve in written["curves"]]
    assert None in [one for card in storage for one in card["high_days"]]
