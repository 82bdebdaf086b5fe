"""What does the README show, and is it what the program says?

`python -m tests.readme` does what the README's first command does (without installing) and puts
what it prints, and its picture, where the README shows them.
"""

import re
import shlex
import shutil
import tempfile
from pathlib import Path

from click.testing import CliRunner

from audiolevel.api.demo import lay_out
from audiolevel.cli import main
from tests.guides import exchanges, renewed

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
_EXCERPT = re.compile(r"(<!-- excerpt.*?```text\n)(.*?)(```)", re.DOTALL)


def commands() -> list[str]:
    """The README's commands: to install and plan, and to test."""
    return [one.commands for one in exchanges(README.read_text(encoding="utf-8"))]


def printed(folder: Path) -> list[str]:
    """What the first command prints of a site's folder made there."""
    words = shlex.split(commands()[0].split(".venv/bin/audiolevel ")[-1])
    lay_out(folder / words[-1])
    run = CliRunner().invoke(main, [*words[:-1], str(folder / words[-1])])
    assert run.exit_code == 0, run.output
    return [line.rstrip() for line in run.stdout.splitlines()]


def shown() -> tuple[str, ...]:
    """The excerpt as the README has it."""
    found = _EXCERPT.search(README.read_text(encoding="utf-8"))
    assert found is not None
    return tuple(found[2].splitlines())


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        fresh = "\n".join(renewed(shown(), printed(Path(place))))
        plan = Path(place) / "lane" / "plan" / "plan.png"
        shutil.copy(plan, ROOT / "docs" / "figures" / "plan.png")
    text = README.read_text(encoding="utf-8")
    README.write_text(_EXCERPT.sub(lambda m: f"{m[1]}{fresh}\n{m[3]}", text), encoding="utf-8")
