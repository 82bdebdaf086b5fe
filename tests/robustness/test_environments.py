"""A command in a bad environment: a result, or one line and the right status."""

import shutil
from pathlib import Path

import pytest

from tests.robustness.corpus import make_base
from tests.robustness.environments import ENVIRONMENTS, Environment


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = make_base(tmp_path_factory.mktemp("base"))
    shutil.copy(folder / "a.wav", folder / "Ża.wav")
    return folder


@pytest.mark.parametrize("environment", ENVIRONMENTS, ids=lambda one: one.line[:60])
def test_one_line_and_the_right_status(
    environment: Environment, base: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "f"
    shutil.copytree(base, folder)
    assert environment.fault(folder) == ""
