"""Every output of two versions of the program beside each other: what differs, and where.

    python -m tests.studies.same_outputs make PROGRAM FOLDER     all outputs of one version
    python -m tests.studies.same_outputs compare FOLDER FOLDER   what differs between two

PROGRAM is the command of a version, as `.venv/bin/audiolevel` in its own checkout. The outputs are
those of every command on the sample scenario, the street recordings where they are at hand, and
thirty drawn site files.
"""

import difflib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_audio"
SITES = 30
NAMES = ("breaking glass", "vehicle horn", "metal bang", "shout", "smoke alarm", "dog's bark")


def drawn_site(number: int) -> str:
    """A site file drawn by chance: calibration, gains, trigger, limits, wanted, card, schedule."""
    rng = np.random.default_rng([14, number])
    lines = [f'[site]\nname = "drawn {number}"']
    calibrated = rng.random() < 0.7
    if calibrated:
        lines.append(f"[microphone]\nspl_at_full_scale_db = {rng.integers(100, 125)}.0")
        if rng.random() < 0.5:
            lines.append(f"self_noise_dba = {rng.integers(25, 40)}.0")
    if rng.random() < 0.5:
        lines.append("[gain]\nrecorded_at = 50\nsteps = [[0, -24.0], [25, -12.0], [50, 0.0]]")
    if rng.random() < 0.4:
        lines.append("[display]\nreadings = [[58, -42.0], [71, -29.5]]")
    modes = [mode for mode in ("threshold", "rise", "fall", "change") if rng.random() < 0.6]
    lines.append(f"[trigger]\nmodes = {modes or ['threshold']}".replace("'", '"'))
    lines.append(f"rearm_s = {rng.choice([1.0, 5.0, 10.0, 30.0])}")
    lines.append(f"[limits]\nfalse_triggers_per_day = {rng.choice([2.0, 10.0, 40.0, 500.0])}")
    lines.append(f"detection = {rng.choice([0.5, 0.8, 0.95])}")
    if rng.random() < 0.6:
        lines.append(f"[storage]\ncard_gb = {rng.choice([16.0, 64.0, 128.0])}")
    if rng.random() < 0.5:
        lines.append('[schedule]\nactive = ["mon-fri 20:00-06:00", "sat-sun 00:00-24:00"]')
        if rng.random() < 0.5:
            lines.append('traffic_by_hour = "published"')
    if calibrated:
        for name in rng.choice(NAMES, size=rng.integers(0, 3), replace=False):
            distance_m = rng.integers(1, 25)
            lines.append(f'[[wanted]]\nsound = "{name}"\ndistance_m = {distance_m}.0')
    return "\n".join(lines) + "\n"


def commands(folder: Path) -> Iterator[tuple[str, list[str]]]:
    """Name and arguments of every run; files that a run needs are written into `folder`."""
    sample, site = str(SAMPLE / "bridge_approach.ogg"), str(SAMPLE / "site.toml")
    start = ["--start", "2026-03-03T09:30"]
    marks = ["--marks", str(SAMPLE / "wanted.csv")]
    yield "measure", ["measure", sample, "--site", site, "--history", "history.csv"]
    yield "plan", ["plan", sample, "--site", site, *marks, *start]
    yield "plan_unmarked", ["plan", sample, "--site", site, "--start", "2024-06-04T10:00"]
    yield "plan_bare", ["plan", sample]
    yield "trial", ["trial", sample, "--site", site, "--level", "84", "--gain-db", "-12"]
    yield "trial_rise", ["trial", sample, "--mode", "rise", "--change", "12", *start]
    yield "privacy", ["privacy", sample, "--site", site, *start]
    yield "sounds", ["sounds"]
    readings = ["--reading", "58", "-42", "--reading", "71", "-29.5"]
    yield "calibrate", ["calibrate", "--sensitivity-dbfs", "-26", *readings]
    yield "followup", ["followup", "plan.json", str(SAMPLE / "camera_log.csv")]
    streets = Path(os.environ.get("AUDIOLEVEL_RECORDINGS", "nowhere"))
    for wav in sorted(streets.glob("*.wav")):
        yield f"measure_{wav.stem}", ["measure", str(wav)]
        yield f"plan_{wav.stem}", ["plan", str(wav), *start]
        yield f"trial_{wav.stem}", ["trial", str(wav), "--level", "-30", "--gain-db", "24"]
    for number in range(SITES):
        (folder / f"site_{number}.toml").write_text(drawn_site(number), encoding="utf-8")
        path = sample if number % 3 == 0 else str(streets / "street_long.wav")
        own = [*(start if number % 2 else []), *(marks if number % 6 == 0 else [])]
        yield f"plan_site_{number}", ["plan", path, "--site", f"site_{number}.toml", *own]


def make(program: str, folder: Path) -> None:
    """Run every command with one version of the program; keep all that it says and writes."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, arguments in commands(folder):
        json_file = [] if name == "batch" else ["--json", f"{name}.json"]
        run = subprocess.run(
            [program, *arguments, *json_file], cwd=folder, capture_output=True, text=True
        )
        told = f"status {run.returncode}\n{run.stdout}{run.stderr}"
        (folder / f"{name}.txt").write_text(told, encoding="utf-8")
    results = subprocess.run(
        [program, "batch", str(SAMPLE), "--out", "batch"],
        cwd=folder,
        capture_output=True,
        text=True,
    )
    (folder / "batch.txt").write_text(results.stdout + results.stderr, encoding="utf-8")


def compare(first: Path, second: Path) -> int:
    """Print what differs, file by file; the number of files that do."""
    files = {
        path.relative_to(root)
        for root in (first, second)
        for path in root.rglob("*")
        if path.is_file() and path.suffix in {".txt", ".json", ".jsonl", ".csv"}
        if not path.name.startswith(".")
    }
    different = 0
    for name in sorted(files):
        before, after = (
            (root / name).read_text(encoding="utf-8").splitlines() if (root / name).exists() else []
            for root in (first, second)
        )
        lines = list(difflib.unified_diff(before, after, lineterm="", n=0))[2:]
        if lines:
            different += 1
            print(f"{name}: {len(lines)} lines", *lines[:12], sep="\n  ")
    print(f"{different} of {len(files)} files differ")
    return different


if __name__ == "__main__":
    what, one, two = sys.argv[1:4]
    if what == "make":
        make(str(Path(one).absolute()), Path(two).absolute())
    else:
        sys.exit(min(compare(Path(one), Path(two)), 1))
