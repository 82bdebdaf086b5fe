"""Rooms and doors: who may import what."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import audiolevel
from tests.house import parameters

PACKAGE = Path(__file__).parents[1] / "audiolevel"
MODULES = sorted(PACKAGE.rglob("*.py"))


def _imports(path: Path) -> set[str]:
    """Every module named in an import, wherever in the file it stands."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def _room(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@pytest.mark.parametrize(
    ("library", "rooms"),
    [("matplotlib", {"report"}), ("click", {"cli"}), ("soundfile", {"metering", "sounds"})],
)
def test_a_library_stays_in_its_room(library: str, rooms: set[str]) -> None:
    users = {
        _room(path)
        for path in MODULES
        if any(name.split(".")[0] == library for name in _imports(path))
    }
    assert users
    assert users <= rooms


# from the ground up: a room may import those of the rows before its own, and nothing beside it
FLOORS = (
    {"ground", "version"},
    {"metering"},
    {"triggers"},
    {"counting", "sounds"},
    {"site"},
    {"planning"},
    {"privacy", "followup", "batch", "folder"},
    {"report"},
    {"api"},
    {"__init__"},
    {"cli"},
    {"__main__"},
)


def test_the_command_line_is_written_on_the_api_alone() -> None:
    inner = {
        (path.name, name)
        for path in MODULES
        if _room(path) == "cli"
        for name in _imports(path)
        if name.startswith("audiolevel.") and not name.startswith("audiolevel.cli")
    }
    # and what it writes names, places and errors with
    face = ("audiolevel.api", "audiolevel.ground.names", "audiolevel.metering.parts")
    own = {f"audiolevel.{name}" for name in audiolevel.__all__}
    assert {name for _, name in inner if not name.startswith(face) and name not in own} == set()


def test_every_room_stands_on_a_floor() -> None:
    assert {_room(path) for path in MODULES} == set.union(*FLOORS)


def test_rooms_import_only_from_the_floors_below() -> None:
    floor = {room: i for i, rooms in enumerate(FLOORS) for room in rooms}
    upward = set()
    for path in MODULES:
        here = _room(path)
        for name in _imports(path):
            parts = name.split(".")
            if parts[0] == "audiolevel" and len(parts) > 1 and parts[1] in floor:
                there = parts[1]
                if there != here and floor[there] >= floor[here] and floor[here] > 0:
                    upward.add((str(path.relative_to(PACKAGE)), name))
    assert upward == set()


def test_imports_make_no_circle() -> None:
    graph = {}
    for path in MODULES:
        name = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts)
        graph[name.removesuffix(".__init__")] = _imports(path)
    done: set[str] = set()

    def visit(name: str, path: tuple[str, ...]) -> None:
        assert name not in path, " → ".join([*path, name])
        if name not in done:
            for other in sorted(graph[name] & graph.keys()):
                if other != name and not name.startswith(other + "."):
                    visit(other, (*path, name))
            done.add(name)

    for name in graph:
        visit(name, ())


COMMANDS = {path.parent.name for path in (PACKAGE / "report").glob("*/document.py")}


def test_what_all_reports_share_knows_none_of_them() -> None:
    assert len(COMMANDS) == 9
    shared = [one for one in MODULES if _room(one) == "report" and one.parent.name not in COMMANDS]
    of_one = {
        (path.name, name)
        for path in shared
        for name in _imports(path)
        if name.startswith("audiolevel.report.") and name.split(".")[2] in COMMANDS
    }
    assert of_one == set()


def test_words_know_no_rendering() -> None:
    for path in (PACKAGE / "report" / "words").glob("*.py"):
        own = {name for name in _imports(path) if name.startswith("audiolevel.report.")}
        assert {name for name in own if not name.startswith("audiolevel.report.words")} == set()


def test_a_function_takes_eight_values_at_most() -> None:
    """More is a value without a name; a command takes its options, one by one."""
    wide = {
        f"{path.relative_to(PACKAGE)}:{node.name}"
        for path in MODULES
        if _room(path) != "cli"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and parameters(node) > 8
    }
    assert wide == set()


def test_an_option_is_written_once() -> None:
    """An option that two commands have is one decorator in `options`, so it reads alike in both."""
    places: dict[str, list[str]] = {}
    for path in sorted((PACKAGE / "cli").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "click.option":
                flag = ast.literal_eval(node.args[0])
                places.setdefault(flag, []).append(path.name)
    assert places["--site"] == ["options.py"]
    assert places.pop("--out") == [
        "batch.py",
        "options.py",
    ]  # a batch cannot do without, and resumes
    # of a camera's log they mean something else: moments, and the columns of events
    for flag in ("--from", "--to", "--time-column"):
        assert sorted(places.pop(flag)) == ["followup.py", "options.py"]
    # of one setting, or once for each log
    assert sorted(places.pop("--shown")) == ["followup.py", "plan.py"]
    assert {flag: names for flag, names in places.items() if len(names) > 1} == {}


def _printed_by(code: str) -> str:
    """What a fresh interpreter prints, in which nothing has been loaded yet."""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return run.stdout.strip()


def test_words_need_no_picture_library() -> None:
    """Workers of a batch and a command without `--out` draw nothing."""
    code = (
        "import sys; from importlib import import_module; "
        f"[import_module(f'audiolevel.report.{{one}}.document') for one in {sorted(COMMANDS)}]; "
        "print('matplotlib' in sys.modules)"
    )
    assert _printed_by(code) == "False"


def test_help_needs_no_heavy_library() -> None:
    code = (
        "import sys, audiolevel.cli; "
        "print([m for m in ('scipy', 'matplotlib', 'soundfile') if m in sys.modules])"
    )
    assert _printed_by(code) == "[]"


def test_a_batch_has_its_workers_load_what_measures() -> None:
    """The parent hands out tasks; loading scipy.signal takes longer than measuring ten minutes."""
    code = "import sys, audiolevel.api.folders; print('scipy.signal' in sys.modules)"
    assert _printed_by(code) == "False"


def test_no_record_holds_what_cannot_reach_another_process() -> None:
    """A read-only view of a dictionary cannot be pickled: only constants of modules are one."""
    made, constant = 0, 0
    for path in MODULES:
        tree = ast.parse(path.read_text(encoding="utf-8"))
        # a call within a function, or within the field of a class, is part of some record
        made += sum(map(_is_view, ast.walk(tree)))
        constant += sum(
            _is_view(node.value)
            for node in tree.body
            if isinstance(node, ast.Assign | ast.AnnAssign)
        )
    assert made == constant > 0


def _is_view(node: ast.AST | None) -> bool:
    return isinstance(node, ast.Call) and ast.unparse(node.func).endswith("MappingProxyType")
