"""A result without what tells who was heard when: names of files, moments, hours of the day.

Entry point: `redacted`.
"""

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from audiolevel.ground.notices import Notice
from audiolevel.metering.measurement import Measurement
from audiolevel.site.sections import Wanted

Told = TypeVar("Told")
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\d[T ]?)?\b\d\d?:\d\d(:\d\d)?\b|\d{4}-\d\d-\d\d")


def redacted(result: Told) -> Told:
    """The same result, made of recordings that have a number in place of a name and a start.

    What is computed stays as it was computed.
    """
    made: Told = _Redaction().of(result)
    return made


class _Redaction:
    """One walk through the records of a result, each of them once."""

    def __init__(self) -> None:
        self._names: dict[str, str] = {}
        self._recordings = self._sounds = 0
        # the record itself is held too, so that its id stays its own
        self._done: dict[int, tuple[Any, Any]] = {}

    def of(self, value: Any) -> Any:
        if isinstance(value, str):
            return self._names.get(value, value)
        if isinstance(value, Path):
            return Path(self._names.get(value.name, value))
        if isinstance(value, Mapping):
            return {self.of(key): self.of(one) for key, one in value.items()}
        if type(value) in (list, tuple):
            kept = (one for one in value if not _tells_a_start(one))
            return type(value)(self.of(one) for one in kept)
        if not is_dataclass(value) or isinstance(value, type):
            return value
        if id(value) not in self._done:
            self._done[id(value)] = value, self._record(value)
        return self._done[id(value)][1]

    def _record(self, value: Any) -> Any:
        if isinstance(value, Measurement):
            self._recordings += 1
            name = f"recording {self._recordings}"
            for known in (value.path.name, value.path.stem):
                self._names.setdefault(known, name)
            return replace(value, path=Path(name), start=None, recording=None)
        if isinstance(value, Wanted) and value.file:
            self._sounds += 1
            name = f"own sound {self._sounds}"
            self._names |= {value.file: name, Path(value.file).stem: name}
        found = {one.name: getattr(value, one.name) for one in fields(value) if one.init}
        new = {name: self.of(one) for name, one in found.items()}
        if isinstance(value, Notice):
            new["facts"] = {key: _timeless(one) for key, one in new["facts"].items()}
        changed = {name: one for name, one in new.items() if one is not found[name]}
        return replace(value, **changed) if changed else value


def _timeless(fact: Any) -> Any:
    return _MOMENT.sub("…", fact) if isinstance(fact, str) else fact


def _tells_a_start(value: Any) -> bool:
    return isinstance(value, Notice) and value.code == "start found"
