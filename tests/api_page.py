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
beyond the first are given by name. A result has `unit`, that of its levels, `to_object()`,
`to_json()`, `to_text()`, `to_frame()`, `plot(ax)` and `save(folder)`. [From Python](python.md)
goes through it step by step, also with pandas and in a notebook.
"""
TASKS = {
    "Say what was recorded, and where": ("Visit", "Mark", "read_site", "Site"),
    "Measure": (
        "measure",
        "measure_all",
        "measure_folder",
        "Selection",
        "BatchReport",
        "calibrate",
        "Tone",
        "BesideMeter",
        "DataSheet",
        "Filmed",
        "Measurement",
    ),
    "Try": ("Trigger", "trial", "predict", "Trials"),
    "Plan": ("survey", "plan", "Asked", "Survey", "Plan", "review_privacy"),
    "Follow up": ("follow_up", "LogFormat", "FollowUp"),
    "Keep a site's folder": ("new_site", "open_site"),
    "Wanted sounds": ("catalogue", "render_sound"),
    "Errors": ("AudioLevelError", "RecordingError", "SettingError"),
}


def page() -> str:
    """The whole page."""
    names = [name for name in audiolevel.__all__ if name != "__version__"]
    grouped = {name for group in TASKS.values() for name in group}
    tasks = {**TASKS, "Sections of a site": [name for name in names if name not in grouped]}
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
