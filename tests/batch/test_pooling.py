"""One plan a site from all its recordings."""

import json
from pathlib import Path

import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.batch.discovery import find_items
from audiolevel.batch.pooling import by_site
from tests.batch.made_folder import RATE, make_folder, run_command, wave_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


def test_pooled_plans_are_one_a_site(folder: Path, tmp_path: Path) -> None:
    run = run_command(folder, "--out", tmp_path, "--jobs", 1, "--plans")
    assert run.exit_code == 4
    plans = [json.loads(line) for line in (tmp_path / "plans.jsonl").read_text().splitlines()]
    assert [plan["site"] for plan in plans] == ["visits", "wall"]
    assert plans[0]["heard_s"] == pytest.approx(15)
    assert plans[1]["heard_s"] == pytest.approx(18)


def test_a_site_without_a_plan_leaves_the_others_theirs(tmp_path: Path) -> None:
    """A smoke alarm of the catalogue lasts 8 s, and the first site's only recording 3."""
    folder, out = tmp_path / "f", tmp_path / "out"
    known = "[microphone]\nspl_at_full_scale_db = 110\n"
    known += '[[wanted]]\nsound = "smoke alarm"\ndistance_m = 20\n'
    for name, seconds in (("brief", 3.0), ("gate", 30.0)):
        (folder / name).mkdir(parents=True)
        (folder / name / "site.toml").write_text(known)
        sf.write(folder / name / f"{name}.wav", wave_of(seconds, 1, 0.01), RATE)
    assert [*by_site(find_items(folder))] == ["brief", "gate"]
    run = run_command(folder, "--out", out, "--jobs", 1, "--plans")
    assert run.exit_code == 4
    assert (
        "2 recordings: 2 measured (2 now), 0 failed\n  ! brief: no plan: brief.wav:" in run.stdout
    )
    assert "3.00 s are too short" in " ".join(run.stdout.split())
    (plan,) = (out / "plans.jsonl").read_text().splitlines()
    assert json.loads(plan)["site"] == "gate"
    assert "\nbrief: no plan: brief.wav: 3.00 s are too short" in (out / "plans.txt").read_text()


def test_a_site_that_has_a_plan_keeps_its_setting(tmp_path: Path) -> None:
    folder, out = tmp_path / "f", tmp_path / "out"

    def record(name: str, level: float) -> None:
        sf.write(folder / name / "visits" / "one.wav", wave_of(30.0, 1, level), RATE)

    for name in ("planned", "new"):
        (folder / name / "visits").mkdir(parents=True)
        (folder / name / "site.toml").write_text('[trigger]\nmodes = ["threshold"]\n')
        # what it was planned from was louder than what is there now
        record(name, 0.1)
    site = al.open_site(folder / "planned")
    made = site.plan()
    site.save_plan(made)
    kept = json.loads(made.to_json())["recommended"]["level_db"]
    for name in ("planned", "new"):
        record(name, 0.01)
    run = run_command(folder, "--out", out, "--jobs", 1, "--plans", "--exclude", "*/plan/*")
    assert run.exit_code == 0, run.output
    new, planned = map(json.loads, (out / "plans.jsonl").read_text().splitlines())
    assert (new["setting_of"], planned["setting_of"]) == (None, str(site.plan_file))
    assert planned["recommended"]["level_db"] == kept
    assert new["recommended"]["level_db"] == pytest.approx(kept - 20, abs=1)
    text = " ".join((out / "plans.txt").read_text().split())
    assert "planned here, as its folder has no plan" in text
    assert f"threshold at {kept:g} dB FS" in text


def test_what_is_left_of_a_broken_file_is_no_visit(tmp_path: Path) -> None:
    folder, out = tmp_path / "f", tmp_path / "out"
    folder.mkdir()
    (folder / "site.toml").write_text("")
    for name, seconds in (("long", 20.0), ("broken", 0.034)):
        sf.write(
            folder / f"{name}.wav", wave_of(max(seconds, 1), 1, 0.01)[: round(seconds * RATE)], RATE
        )
    run_command(folder, "--out", out, "--jobs", 1, "--plans")
    (plan,) = [json.loads(line) for line in (out / "plans.jsonl").read_text().splitlines()]
    assert plan["heard_s"] == pytest.approx(20)
    assert plan["left_out"] == ["broken.wav"]
