"""Random sites as folders: screen, page, text, record and sheet name one setting.

    python -m tests.studies.random_folders [COUNT]

Each is planned by the command, then reviewed, as a user would; every paper is read as a file. Each
is planned a second time with another limit, and that plan measures nothing.
"""

import json
import re
import sys
import tempfile
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import numpy as np
from click.testing import CliRunner

import audiolevel as al
from audiolevel.cli import main
from audiolevel.planning.plan_record import plan_of_object
from audiolevel.report.words.settings import planned_words
from tests.folder.layouts import sound

SOUNDS = ("breaking glass", "vehicle horn", "metal bang", "shout", "smoke alarm")


def make(folder: Path, number: int) -> None:
    """A site of one to three visits, with or without calibration, camera's scale and wishes."""
    rng = np.random.default_rng([11, number])
    visits = [(f"2026030{day}_{rng.integers(7, 22):02d}0000.wav", day) for day in range(1, 4)]
    for name, seed in visits[: int(rng.integers(1, 4))]:
        sound(folder / "visits" / name, float(rng.integers(60, 240)), seed=100 * number + seed)
    lines = [f"[limits]\nfalse_triggers_per_day = {rng.choice([1, 10, 100, 1000, 5000])}"]
    if rng.random() < 0.7:
        lines.append("[microphone]\nspl_at_full_scale_db = 110")
    if rng.random() < 0.5:
        lines.append("[display]\nreadings = [[12, -55], [30, -35], [48, -15]]")
    lines.append('[gain]\nrecorded_at = "b"\nsteps = [["a", -12], ["b", 0], ["c", 12]]')
    lines += [
        f'[[wanted]]\nsound = "{name}"\ndistance_m = {rng.uniform(1, 60):.1f}'
        for name in rng.choice(SOUNDS, size=int(rng.integers(0, 3)), replace=False)
    ]
    (folder / "site.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")


def _words(path: Path) -> str:
    return " ".join(unescape(re.sub("<[^>]*>", " ", path.read_text(encoding="utf-8"))).split())


def wrong(folder: Path) -> Iterator[str]:
    """Papers of a site's folder that name another setting than its plan, a line each."""
    for words in (["plan", "--print-record"], ["privacy"]):
        run = CliRunner().invoke(main, [words[0], str(folder), *words[1:]])
        if run.exit_code:
            yield f"{words[0]}: {run.output}"
            return
        if words[0] == "plan":
            screen = " ".join(run.stdout.split())
    plan = plan_of_object(json.loads((folder / "plan" / "plan.json").read_text(encoding="utf-8")))
    said = planned_words(plan)
    none = plan.recommended is None
    told = {
        "screen": (screen, "SET nothing" if none else said),
        "text": (_words(folder / "plan" / "plan.txt"), "SET nothing" if none else said),
        "page": (_words(folder / "plan" / "plan.html"), "SET nothing" if none else said),
        "record": (
            _words(folder / "plan" / "record.html"),
            "Nothing could be recommended" if none else said,
        ),
        "sheet": (_words(folder / "privacy" / "privacy.txt"), "nothing is set" if none else said),
        "folder": (" ".join(al.open_site(folder).to_text().split()), said),
    }
    for name, (text, wanted) in told.items():
        # a screen breaks a name of two words at a line's end only
        if wanted not in text:
            yield f"{name} does not say: {wanted}"
    kept = sorted((folder / ".measured").iterdir())
    al.open_site(folder).plan(limit_per_day=33)
    if sorted((folder / ".measured").iterdir()) != kept:
        yield "another limit was measured again"


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    mistakes = []
    for number in range(count):
        with tempfile.TemporaryDirectory() as place:
            site = Path(place) / f"site {number}"
            make(site, number)
            mistakes += [f"site {number}: {what}" for what in wrong(site)]
    print(f"{count} folders, {len(mistakes)} mistakes", *mistakes, sep="\n")
