"""A minute of coverage-guided search for inputs that break a reader."""

import importlib.util

import pytest

from tests.robustness.fuzz import ENDINGS, run, seeds


@pytest.mark.parametrize("kind", ENDINGS)
def test_there_are_inputs_to_begin_with(kind: str) -> None:
    found = list(seeds(kind))
    assert found
    assert all(isinstance(one, bytes) for one in found)


@pytest.mark.slow
@pytest.mark.skipif(not importlib.util.find_spec("atheris"), reason="needs the extra fuzz")
@pytest.mark.parametrize("kind", ENDINGS)
def test_no_input_breaks_a_reader(kind: str) -> None:
    status, said = run(kind, seconds=8)
    assert status == 0, said
    assert "stat::number_of_executed_units" in said
