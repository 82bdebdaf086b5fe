"""One plan a site from all its recordings."""

import json
from pathlib import Path

import pytest

from tests.batch.made_folder import make_folder, run_command


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


def test_pooled_plans_are_one_a_site(folder: Path, tmp_path: Path) -> None:
    run = run_command(folder, "--out", tmp_path, "--jobs", 1, "--plan")
    assert run.exit_code == 1
    plans = [json.loads(line) for line in (tmp_path / "plans.jsonl").read_text().splitlines()]
    assert [plan["site"] for plan in plans] == ["visits", "wall"]
    assert plans[0]["heard_s"] == pytest.approx(15)
    assert plans[1]["heard_s"] == pytest.approx(18)
