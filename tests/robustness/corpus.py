"""The corpus, and what the program makes of each file of it.

`python -m tests.robustness.corpus FOLDER` writes the files; `judge` runs one as a user would, in a
process of its own, and says what came of it. What is forbidden has names of its own: a traceback, a
hang over ten seconds, half a file, a silently wrong number.
"""

import functools
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import soundfile as sf

import audiolevel as al
from audiolevel.cli import main as main_command
from tests.robustness import sounds, texts
from tests.robustness.independent import found_in

# loaded once, before processes are made of this one
LOADED = (al.measure, al.plan, al.trial, al.follow_up, al.measure_folder, al.calibrate)
# of processor, and of memory
LONGEST_S, MOST_KB = 10.0, 1_000_000
# that a recording is short, or has no calibration, says nothing of its damage
_ORDINARY = {"short", "uncalibrated", "not placed", "history assumed"}
# of the follow-up of a short plan by a log that says neither its span nor its kinds
_ORDINARY |= {"hours alike", "not told apart", "span"}
_WRONG_DB, _WRONG_LENGTH = 1.0, 0.02


@dataclass(frozen=True)
class Case:
    """A file of the corpus.

    Attributes
    ----------
    kind : str
    file : str
        Its name; `number` makes it one of a kind in a folder.
    what : str
        What is wrong with it.
    data : bytes
    wanted : str
        "right", "caution" or "refused" where that is known beforehand, else "".
    """

    kind: str
    file: str
    what: str
    data: bytes
    wanted: str = ""

    @property
    def number(self) -> str:
        """A name that no other case has, the same in every run."""
        return hashlib.sha256(f"{self.kind} {self.file} {self.what}".encode()).hexdigest()[:8]


COMMANDS = {
    "sound": ["measure", "{case}", "--json", "{out}"],
    "video": ["measure", "{case}", "--json", "{out}"],
    "history": ["measure", "{case}", "--json", "{out}"],
    "site file": ["plan", "{base}/a.wav", "--site", "{case}", "--json", "{out}"],
    "log": ["followup", "{base}/plan.json", "{case}", "--json", "{out}"],
    "manifest": ["batch", "{base}/folder", "--manifest", "{case}", "--out", "{out}", "--jobs", "1"],
    "marks": ["trial", "{base}/a.wav", "--level", "-30", "--marks", "{case}", "--json", "{out}"],
    "plan": ["followup", "{case}", "{base}/log.csv", "--json", "{out}"],
}


def make_base(base: Path) -> Path:
    """The good files that a command needs beside the damaged one."""
    (base / "folder").mkdir(parents=True, exist_ok=True)
    sf.write(base / "a.wav", sounds.wave(), sounds.RATE)
    sf.write(base / "folder" / "a.wav", sounds.wave(), sounds.RATE)
    (base / "log.csv").write_text(texts.LOG)
    words = ["plan", str(base / "a.wav"), "--json", str(base / "plan.json"), "--force", "--quiet"]
    subprocess.run([sys.executable, "-m", "audiolevel", *words], check=True)
    return base


def cases(base: Path) -> Iterator[Case]:
    """Every file of the corpus; the base has been made."""
    with tempfile.TemporaryDirectory() as scratch:
        for kind, files in (
            ("sound", sounds.sound_files(Path(scratch))),
            ("video", sounds.video_files(Path(scratch))),
        ):
            for name, what, data in files:
                yield Case(kind, name, what, data)
    plan = (base / "plan.json").read_text(encoding="utf-8")
    for kind, made in (
        ("history", texts.histories()),
        ("site file", texts.sites()),
        ("log", texts.logs()),
        ("manifest", texts.manifests()),
        ("marks", texts.marks()),
        ("plan", texts.plans(plan)),
    ):
        for name, what, data, wanted in made:
            yield Case(kind, name, what, data, wanted)


@dataclass(frozen=True)
class Outcome:
    """What came of a case.

    Attributes
    ----------
    verdict : str
        "right", "caution", "refused"; or what must not be: "TRACEBACK", "HANG", "HALF A FILE",
        "WRONG", "STATUS".
    said : str
        The codes of the cautions, or the line of the refusal without the folder's name.
    """

    verdict: str
    said: str = ""

    @property
    def good(self) -> bool:
        """Whether it is one of the three that are allowed."""
        return self.verdict in ("right", "caution", "refused")


def judge(case: Case, base: Path) -> Outcome:
    """Run the command of a case in a process of its own."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "case"
        place.mkdir()
        out = Path(folder) / "out"
        (place / case.file).write_bytes(case.data)
        words = [
            word.format(case=place / case.file, base=base, out=out) for word in COMMANDS[case.kind]
        ]
        # large inputs may take longer, in proportion: a second for a megabyte
        allowed_s = LONGEST_S + len(case.data) / 1e6
        done = _forked([*words, "--quiet"], Path(folder), allowed_s)
        if done.excess:
            return Outcome(*done.excess)
        outcome = _outcome(case, done, out, place, base)
        left = [one.name for one in place.iterdir() if one.name != case.file]
        if left or any(one.name.startswith(".") for one in Path(folder).iterdir()):
            return Outcome("HALF A FILE", ", ".join(left))
        return outcome


def judge_command(words: list[str], folder: Path) -> Outcome:
    """Run any command in an empty folder: whether it ends as a command may."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    done = _forked(words, folder)
    said = done.stderr
    if done.excess:
        return Outcome(*done.excess)
    if "Traceback" in said or done.returncode not in (0, 1, 2, 3, 4):
        return Outcome("TRACEBACK", f"status {done.returncode}: {said[-300:]}")
    lines = [one for one in said.splitlines() if one.startswith("audiolevel: ")]
    if done.returncode == 1 and "batch" not in words and len(lines) != 1:
        return Outcome("STATUS", said[-300:])
    if list(folder.rglob("*.part")):
        return Outcome("HALF A FILE")
    return Outcome("refused" if done.returncode in (1, 2, 4) else "right")


class _Done(NamedTuple):
    """What came of a command: status, texts, and the verdict on a limit that it broke."""

    returncode: int
    stdout: str
    stderr: str
    excess: tuple[str, str] | None


def _forked(words: list[str], folder: Path, allowed_s: float = LONGEST_S) -> _Done:
    """The command in a process of its own, which has everything imported already.

    What libraries write past Python to standard error is seen as a user would see it.
    """
    said, told = folder / "stderr", folder / "stdout"
    child = os.fork()
    if child == 0:
        status = 70
        try:
            signal.alarm(round(6 * LONGEST_S))
            os.chdir(folder)
            for place, number in ((told, 1), (said, 2)):
                os.dup2(os.open(place, os.O_WRONLY | os.O_CREAT), number)
            status = _run(words)
        finally:
            os._exit(status)
    _, ended, used = os.wait4(child, 0)
    status = os.waitstatus_to_exitcode(ended)
    stdout, stderr = (one.read_text(errors="replace") for one in (told, said))
    for one in (told, said):
        one.unlink()
    used_s = used.ru_utime + used.ru_stime
    excess = None
    if status == -signal.SIGALRM or used_s > allowed_s:
        excess = "HANG", f"{used_s:.0f} s of processor"
    elif used.ru_maxrss > MOST_KB:
        excess = "GREEDY", f"{used.ru_maxrss / 1024:.0f} MB"
    return _Done(status, stdout, stderr, excess)


def _run(words: list[str]) -> int:
    sys.stdout = os.fdopen(1, "w", closefd=False)
    sys.stderr = os.fdopen(2, "w", closefd=False)
    try:
        main_command(words, prog_name="audiolevel")
    except SystemExit as ended:
        return int(ended.code or 0)
    except BaseException:
        traceback.print_exc()
        return 1
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
    return 0


def _outcome(case: Case, done: _Done, out: Path, place: Path, base: Path) -> Outcome:
    hidden = [str(place), str(base), str(out.parent)]
    said = done.stderr.strip()
    if "Traceback" in said or done.returncode not in (0, 1, 4):
        return Outcome("TRACEBACK", f"status {done.returncode}: {said[-200:]}")
    if done.returncode == 1 and case.kind != "manifest":
        if said.count("\n") or not said.startswith("audiolevel: "):
            return Outcome("STATUS", said)
        # a file that is read may be no file of the case, as a sound named by a site file
        return Outcome("HALF A FILE" if out.exists() else "refused", _plain(said, hidden))
    if said:
        return _manifest(case, done, out, hidden) if case.kind == "manifest" else _lines(said)
    if case.kind == "manifest":
        return _manifest(case, done, out, hidden)
    result = json.loads(out.read_text(encoding="utf-8"))
    if case.what == "attacked" and case.kind in ("sound", "video"):
        return _compared(result["recordings"][0], place / case.file)
    return _result(case, result)


def _compared(told: dict, path: Path) -> Outcome:
    """A result of an attacked file against what an independent reader finds in the file."""
    codes = sorted(set(told["warnings"]) - _ORDINARY)
    found = found_in(path)
    if found is not None:
        by_db = told["lzeq_db"] - found.level_db
        by_peak_db = told["sample_peak_dbfs"] - found.peak_db
        by_length = told["duration_s"] / found.duration_s - 1
        # FFmpeg reads an AU past the end that its header names
        beyond = path.suffix == ".au" and by_length < 0
        apart = max(abs(by_db), abs(by_peak_db)) > _WRONG_DB or abs(by_length) > _WRONG_LENGTH
        if apart and not codes and not beyond:
            return Outcome(
                "WRONG",
                f"{by_db:+.1f} dB, peak {by_peak_db:+.1f} dB, length {100 * by_length:+.1f} % of "
                f"{found.duration_s:.2f} s",
            )
    return Outcome("caution" if codes else "right", ", ".join(codes))


def _lines(said: str) -> Outcome:
    return Outcome("STATUS", said)


def _plain(said: str, hidden: list[str]) -> str:
    text = said.removeprefix("audiolevel: ")
    for folder in hidden:
        text = text.replace(f"{folder}/", "")
    return text


def _manifest(case: Case, done: _Done, out: Path, hidden: list[str]) -> Outcome:
    """A batch is refused as a whole, or names the recording that failed."""
    if done.returncode == 0:
        return Outcome("right")
    said = done.stderr.strip()
    if said:
        return Outcome("HALF A FILE" if out.exists() else "refused", _plain(said, hidden))
    reason = (out / "failures.csv").read_text(encoding="utf-8").splitlines()[1]
    return Outcome("refused", reason.split(",", 1)[1])


def _result(case: Case, told: dict) -> Outcome:
    codes = _codes(case, told)
    worth_saying = [code for code in codes if code not in _ORDINARY]
    if case.kind in ("sound", "video") and not worth_saying:
        wrong = _wrong(told["recordings"][0], case)
        if wrong:
            return Outcome("WRONG", wrong)
    if case.kind in ("history", "site file", "marks"):
        # their own cautions are of the base, which is short and uncalibrated
        worth_saying = codes
    return Outcome("caution" if worth_saying else "right", ", ".join(sorted(set(worth_saying))))


def _codes(case: Case, told: dict) -> list[str]:
    if "recordings" in told:
        return list(told["recordings"][0]["warnings"])
    return [one["code"] for one in told["warnings"]]


@functools.cache
def _true_level() -> float:
    """LAeq of the undamaged sound."""
    from audiolevel.metering.measurement import measure

    with tempfile.TemporaryDirectory() as folder:
        sf.write(Path(folder) / "a.wav", sounds.wave(), sounds.RATE, subtype="FLOAT")
        return measure(Path(folder) / "a.wav").levels.laeq_db


# other sounds than that of the corpus, and what is no damage: a file that says of itself, without
# contradiction, that it is another one
_OTHER_SOUND = {
    *("digital silence", "one sample", "15 ms", "full scale throughout", "eight channels"),
    *("rate of 11,025 Hz", "data shorter than it is", "data of an odd length", "twice on end"),
    "its middle missing",
}
# a transport stream has neither a length nor an end: what is cut off its ends nobody can know
_ENDLESS = {"first tenth", "first half", "zeros in place of its beginning"}


def _wrong(told: dict, case: Case) -> str:
    if case.what in _OTHER_SOUND or (case.file == "a.ts" and case.what in _ENDLESS):
        return ""
    # an encoder's run-in of two frames, which a transport stream does not tell
    slack = 0.05 if case.file == "a.ts" else _WRONG_LENGTH
    by_db = told["laeq_db"] - _true_level()
    by_length = told["duration_s"] / sounds.SECONDS - 1
    if abs(by_db) > _WRONG_DB or abs(by_length) > slack:
        return f"{by_db:+.1f} dB, length {100 * by_length:+.0f} %, no caution"
    return ""


def main() -> None:
    """Write the files of the corpus into a folder."""
    folder = Path(sys.argv[1])
    base = make_base(folder / "base")
    count = 0
    for case in cases(base):
        place = folder / case.kind.replace(" ", "_") / case.number
        place.mkdir(parents=True, exist_ok=True)
        (place / case.file).write_bytes(case.data)
        count += 1
    print(f"{count} files")


if __name__ == "__main__":
    main()
