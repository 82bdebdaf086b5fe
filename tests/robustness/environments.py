"""Environments that a command may be started in, and what must come of each.

A shell's line stands around the command, `{run}`, which reads `a.wav`. Each entry was a fault, or
is its like.
"""

import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

RUN = f"{sys.executable} -m audiolevel"


@dataclass(frozen=True)
class Environment:
    """Where a command runs.

    Attributes
    ----------
    line : str
        For a shell.
    status : int
        That it must end with.
    said : str
        What must stand in its one line on standard error; "" for no such line.
    """

    line: str
    status: int = 0
    said: str = ""

    def fault(self, folder: Path) -> str:
        """What is wrong with it in a folder that holds `a.wav` and `plan.json`; "" for nothing."""
        line = f"set -o pipefail; {self.line}".format(run=RUN)
        done = subprocess.run(
            ["bash", "-c", line], cwd=folder, capture_output=True, timeout=120, check=False
        )
        errors = done.stderr.decode(errors="replace")
        told = [one for one in errors.splitlines() if not one.startswith("audiolevel: wrote ")]
        right = done.returncode == self.status and len(told) == bool(self.said)
        if right and self.said in errors and not list(folder.rglob("*.part")):
            return ""
        return f"{self.line}: status {done.returncode}: {errors[-300:]}"


_LINES: tuple[tuple[Any, ...], ...] = (
    # encodings, with a name that most of them lack
    *(
        (f"PYTHONIOENCODING={encoding} {{run}} {command}",)
        for encoding in ("cp1252", "cp437", "latin-1", "ascii", "utf-16", "shift_jis")
        for command in ("measure Ża.wav", "plan Ża.wav --full")
    ),
    ("LC_ALL=C PYTHONUTF8=0 PYTHONCOERCECLOCALE=0 {run} plan Ża.wav --full",),
    # the same JSON whatever the encoding
    (
        "cmp <(PYTHONIOENCODING=cp1252 {run} measure Ża.wav --json -) "
        "<({run} measure Ża.wav --json -)",
    ),
    # outputs that are full, closed, or that nobody reads to the end
    ("{run} measure a.wav > /dev/full", 1, "No space left"),
    ("{run} measure a.wav --json - > /dev/full", 1, "No space left"),
    ("{run} batch . --out b --jobs 1 > /dev/full", 1, "No space left"),
    ("{run} --help > /dev/full", 1, "No space left"),
    ("{run} measure a.wav 2> /dev/full",),
    ("{run} measure no.wav 2> /dev/full", 1),
    ("{run} measure a.wav >&-", 1, "the output"),
    ("{run} measure a.wav --quiet >&-",),
    ("{run} measure a.wav 2>&-",),
    ("{run} measure a.wav <&-",),
    ("{run} measure - <&-", 1, "no WAV stream"),
    ("{run} measure a.wav --out m 2>&- >&-", 1),
    ("{run} plan a.wav --full | true", 1),
    # folders and clocks that are not there
    ("HOME=/no TMPDIR=/no MPLCONFIGDIR=/no {run} plan a.wav --out p",),
    ("env -u HOME -u PATH {run} plan a.wav --out p",),
    ('mkdir g; cd g; rmdir ../g; {run} measure "$OLDPWD/a.wav"',),
    ("TZ=No/Where {run} followup plan.json log.csv",),
    ("TZ=X+26 {run} plan a.wav --start 2026-03-29T02:30",),
    *((f"COLUMNS={columns} {{run}} plan --help",) for columns in (1, 20, 10_000)),
    ("COLUMNS=20 {run} plan a.wav --full",),
    # limits of the system
    ("ulimit -v 200000; {run} measure a.wav", 1, "out of memory"),
    ("ulimit -n 5; {run} batch . --out b", 1, "Too many open files"),
    ("ulimit -n 8; {run} measure a.wav --out m",),
    # in blocks of 1024 bytes: no write beyond them
    *(
        (f"ulimit -f {blocks}; {{run}} {command}", 1, "cannot be")
        for blocks in (1, 20)
        for command in ("plan a.wav --out p", "batch . --out b --jobs 1")
    ),
    ("ulimit -f 1; {run} measure a.wav --history h.csv", 1, "cannot be"),
)
ENVIRONMENTS = tuple(Environment(*line) for line in _LINES)
