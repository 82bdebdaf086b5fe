"""The names of the Python API, a line each, by what they are for: `python -m tests.api_page`.

Parameters, errors and examples are in the docstrings; the site sets them below this list.
"""

import inspect
from pathlib import Path

import audiolevel

PAGE = Path(__file__).parents[1] / "docs" / "api.md"
HEAD = """# The Python API

Every name of `audiolevel`, a line each (`python -m tests.api_page` makes the list).
`help(al.plan)` prints all parameters, and so does the [built site](index.md). All parameters
beyond the first are given by name. A result has `to_object()`, `to_json()`, `to_text()` and
`save(folder)`. Errors are `AudioLevelError`, a `ValueError`. [From Python](python.md) goes
through it step by step, also with pandas and in a notebook.
"""
TASKS = {
    "A site's folder": ("new_site", "open_site", "open_sites", "site_questions", "read_site"),
    "Measure": ("measure", "measure_all", "measure_folder", "calibrate", "length_s"),
    "Plan": ("trial", "predict", "plan", "review_privacy", "follow_up"),
    "Sounds": ("catalogue", "render_sound", "render_gain_test"),
    "For programs": ("outputs", "place_s", "plain", "hint"),
}


def page() -> str:
    """The whole page."""
    names = [name for name in audiolevel.__all__ if name != "__version__"]
    grouped = {name for group in TASKS.values() for name in group}
    tasks = {**TASKS, "Records and results": [name for name in names if name not in grouped]}
    lines = [HEAD]
    for task, group in tasks.items():
        lines += [f"## {task}", ""]
        lines += [f"- `{name}`: {_first_line(name)}" for name in group]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _first_line(name: str) -> str:
    docstring = inspect.getdoc(getattr(audiolevel, name)) or ""
    return " ".join(docstring.split("\n\n")[0].split())


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
