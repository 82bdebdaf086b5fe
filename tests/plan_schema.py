"""The JSON Schema of a plan, written beside the documentation: `python -m tests.plan_schema`."""

import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Union, get_args, get_origin, get_type_hints

from audiolevel.ground.records import Object, json_text
from audiolevel.planning.plan_record import PlanRecord

PAGE = Path(__file__).parents[1] / "docs" / "plan.schema.json"


def plan_schema() -> Object:
    """The JSON Schema of a plan."""
    return json_schema(PlanRecord, "Plan of a camera's microphone gain and sound trigger")


def json_schema(kind: type[Any], title: str) -> Object:
    """The JSON Schema (draft 2020-12) of a record and all that it holds."""
    definitions: Object = {}
    schema = _schema_of_record(kind, definitions)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        **schema,
        "$defs": dict(sorted(definitions.items())),
    }


def _schema_of_record(kind: type[Any], definitions: Object) -> Object:
    hints = get_type_hints(kind)
    properties = {
        one.name: {
            "description": one.metadata["about"],
            **_schema(hints[one.name], definitions, never_null=one.metadata["absent"]),
        }
        for one in fields(kind)
    }
    required = [one.name for one in fields(kind) if not one.metadata["absent"]]
    about = " ".join((kind.__doc__ or "").split())
    return {
        "description": about,
        "type": "object",
        "properties": properties,
        "required": required,
    }


def _schema(hint: Any, definitions: Object, *, never_null: bool = False) -> Object:
    origin, choices = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        kinds = [one for one in choices if not (never_null and one is types.NoneType)]
        some = [_schema(one, definitions) for one in kinds]
        return some[0] if len(some) == 1 else {"anyOf": some}
    if hint is types.NoneType:
        return {"type": "null"}
    if origin is tuple and choices[-1] is Ellipsis:
        return {"type": "array", "items": _schema(choices[0], definitions)}
    if origin is tuple:
        return {
            "type": "array",
            "prefixItems": [_schema(one, definitions) for one in choices],
            "minItems": len(choices),
            "maxItems": len(choices),
        }
    if origin is not None and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": _schema(choices[1], definitions)}
    if is_dataclass(hint):
        name = hint.__name__
        if name not in definitions:
            # claimed before it is made, so that a record which holds itself comes to an end
            definitions[name] = {}
            definitions[name] = _schema_of_record(hint, definitions)  # type: ignore[arg-type]
        return {"$ref": f"#/$defs/{name}"}
    return {"type": {float: "number", int: "integer", str: "string", bool: "boolean"}[hint]}


if __name__ == "__main__":
    PAGE.write_text(json_text(plan_schema()), encoding="utf-8")
