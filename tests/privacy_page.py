"""What does the sheet of the sample scenario say, and is it what docs/privacy.md shows?

`python -m tests.privacy_page` puts it there.
"""

import re
from pathlib import Path

from click.testing import CliRunner

from audiolevel.cli import main

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "privacy.md"
_PLACE = re.compile(r"(<!-- sheet: [^>]*-->\n).*?(<!-- end of sheet -->)", re.DOTALL)


def sheet() -> str:
    """The command's text for the sample scenario."""
    folder = ROOT / "sample_audio"
    arguments = ["privacy", str(folder / "bridge_approach.ogg"), "--date", "2026-03-04"]
    arguments += ["--site", str(folder / "site.toml"), "--marks", str(folder / "wanted.csv")]
    run = CliRunner().invoke(main, [*arguments, "--start", "2026-03-03T09:30", "--full"])
    assert run.exit_code == 0, run.output
    return run.stdout.rstrip()


def shown() -> str:
    """The sheet as the page shows it."""
    found = _PLACE.search(PAGE.read_text(encoding="utf-8"))
    assert found is not None
    return found.group(0).split("```text\n")[1].split("\n```")[0]


if __name__ == "__main__":
    block = f"```text\n{sheet()}\n```\n"
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(_PLACE.sub(lambda m: m.group(1) + block + m.group(2), text), encoding="utf-8")
