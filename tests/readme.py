"""What does the README show, and is it what the program says?

`python -m tests.readme` runs the README's first command (without installing) and puts
what it prints, and its picture, where the README shows them.
"""

import re
import shlex
import shutil
import tempfile
from pathlib import Path

from click.testing import CliRunner

from audiolevel.cli import main

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"


def words() -> list[str]:
    """The README's own words after `audiolevel`, with the sample's full paths."""
    command = next(
        line for line in README.read_text(encoding="utf-8").splitlines() if "venv .venv" in line
    )
    parts = shlex.split(command.split(".venv/bin/audiolevel ")[1])
    return [str(ROOT / part) if part.startswith("sample_audio/") else part for part in parts]


def excerpt(out: Path) -> str:
    """What the command prints; its folder is written to `out`."""
    parts = words()
    parts[parts.index("--out") + 1] = str(out)
    run = CliRunner().invoke(main, parts)
    assert run.exit_code == 0, run.output
    return run.stdout.rstrip()


def shown() -> str:
    """The excerpt as the README has it."""
    found = re.search(r"<!-- excerpt.*?```text\n(.*?)```", README.read_text(encoding="utf-8"), re.S)
    assert found is not None
    return found[1].rstrip("\n")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        fresh = excerpt(Path(folder))
        shutil.copy(Path(folder) / "plan.png", ROOT / "docs" / "figures" / "plan.png")
    text = README.read_text(encoding="utf-8")
    pattern = re.compile(r"(<!-- excerpt.*?```text\n).*?(```)", re.S)
    README.write_text(pattern.sub(lambda m: f"{m[1]}{fresh}\n{m[2]}", text), encoding="utf-8")
