"""docs/api.md lists every name, and every public docstring says what it must."""

import inspect

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
    # a function that no task names would be taken for a record
    records = page().split("## Records and results")[1]
    assert not [name for name in FUNCTIONS if f"- `{name}`:" in records]


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
        assert "Raises" in docstring or name in ("predict", "plain", "hint")


def test_every_name_is_there_and_listed_once() -> None:
    assert len(set(audiolevel.__all__)) == len(audiolevel.__all__)
    for name in audiolevel.__all__:
        assert getattr(audiolevel, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'listen'"):
        _ = audiolevel.listen
