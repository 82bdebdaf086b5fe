"""The sample as a site's folder, and paths that a shell completes."""

from pathlib import Path

import click
from click.shell_completion import ShellComplete

from audiolevel.cli import main
from tests.cli.commands import run

SAMPLE = Path(__file__).parents[2] / "sample_audio"


def test_the_demo_is_the_sample_as_a_site_and_replaces_nothing(tmp_path: Path) -> None:
    lane = tmp_path / "lane"
    made = run("demo", lane)
    assert made.exit_code == 0, made.output
    assert f"next: audiolevel plan {lane}" in made.stderr
    for name, source in (
        ("site.toml", "site.toml"),
        ("visits/20240604_093000.ogg", "bridge_approach.ogg"),
        ("visits/20240604_093000.marks.csv", "wanted.csv"),
        ("logs/camera_log.csv", "camera_log.csv"),
    ):
        assert (lane / name).read_bytes() == (SAMPLE / source).read_bytes()
    # the camera was set after somebody had listened
    logged = (lane / "logs" / "camera_log.csv").read_text().splitlines()[1]
    assert logged > "2024-06-04T09:30:00"
    stands = run(lane)
    assert "1 visit" in " ".join(stands.stdout.split())
    again = run("demo", lane)
    assert again.exit_code == 1
    assert again.stderr.endswith("site.toml: is there already; choose another folder\n")


def test_the_help_lists_every_command_with_its_whole_summary() -> None:
    told = " ".join(run("--help").stdout.split())
    for name, command in main.commands.items():
        summary = " ".join((command.help or "").split("\n\n")[0].split()).rstrip(".")
        assert command.hidden or f"{name} {summary}" in told


def test_every_path_is_completed_by_the_shell() -> None:
    completed = set()
    for name, command in main.commands.items():
        for one in command.params:
            found = one.shell_complete(click.Context(command), "vis")
            if [(item.value, item.type) for item in found] == [("vis", "file")]:
                completed.add((name, one.name))
    assert {
        *(("plan", "recordings"), ("plan", "site_file"), ("plan", "marks"), ("plan", "out")),
        *(("batch", "folder"), ("batch", "compare"), ("calibrate", "recording")),
        *(("followup", "logs"), ("followup", "plan_file"), ("demo", "folder")),
    } <= completed
    # commands and options come from click itself
    shell = ShellComplete(main, {}, "audiolevel", "_AUDIOLEVEL_COMPLETE")
    assert {item.value for item in shell.get_completions([], "p")} == {"plan", "privacy"}
