"""An attack on the program from outside, for some seconds: damaged inputs, odd options, kills.

    python -m tests.robustness.attack --seconds 60 --seed 1
    python -m tests.robustness.attack --seed 1 --only 1234

draws one attack after the other, each by the seed and its number alone, and prints what must not
be: a traceback, a hang, more than 10 s of processor or 1 GB of memory, half a file, a number that
an independent reader of the same file does not find. The second repeats one of them.
"""

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

from tests.batch.made_folder import bytes_in, command_of, make_folder
from tests.robustness.corpus import Case, Outcome, cases, judge, judge_command, make_base
from tests.robustness.environments import ENVIRONMENTS

SHARES = {"sound": 30, "text": 38, "video": 10, "options": 15, "environment": 5, "kill": 2}
_MOST = 50_000_000
_INTEGERS = (0, 1, 2, 7, 0x7F, 0x80, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF)
_TOKENS = (
    *(
        "",
        "0",
        "-1",
        "1e309",
        "-1e309",
        "nan",
        "1e-320",
        "9" * 400,
        "0x10",
        "1_000",
        "١٢",
        "Ż",
        "\0",
    ),
    *("1970-01-01T00:00:00", "2099-12-31T23:59:59+14:00", "0001-01-01T00:00", "2026-03-29T02:30"),
    *(
        "true",
        "null",
        "[]",
        "{}",
        '"',
        "'",
        ",",
        ";",
        "\t",
        "\r",
        "\u2028",
        "x" * 200_000,
        "#",
        "=",
    ),
)
_VALUES: tuple[Any, ...] = (
    *(None, True, "", "x", "NaN", -1, 0, 0.5, 1e-300, 1e300, 10**30, -(10**9), 86_400, [], {}),
    *([0.0] * 100_000, [[]] * 1000, {"x": 1}, "2026-03-29T02:30", "Europe/Berlin", "mon-sun"),
)
_WORDS = (
    *("measure {a}", "trial {a}", "plan {a}", "privacy {a}", "followup {plan} {log}"),
    *("calibrate {a}", "sounds", "batch {folder} --out {out} --jobs 1", "measure {a} {a}"),
)
_OPTIONS = (
    *("--level", "--mode", "--gain", "--confidence", "--seed", "--from", "--to", "--start"),
    *("--site", "--marks", "--weather", "--channel", "--json", "--out", "--full", "--history"),
    *("--limit", "--zone", "--rearm-s", "--compare", "--manifest", "--tolerance-db", "--sequence"),
    *(
        "--level-column",
        "--time-column",
        "--tone-db",
        "--sound",
        "--distance-m",
        "--page",
        "--help",
    ),
    *("--begin", "--end", "--gap", "--kind", "--include", "--exclude", "--coarse", "--force"),
)


class Attack:
    """Attacks drawn by a seed, on files that are made once.

    Parameters
    ----------
    folder : Path
        To work in.
    seed : int
    """

    def __init__(self, folder: Path, seed: int) -> None:
        self.seed, self.folder = seed, folder
        self.base = make_base(folder / "base")
        self.good = [one for one in cases(self.base) if one.what == "as it was"]
        self.batch = make_folder(folder)
        subprocess.run(command_of(self.batch, "--out", folder / "good", "--quiet"), check=False)
        self.results = bytes_in(folder / "good")

    def one(self, number: int) -> tuple[str, str, Outcome]:
        """The attack of a number: its kind, what it was, and what came of it."""
        draw = random.Random(f"{self.seed}/{number}")
        kind = draw.choices(list(SHARES), list(SHARES.values()))[0]
        if kind == "options":
            words = self._words(draw)
            return kind, " ".join(words), judge_command(words, self.folder / "options")
        if kind == "environment":
            return self._environment(draw)
        if kind == "kill":
            return self._kill(draw, number)
        heard = ("sound", "video")
        one = draw.choice(
            [x for x in self.good if (x.kind == kind if kind in heard else x.kind not in heard)]
        )
        change = _bytes_changed if kind in heard else _text
        data = change(one.data, draw)
        for _ in range(draw.choice((0, 0, 1, 3))):
            data = change(data, draw)
        case = Case(one.kind, one.file, "attacked", data)
        return one.kind, one.file, judge(case, self.base)

    def _words(self, draw: random.Random) -> list[str]:
        places = {
            "a": self.base / "a.wav",
            "plan": self.base / "plan.json",
            "log": self.base / "log.csv",
            "folder": self.base / "folder",
            "out": "out",
        }
        words = draw.choice(_WORDS).format(**places).split(" ")
        values = [*_TOKENS[:-5], *map(str, places.values()), "mean", "1", "rise", "wet", "90"]
        for option in draw.choices(_OPTIONS, k=draw.choice((0, 1, 1, 2, 3))):
            words += [option] * draw.choice((1, 1, 1, 40))
            # a null character is no part of an argument
            words += [draw.choice(values).replace("\0", "0")] * draw.choice((0, 1, 1, 1))
        return words

    def _environment(self, draw: random.Random) -> tuple[str, str, Outcome]:
        one = draw.choice(ENVIRONMENTS)
        with tempfile.TemporaryDirectory(dir=self.folder) as name:
            subprocess.run(["cp", "-r", f"{self.base}/.", name], check=True)
            subprocess.run(["cp", f"{name}/a.wav", f"{name}/Ża.wav"], check=True)
            fault = one.fault(Path(name))
        return "environment", one.line, Outcome("STATUS", fault) if fault else Outcome("right")

    def _kill(self, draw: random.Random, number: int) -> tuple[str, str, Outcome]:
        """Kill workers of a batch, one or all, once or three times in a row."""
        out = self.folder / f"killed{number}"
        at_s, all_of_them = draw.uniform(0.05, 3.0), draw.random() < 0.5
        run = subprocess.Popen(
            command_of(self.batch, "--out", out, "--jobs", 2),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        time.sleep(at_s)
        for _ in range(draw.choice((1, 1, 3))):
            workers = _children(run.pid)
            for worker in workers if all_of_them else draw.choices(workers, k=bool(workers)):
                try:
                    os.kill(worker, signal.SIGKILL)
                except ProcessLookupError:
                    continue
            time.sleep(draw.uniform(0.01, 0.4))
        what = f"{'all' if all_of_them else 'one'} at {at_s:.2f} s"
        try:
            said = run.communicate(timeout=120)[1]
        except subprocess.TimeoutExpired:
            run.kill()
            return "kill", what, Outcome("HANG")
        if "Traceback" in said or run.returncode != 4:
            return "kill", what, Outcome("TRACEBACK", said[-300:])
        same = bytes_in(out) == self.results
        return "kill", what, Outcome("right") if same else Outcome("WRONG", "other results")


def _children(process: int) -> list[int]:
    found: list[int] = []
    for task in Path(f"/proc/{process}/task").glob("*/children"):
        try:
            found += map(int, task.read_text().split())
        except OSError:
            continue
    return found


def _bytes_changed(data: bytes, draw: random.Random) -> bytes:
    """A sound or a video with something that a card, a line or a program could do to it."""
    out = bytearray(data)
    # more often in the header than its share
    end = len(out) if draw.random() < 0.5 else min(len(out), 200)
    at, to = sorted((draw.randrange(end + 1), draw.randrange(len(out) + 1)))
    match draw.randrange(7):
        case 0:
            for _ in range(draw.choice((1, 3, 30))):
                if out:
                    out[draw.randrange(min(end, len(out)))] ^= 1 << draw.randrange(8)
        case 1:
            order = draw.choice(("little", "big"))
            size = draw.choice((2, 4, 8))
            value = draw.choice(_INTEGERS) % (1 << 8 * size)
            out[at : at + size] = value.to_bytes(size, order)  # type: ignore[arg-type]
        case 2:
            del out[at:to]
        case 3:
            out[at:to] = bytes(to - at)
        case 4:
            out[at:at] = out[at:to]
        case 5:
            out[at : at + 300] = draw.randbytes(300)
        case 6:
            del out[to:]
    return bytes(out)


def _text(data: bytes, draw: random.Random) -> bytes:
    """A text with other cells, lines, values or bytes."""
    text = data.decode("utf-8", "surrogateescape")
    if text.startswith("{") and draw.random() < 0.7:
        try:
            return json.dumps(_value_changed(json.loads(text), draw)).encode()
        except (ValueError, RecursionError):
            pass
    lines = text.split("\n")
    at = draw.randrange(len(lines))
    match draw.randrange(6):
        case 0:
            cells = lines[at].replace(";", ",").split(",")
            cells[draw.randrange(len(cells))] = draw.choice(_TOKENS)
            lines[at] = (";" if ";" in lines[at] else ",").join(cells)
        case 1:
            times = draw.choice((1, 100, 300_000))
            lines[at:at] = [lines[at]] * min(times, _MOST // (1 + len(lines[at])))
        case 2:
            del lines[at : at + draw.choice((1, 5))]
        case 3:
            where = draw.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:where] + draw.choice(_TOKENS) + lines[at][where:]
        case 4:
            draw.shuffle(lines)
        case 5:
            return _bytes_changed(data, draw)
    return "\n".join(lines).encode("utf-8", "surrogateescape")


def _value_changed(whole: Any, draw: random.Random) -> Any:
    """A JSON with one value of any depth changed, left out or doubled."""
    inside = [whole]
    for one in inside:
        if isinstance(one, dict | list):
            some = list(one.values()) if isinstance(one, dict) else one[:50]
            inside += [x for x in some if isinstance(x, dict | list) and x]
    place = draw.choice(inside)
    key = draw.choice(list(place)) if isinstance(place, dict) else draw.randrange(len(place))
    if draw.random() < 0.2:
        del place[key]
    else:
        place[key] = draw.choice([*_VALUES, [place[key]] * 3])
    return whole


def main() -> None:
    """Attack until the time is up; status 1 where something gave way."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seconds", type=float, default=60.0)
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--only", type=int, help="the number of one attack")
    given = options.parse_args()
    counts: Counter[tuple[str, str]] = Counter()
    begin, number, bad = time.monotonic(), given.only or 0, 0
    with tempfile.TemporaryDirectory() as folder:
        attack = Attack(Path(folder), given.seed)
        while time.monotonic() - begin < given.seconds:
            kind, what, outcome = attack.one(number)
            counts[kind, outcome.verdict] += 1
            if not outcome.good or given.only is not None:
                bad += not outcome.good
                print(f"{number}: {kind}: {what[:200]}: {outcome.verdict}: {outcome.said[-400:]}")
                sys.stdout.flush()
            if given.only is not None:
                break
            number += 1
    for (kind, verdict), count in sorted(counts.items()):
        print(f"{kind:12} {verdict:10} {count:6}")
    print(f"{sum(counts.values())} attacks, {bad} gave way")
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
