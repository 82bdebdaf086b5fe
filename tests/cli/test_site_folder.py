"""A site from nothing to a corrected plan, by four commands and a folder."""

import json
import shutil
from datetime import datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

import audiolevel as al
from audiolevel.api.site_folder import open_sites
from audiolevel.cli import main
from tests.folder.layouts import sound
from tests.followup.made_log import spread_over


def _run(*words: Any, ok: bool = True) -> Any:
    run = CliRunner().invoke(main, list(map(str, words)))
    assert (run.exit_code == 0) == ok, run.output
    return run


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with a visit and a plan."""
    folder = tmp_path_factory.mktemp("sites") / "lane"
    options = (
        "--name",
        "Lane",
        "--limit",
        300,
        "--wanted",
        "vehicle horn@4m",
        "--calibration",
        110,
    )
    _run("new", folder, *options)
    sound(folder / "visits" / "20260303_093000.wav", 180, seed=3)
    _run("plan", folder, "--page", "none")
    return folder


@pytest.fixture
def site(planned: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned, tmp_path / "lane"))


def _stands(folder: Path) -> dict[str, str]:
    lines = _run(folder).stdout.splitlines()
    assert len(lines) <= 12
    told: dict[str, str] = {}
    label = ""
    for line in lines[2:]:
        label = line[:12].strip() or label
        told[label] = f"{told.get(label, '')} {line[12:].strip()}".strip()
    return told


@pytest.mark.always
def test_a_new_site_is_a_file_that_can_be_read_and_says_what_to_do(tmp_path: Path) -> None:
    folder = tmp_path / "lane"
    words = ("--wanted", "breaking glass@5m", "--wanted", "shout @ 3", "--active", "18:00-07:00")
    said = _run("new", folder, "--limit", 5, *words).stdout
    assert "record ten minutes on site" in " ".join(said.split())
    made = al.read_site(folder / "site.toml")
    assert made.limits.false_triggers_per_day == 5
    assert [(one.sound, one.distance_m) for one in made.wanted] == [
        ("breaking glass", 5.0),
        ("shout", 3.0),
    ]
    assert made.schedule.active == ("18:00-07:00",)
    assert (folder / "visits").is_dir()
    assert "is there already" in _run("new", folder, ok=False).output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--wanted", "breaking glass 5m"], "breaking glass@5m"),
        (["--wanted", "braking glas@5m"], "breaking glass"),
        (["--limit", "-3"], "limits.false_triggers_per_day"),
        (["--active", "8pm-6am"], "8pm-6am"),
    ],
)
def test_what_cannot_be_answered_leaves_no_site_file(
    words: list[str], said: str, tmp_path: Path
) -> None:
    run = _run("new", tmp_path / "lane", *words, ok=False)
    assert said in run.output
    assert len(run.output.splitlines()) == 1
    assert not (tmp_path / "lane" / "site.toml").exists()


def test_questions_are_asked_in_order_and_each_may_be_skipped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the command hides the module of its name
    monkeypatch.setattr(import_module("audiolevel.cli.new"), "_at_a_terminal", lambda: True)
    answers = ["Our lane", "", "shout@3m", "", "20:00-06:00, sat 00:00-24:00", "", ""]
    run = CliRunner().invoke(main, ["new", str(tmp_path / "lane")], input="\n".join(answers) + "\n")
    assert run.exit_code == 0, run.output
    made = al.read_site(tmp_path / "lane" / "site.toml")
    assert made.site.name == "Our lane"
    assert made.limits.false_triggers_per_day == 20
    assert "false_triggers" not in (tmp_path / "lane" / "site.toml").read_text()
    assert made.schedule.active == ("20:00-06:00", "sat 00:00-24:00")
    assert [one.sound for one in made.wanted] == ["shout"]


def test_where_the_site_stands_follows_what_is_done_to_it(site: Path) -> None:
    told = _stands(site)
    assert told["visits"] == "1 visit"
    assert told["changed"] == "nothing"
    assert "threshold at" in told["plan"] or "within" in told["plan"]
    assert "audiolevel privacy" in told["next"]
    sound(site / "visits" / "20260305_170000.wav", 60, seed=4)
    assert _stands(site)["changed"] == "new: 20260305_170000.wav"
    (site / "visits" / "20260305_170000.wav").unlink()
    text = (site / "site.toml").read_text()
    (site / "site.toml").write_text(text.replace("= 300.0", "= 40"))
    told = _stands(site)
    assert told["changed"] == "limits.false_triggers_per_day: 40, was 300.0"
    # a long path is broken where a line ends
    assert told["next"].replace(" ", "") == f"audiolevelplan{site}"


def test_a_plan_without_its_note_is_not_taken_for_that_of_today(site: Path) -> None:
    note = site / "plan" / "made_from.json"
    plan = site / "plan" / "plan.json"
    for broken in ("", "{", "[]", '{"plan": "x", "visits": {}, "site": {}, "logs": {}}'):
        note.write_text(broken)
        assert _stands(site)["changed"] == "not known: plan again"
    plan.write_text(plan.read_text()[:1000])
    assert _stands(site)["plan"] == "none yet"


def test_a_redacted_plan_has_no_name_and_no_date_beside_it(site: Path) -> None:
    text = (site / "site.toml").read_text()
    of_visit = '[[visit]]\nrecording = "20260303_093000.wav"\nstart = 2026-03-03T09:30:00\n'
    (site / "site.toml").write_text(f"{text}\n{of_visit}")
    _run("plan", site, "--page", "none", "--redact")
    for file in (site / "plan").iterdir():
        for told in (b"20260303", b"2026-03-03", b"093000", b"09:30"):
            assert told not in file.read_bytes(), file.name
    # that something changed is known, and no more
    assert _stands(site)["changed"] == "nothing"
    (site / "site.toml").write_text(f"{text}\n{of_visit}".replace("= 300.0", "= 40"))
    assert _stands(site)["changed"].startswith("recordings or site.toml")


@pytest.mark.always
def test_every_paper_of_the_folder_speaks_of_its_plan(site: Path) -> None:
    option = json.loads((site / "plan" / "plan.json").read_text())["recommended"]
    _run("privacy", site, "--page", "none")
    sheet = " ".join((site / "privacy" / "privacy.txt").read_text().split())
    at = f"{option.get('level_db', option.get('change_db')):g} dB"
    assert "the setting is of the plan" in sheet
    assert at in sheet
    assert at in _stands(site)["plan"]
    # what options say of recordings, a folder says itself
    assert "[[visit]]" in _run("plan", site, "--start", "2026-03-03T09:30", ok=False).output


def test_a_corrected_plan_is_the_folder_s_and_the_one_before_is_kept(site: Path) -> None:
    before = (site / "plan" / "plan.json").read_text()
    rows = [f"2026-03-{9 + day:02d}T{hour:02d}:10:00" for day in range(3) for hour in range(8, 20)]
    (site / "logs" / "week.csv").write_text("time\n" + "\n".join(rows) + "\n")
    assert "followup" in _stands(site)["next"]
    run = _run("followup", site, "--page", "none")
    assert "SET NOW     nothing: keep" in run.stdout
    assert (site / "plan" / "2026-03-11.json").read_text() == before
    corrected = json.loads((site / "plan" / "plan.json").read_text())
    assert corrected["followed"]["days"]
    # the setting is kept, and so is what shows it
    assert (site / "plan" / "plan.txt").is_file()
    assert "removed" not in run.stderr
    assert (site / "followup" / "followup.txt").is_file()
    told = _stands(site)
    assert told["changed"] == "nothing"
    assert "logs" not in told
    # there is a log, so the sound is on
    assert "before sound is switched on" not in told["next"]
    assert "audiolevel followup" in told["next"]
    assert "no log" in _run("followup", site, ok=False).output


def _busy(path: Path, first: datetime, per_day: int) -> Path:
    """A log of three days at random."""
    rows = [first + timedelta(seconds=s) for s in np.sort(spread_over(3 * per_day, 3.0)).tolist()]
    path.write_text("\n".join(["time", *map(str, rows)]) + "\n")
    return path


def test_planned_again_it_loses_neither_the_corrected_plan_nor_which_logs_were_read(
    site: Path,
) -> None:
    # a plan of 140 a day and a limit of 300
    log = _busy(site / "logs" / "a.csv", datetime(2026, 3, 9), 2000)
    other = _busy(site / "logs" / "b.csv", datetime(2026, 3, 16), 100)
    run = _run("followup", site, log, "--page", "none")
    # another setting: what shows the one before goes, by name
    assert "what showed it is removed: " in run.stderr
    assert "plan.txt" in run.stderr
    assert not (site / "plan" / "plan.txt").exists()
    # the log that was not given is new
    assert _stands(site)["logs"] == "b.csv: not followed up"
    corrected = (site / "plan" / "plan.json").read_text()
    at_db = json.loads(corrected)["followed"]["planned"]["level_db"]
    set_db = json.loads(corrected)["recommended"]["level_db"]
    sound(site / "visits" / "20260320_170000.wav", 60, seed=4)
    assert "without what the logs have taught" in _stands(site)["next"]
    run = _run("plan", site, "--page", "none")
    kept = site / "plan" / "2026-03-11-2.json"
    assert f"the one that they had corrected is {kept}" in run.stderr
    assert kept.read_text() == corrected
    # the log of a busy week is not read again at a setting that it was not made at
    assert _stands(site)["logs"] == "b.csv: not followed up"
    assert "followed" not in json.loads((site / "plan" / "plan.json").read_text())
    # but may be given again with its own
    settings = ("--setting", f"{at_db} dB", "--setting", f"{set_db} dB")
    _run("followup", site, log, other, *settings, "--page", "none")
    days = json.loads((site / "plan" / "plan.json").read_text())["followed"]["days"]
    assert {at for at, _, _ in days} == {at_db, set_db}
    assert "logs" not in _stands(site)


def test_a_plan_with_nothing_to_set_is_not_to_be_set_or_followed_up(site: Path) -> None:
    # what keeps this limit catches next to nothing of a shout from afar
    text = (site / "site.toml").read_text().replace("= 300.0", "= 0.01")
    (site / "site.toml").write_text(text.replace("vehicle horn", "shout").replace("= 4", "= 40"))
    _run("plan", site, "--page", "none", "--print-record")
    _busy(site / "logs" / "a.csv", datetime(2026, 3, 9), 20)
    told = _stands(site)
    assert told["plan"] == "nothing to set"
    assert told["next"].startswith("change what ")
    assert "followup" not in told["next"]
    assert "log" not in (site / "plan" / "record.html").read_text().partition("Next visit")[2]


def test_a_folder_of_sites_is_a_table(site: Path) -> None:
    second = site.parent / "gate"
    _run("new", second, "--name", "Gate")
    rows = " ".join(_run(site.parent).stdout.split())
    assert "2 sites" in rows
    assert rows.index("gate 0 none yet record ten minutes") < rows.index("lane 1 gain")
    told = open_sites(site.parent).to_object()
    assert told["gate"]["plan"] is None
    assert told["lane"]["changed"] == []


def test_what_was_left_out_is_said_while_planning(site: Path) -> None:
    (site / "visits" / "notes.txt").write_text("the gate was open\n")
    run = _run("plan", site, "--json", "-")
    assert "audiolevel: left out: notes.txt: is no level history" in run.stderr
    # the plan of the folder is not the one that went to the output
    assert _stands(site)["changed"] == "nothing"


@pytest.mark.parametrize("command", [one for one in main.commands if one != "stands"])
def test_help_shows_ten_options_first(command: str) -> None:
    text = _run(command, "--help").stdout
    first = text.partition("Options:")[2].partition("More:")[0]
    assert 1 <= sum(line.startswith("  -") for line in first.splitlines()) <= 10
