"""docs/api.md lists every name, and every public docstring says what it must."""

import inspect
import re
import sys
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

import audiolevel
from tests.api_page import PAGE, page

FUNCTIONS = [
    name
    for name in audiolevel.__all__
    if inspect.isfunction(getattr(audiolevel, name)) and name != "read_site"
]


def test_the_page_is_fresh() -> None:
    assert PAGE.read_text(encoding="utf-8") == page()
    # what no task names would be taken for a section
    rest = page().split("## Sections of a site\n\n")[1].splitlines()
    assert {line.split("`")[1] for line in rest} == {
        type(getattr(audiolevel.Site(), one.name)).__name__
        for one in fields(audiolevel.Site)
        if is_dataclass(getattr(audiolevel.Site(), one.name))
    } | {"Wanted", "Place"}


@pytest.mark.process
def test_a_misspelt_name_is_an_error_to_a_type_checker(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The blocks of docs/python.md are clean by `mypy --strict`, and slips in them are found."""
    api = pytest.importorskip("mypy.api", reason="mypy is not installed")
    guide = (PAGE.parent / "python.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```python\n(.*?)^```", guide, re.DOTALL | re.MULTILINE)
    script, slips = tmp_path / "guide.py", tmp_path / "slips.py"
    # each block is a script of its own: a name may mean something else in the next
    parts = [f"def part_{i}() -> None:\n" + _indented(block) for i, block in enumerate(blocks)]
    script.write_text("\n".join(parts), encoding="utf-8")
    slips.write_text(
        "import audiolevel as al\nal.mesure\nal.Trigger.rise(change_db=6, rearm=2)\n"
        "al.measure('a.wav').laf\nal.plan('a.wav', sites=None)\n"
    )
    monkeypatch.setenv("MYPYPATH", str(PAGE.parents[1]))
    options = ["--strict", "--python-executable", sys.executable, "--cache-dir", str(tmp_path)]
    assert len(blocks) >= 5
    said, _, status = api.run([*options, str(script)])
    assert status == 0, said
    said, _, _ = api.run([*options, str(slips)])
    lines = [int(line.split(":")[1]) for line in said.splitlines() if ": error:" in line]
    assert sorted(set(lines)) == [2, 3, 4, 5], said


def _indented(block: str) -> str:
    return "".join(f"    {line}" for line in block.splitlines(keepends=True))


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_parameter_is_told_and_given_by_name(name: str) -> None:
    function = getattr(audiolevel, name)
    docstring = inspect.getdoc(function) or ""
    parameters = list(inspect.signature(function).parameters.values())
    for parameter in parameters:
        assert parameter.name in docstring, parameter.name
    positional = [one for one in parameters if one.kind is one.POSITIONAL_OR_KEYWORD]
    # the recording, plan or folder and what is done with it; all else is given by name
    assert len(positional) <= 2
    if parameters:
        # whatever text there is can be said
        assert "Raises" in docstring or name == "predict"


def test_every_name_is_there_and_listed_once() -> None:
    assert len(set(audiolevel.__all__)) == len(audiolevel.__all__)
    for name in audiolevel.__all__:
        assert getattr(audiolevel, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'listen'"):
        _ = audiolevel.listen  # type: ignore[attr-defined]  # what is wrong to mypy, too
