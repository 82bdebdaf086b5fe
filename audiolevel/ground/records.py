"""Records that are written as JSON and read again by one description.

A record is a frozen dataclass whose fields are made by `key`: what the key means, and how its
numbers are rounded. `to_object` writes it, `from_object` reads it, and its JSON Schema is made of
the same, so the three cannot disagree. What is not known is null, never NaN.
"""

import json
import types
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, field, fields, is_dataclass
from math import inf, isfinite
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from audiolevel.ground.errors import SettingError

Object = dict[str, Any]
Record = TypeVar("Record")


def key(
    about: str,
    *,
    digits: int | None = None,
    figures: int | None = None,
    least: float = 0.0,
    most: float = inf,
    absent: bool = False,
) -> Any:
    """A key of a record.

    Parameters
    ----------
    about : str
        What it means, for the schema.
    digits, figures : int, optional
        Decimals or significant figures that its numbers are rounded to when written.
    least, most : float
        Smaller numbers are written as 0, larger ones as null: such numbers say only that it is
        never, and look as if somebody knew more.
    absent : bool
        Left out where it is None, and None where it is left out.
    """
    meta = {
        "about": about,
        "digits": digits,
        "figures": figures,
        "least": least,
        "most": most,
        "absent": absent,
    }
    # fields with a default come last in a dataclass, so absent keys do too
    return field(default=None, metadata=meta) if absent else field(metadata=meta)


_NOTHING = 1e-12


def number(value: float | None, digits: int = 2) -> float | None:
    """A number for JSON, rounded to decimals; None where there is none."""
    if value is None or not isfinite(value):
        return None
    # never a minus zero: a number that rounds to nothing has no sign
    return round(float(value), digits) + 0.0


def significant(value: float | None, figures: int = 4) -> float | None:
    """A number for JSON, rounded to significant figures; None where there is none."""
    if value is None or not isfinite(value):
        return None
    # what is this small is nothing in any unit that is written
    return float(f"{value:.{figures}g}") if abs(value) > _NOTHING else 0.0


def json_text(value: Object) -> str:
    """An object as the text of a JSON file."""
    # NaN is no JSON, so one that got this far is a fault and not a value
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def to_object(record: Any) -> Object:
    """A record as plain dictionaries, lists and numbers, ready for `json.dumps`."""
    written: Object = {}
    for one in fields(record):
        value = getattr(record, one.name)
        if value is None and one.metadata.get("absent"):
            continue
        written[one.name] = _plain(value, one.metadata)
    return written


def _plain(value: Any, meta: Mapping[str, Any]) -> Any:
    if is_dataclass(value):
        return to_object(value)
    # bool first, since True is an int as well
    if isinstance(value, str | bool | None):
        return value
    if isinstance(value, Mapping):
        return {name: _plain(one, meta) for name, one in value.items()}
    if isinstance(value, Sequence):
        return [_plain(one, meta) for one in value]
    if isinstance(value, int):
        return value
    if value > meta.get("most", inf):
        return None
    if abs(value) < meta.get("least", 0.0):
        return 0.0
    if meta.get("figures"):
        return significant(value, meta["figures"])
    return number(value, meta["digits"]) if meta.get("digits") is not None else float(value)


# --- reading -------------------------------------------------------------------------------------


def from_object(kind: type[Record], value: object, where: str = "") -> Record:
    """A record from what `json.loads` gives; keys that it does not know are passed over.

    Raises
    ------
    SettingError
        A key is missing or holds something else than its kind; the message names the key.
    """
    if not isinstance(value, Mapping):
        raise SettingError(f"{where or 'the object'}: must be an object, not {_named(value)}")
    hints = get_type_hints(kind)
    values: Object = {}
    for one in fields(kind):  # type: ignore[arg-type]  # every record is a dataclass
        place = f"{where}.{one.name}" if where else one.name
        if one.name in value:
            values[one.name] = _read(hints[one.name], value[one.name], place)
        # only keys that may be absent have a default
        elif one.default is MISSING:
            raise SettingError(f"{place}: is missing")
    return kind(**values)


def _read(hint: Any, value: Any, where: str) -> Any:
    origin, choices = get_origin(hint), get_args(hint)
    if origin in (Union, types.UnionType):
        if value is None and types.NoneType in choices:
            return None
        return _read_one_of([one for one in choices if one is not types.NoneType], value, where)
    if origin is tuple:
        return _read_list(choices, value, where)
    if origin is not None and issubclass(origin, Mapping):
        if not isinstance(value, Mapping):
            raise SettingError(f"{where}: must be an object, not {_named(value)}")
        return {name: _read(choices[1], one, f"{where}.{name}") for name, one in value.items()}
    if is_dataclass(hint):
        return from_object(hint, value, where)  # type: ignore[arg-type]
    # JSON may write 3 for 3.0, and Python takes true for 1
    wanted = (int, float) if hint is float else (hint,)
    if not isinstance(value, wanted) or (isinstance(value, bool) and hint is not bool):
        raise SettingError(f"{where}: must be {_JSON_NAMES[hint]}, not {_named(value)}")
    return float(value) if hint is float else value


def _read_one_of(choices: Sequence[Any], value: Any, where: str) -> Any:
    """A value that may be of several kinds: text where it is text, else the first kind."""
    # where nothing fits the first kind is tried, for its error to name what is wanted
    fits = [one for one in choices if isinstance(value, str) == (one is str)] or list(choices)
    return _read(fits[0], value, where)


def _read_list(kinds: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise SettingError(f"{where}: must be a list, not {_named(value)}")
    if kinds[-1] is not Ellipsis and len(value) != len(kinds):
        raise SettingError(f"{where}: needs {len(kinds)} values, not {len(value)}")
    # long rows of numbers are most of a plan: taken at once where nothing in them is amiss
    if kinds[-1] is Ellipsis and {type(one) for one in value} <= _ROWS.get(kinds[0], set()):
        return tuple(float(one) if isinstance(one, int) else one for one in value)
    # tuple[X, ...] is any number of X, tuple[X, Y] just these two
    each = [kinds[0]] * len(value) if kinds[-1] is Ellipsis else kinds
    return tuple(
        _read(kind, one, f"{where}[{i}]")
        for i, (kind, one) in enumerate(zip(each, value, strict=True))
    )


# kinds of a row's values, by what JSON makes of them; True is no number here, as it has a type of
# its own
_ROWS: Mapping[Any, set[type]] = {
    float: {int, float},
    float | None: {int, float, types.NoneType},
}
_JSON_NAMES = {float: "a number", int: "a whole number", str: "text", bool: "true or false"}


def _named(value: object) -> str:
    names = {bool: "true or false", str: "text", list: "a list", dict: "an object"}
    return "null" if value is None else names.get(type(value), "a number")
