"""A batch that is killed with its workers at a named moment.

`python -m tests.batch.killed_run MOMENT FOLDER --out RESULTS …`: MOMENT is a key of `MOMENTS` and
the number of times that it must have come, as `kept:3`, or `call:5000`, the five thousandth call of
a function of the package in the process that runs the batch. Nothing depends on how fast it runs.
"""

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import audiolevel
from audiolevel.batch import journal, runner
from audiolevel.ground import files

PACKAGE = str(Path(audiolevel.__file__).parent)
# where, name, and whether the kill comes before or after it is done
MOMENTS: dict[str, tuple[Any, str, bool]] = {
    "journal opened": (journal.Journal, "__enter__", False),
    "task made": (runner, "_pieces", False),
    "result come": (journal.Journal, "add", True),
    "kept": (journal.Journal, "add", False),
    "draft begun": (files, "_begun", False),
    "draft written": (files, "_to_disk", True),
    "in place": (os, "replace", False),
}


def kill() -> None:
    """The end of this process and of its workers, which share its group."""
    os.killpg(os.getpgid(0), signal.SIGKILL)


def kill_at(moment: str) -> None:
    """Prepare the end."""
    name, _, number = moment.partition(":")
    left = [int(number)]

    def come() -> None:
        left[0] -= 1
        if not left[0]:
            kill()

    if name == "call":

        def profile(frame: Any, event: str, _: object) -> None:
            if event == "call" and frame.f_code.co_filename.startswith(PACKAGE):
                come()

        sys.setprofile(profile)
        return
    place, function, before = MOMENTS[name]
    whole = getattr(place, function)

    def wrapped(*words: Any, **more: Any) -> Any:
        if before:
            come()
        done = whole(*words, **more)
        if not before:
            come()
        return done

    setattr(place, function, wrapped)


def run_killed(moment: str, *words: object) -> bool:
    """Whether the run was killed; False where it ended before the moment came."""
    command = [sys.executable, "-m", "tests.batch.killed_run", moment, *map(str, words)]
    # a session of its own: the kill takes the workers too, and nobody else
    done = subprocess.run(command, capture_output=True, start_new_session=True, check=False)
    return done.returncode == -signal.SIGKILL


if __name__ == "__main__":
    from audiolevel.cli import main

    kill_at(sys.argv[1])
    main(["batch", *sys.argv[2:]])
