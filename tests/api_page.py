"""The reference of the Python API, made of its docstrings: `python -m tests.api_page`."""

import inspect
import re
from pathlib import Path
from typing import Any

import audiolevel

PAGE = Path(__file__).parents[1] / "docs" / "api.md"
HEAD = """# The Python API

Made of the docstrings by `python -m tests.api_page`; their examples run as tests. Everything is a
name of `audiolevel`; all parameters beyond the first are given by name. A result has `to_object()`,
`to_json()`, `to_text()` and `save(folder)`; errors are `AudioLevelError` (a `ValueError`) with one
line that names the file or value and says what to do.

```python
import audiolevel as al

measured = al.measure("street.wav", site="site.toml")
trigger = al.Trigger.threshold(level_db=84)
measured.firings(trigger)  # seconds
al.predict(measured, trigger)  # per hour and per day, with intervals
plan = al.plan(["a.wav", "b.wav"], site="site.toml")
plan.recommended, plan.to_json()
al.follow_up(plan, "log.csv")
```
"""


def _signature(thing: Any) -> str:
    try:
        text = str(inspect.signature(thing))
    except (TypeError, ValueError):
        return ""
    # paths of modules and quotes of annotations tell a reader nothing
    for part in ("audiolevel.api.results.", "audiolevel.api.planning.", "collections.abc."):
        text = text.replace(part, "")
    text = re.sub(r"<function (\w+) at 0x[0-9a-f]+>", r"\1", text)
    return text.replace("'", "").replace("pathlib.", "").replace("datetime.datetime", "datetime")


def _entry(name: str, thing: Any, mark: str) -> list[str]:
    signature = "" if inspect.isclass(thing) else _signature(thing)
    docstring = inspect.getdoc(thing) or ""
    code, told = f"```python\n{name}{signature}\n```", f"```text\n{docstring}\n```"
    return [f"{mark} `{name}`", "", code, "", told, ""]


def page() -> str:
    """The whole page."""
    names = [name for name in audiolevel.__all__ if name != "__version__"]
    functions = [name for name in names if not inspect.isclass(getattr(audiolevel, name))]
    classes = [name for name in names if name not in functions]
    lines = [HEAD, "## Functions", ""]
    for name in functions:
        lines += _entry(name, getattr(audiolevel, name), "###")
    lines += ["## Records and results", ""]
    for name in classes:
        kind = getattr(audiolevel, name)
        lines += _entry(name, kind, "###")
        for member, value in vars(kind).items():
            if member.startswith("_") or not inspect.getdoc(value):
                continue
            if inspect.isfunction(value) or isinstance(value, classmethod):
                lines += _entry(f"{name}.{member}", getattr(kind, member), "####")
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
