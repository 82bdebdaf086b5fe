"""Do the commands and the Python of the guides print what the pages show?

    python -m tests.guides --check     runs them and compares, line by line
    python -m tests.guides --write     puts what they print into the pages

A page's ```sh and ```python blocks are run in their order, each by itself, in one folder a page
that holds `sample_audio` and the recordings of `tests.guide_files`. A ```text block right
below one shows what it prints; a line `…` in it stands for any number of lines that are left out.
A block without one must only succeed.
"""

import argparse
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.guide_files import fill

ROOT = Path(__file__).parents[1]
PAGES = tuple(ROOT / "docs" / f"{name}.md" for name in ("tutorial", "howto", "python", "decisions"))
LEFT_OUT = "…"
_BLOCKS = re.compile(
    r"^(?P<indent> *)```(?P<language>sh|python)\n(?P<commands>.*?)^(?P=indent)```\n"
    r"(?:\n?(?P=indent)```text\n(?P<shown>.*?)^(?P=indent)```\n)?",
    re.MULTILINE | re.DOTALL,
)


class Vanished(Exception):
    """A line of a page that nothing in the output begins like."""


@dataclass(frozen=True)
class Exchange:
    """Commands of a page and what it shows of their output; None where it shows nothing."""

    line: int
    language: str
    commands: str
    shown: tuple[str, ...] | None
    indent: str
    # of the lines shown, in the page
    start: int
    end: int


def exchanges(page: str) -> list[Exchange]:
    """Every block of commands of a page, in order."""
    found = []
    for match in _BLOCKS.finditer(page):
        indent = match["indent"]
        shown = match["shown"]
        found.append(
            Exchange(
                line=page.count("\n", 0, match.start()) + 2,
                language=match["language"],
                commands="\n".join(_out_of(match["commands"], indent)),
                shown=None if shown is None else tuple(_out_of(shown, indent)),
                indent=indent,
                start=match.start("shown"),
                end=match.end("shown"),
            )
        )
    return found


def _out_of(block: str, indent: str) -> list[str]:
    return [line.removeprefix(indent).rstrip() for line in block.splitlines()]


def difference(shown: tuple[str, ...], printed: list[str]) -> str | None:
    """The first line shown that is not printed there, or what is printed and not shown."""
    at = 0
    parts = _parts(shown)
    for number, part in enumerate(parts):
        first, last = number == 0, number == len(parts) - 1
        if last and not first:
            # the last lines shown are the last lines printed
            at = max(at, len(printed) - len(part))
        elif not first:
            at = _found(part, printed, at)
        for line in part:
            if at >= len(printed) or printed[at] != line:
                there = repr(printed[at]) if at < len(printed) else "nothing more"
                return f"{line!r} is shown, {there} is printed"
            at += 1
    return None if at == len(printed) else f"{printed[at]!r} is printed and not shown"


def _parts(shown: tuple[str, ...]) -> list[list[str]]:
    """The lines between what is left out; an empty part where that is at either end."""
    parts: list[list[str]] = [[]]
    for line in shown:
        if line == LEFT_OUT:
            parts.append([])
        else:
            parts[-1].append(line)
    return parts


def _found(part: list[str], printed: list[str], at: int) -> int:
    """Where a part is printed next; where its first line is, or `at`, if it is not."""
    starts = range(at, len(printed))
    whole = [i for i in starts if printed[i : i + len(part)] == part]
    begun = [i for i in starts if part and printed[i] == part[0]]
    return next(iter(whole + begun), at)


def renewed(shown: tuple[str, ...], printed: list[str]) -> list[str]:
    """What is printed, of all that is shown; what was left out stays so, an empty block gets all.

    Raises
    ------
    Vanished
        Something is shown that no longer begins a line.
    """
    if not shown:
        return printed
    entries = list(_entries(printed))
    lines: list[str] = []
    at = 0
    if shown[0] == LEFT_OUT:
        lines, at = [LEFT_OUT], 1
    after = at
    for label in [_label(entry[0]) for part in _parts(shown) for entry in _entries(part)]:
        # the head of an output names files and lengths, which change: it is the first in any case
        is_head = not lines
        at = 0 if is_head else _next(label, entries, after)
        if at > after and lines[-1] != LEFT_OUT:
            lines = [*_without_blank_end(lines), LEFT_OUT]
        lines += entries[at]
        after = at + 1
    lines = _without_blank_end(lines)
    return lines if after == len(entries) or lines == [LEFT_OUT] else [*lines, LEFT_OUT]


def _entries(lines: list[str]) -> Iterator[list[str]]:
    """Lines by what they belong to: one that begins at the margin, with those below it."""
    entry: list[str] = []
    for line in lines:
        if entry and line and not line.startswith(" "):
            yield entry
            entry = []
        entry.append(line)
    if entry:
        yield entry


def _label(line: str) -> str:
    """What an entry is known by while its numbers change."""
    return re.split(r"  |:", line)[0]


def _next(label: str, entries: list[list[str]], at: int) -> int:
    for number in range(at, len(entries)):
        if _label(entries[number][0]) == label:
            return number
    raise Vanished(f"nothing that is printed begins with {label!r}")


def _without_blank_end(lines: list[str]) -> list[str]:
    while lines and not lines[-1]:
        lines = lines[:-1]
    return lines


def printed_by(language: str, commands: str, folder: Path) -> list[str]:
    """What commands of a shell, or statements of Python, print; they must succeed."""
    shell = ["bash", "-euo", "pipefail"] if language == "sh" else [sys.executable]
    # this interpreter's programs are found first, and nothing of the caller's colours or width
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    run = subprocess.run(
        [*shell, "-c", commands],
        cwd=folder,
        env={**os.environ, "PATH": path, "COLUMNS": "80", "MPLBACKEND": "Agg"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    if run.returncode:
        raise RuntimeError(f"ended with status {run.returncode}: {run.stdout.strip()}")
    return [line.rstrip() for line in run.stdout.splitlines()]


def _checked(page: Path, folder: Path) -> Iterator[str]:
    """What is wrong with a page, a line each."""
    for exchange in exchanges(page.read_text(encoding="utf-8")):
        try:
            printed = printed_by(exchange.language, exchange.commands, folder)
        except RuntimeError as problem:
            yield f"{page.name}:{exchange.line}: {problem}"
            continue
        wrong = None if exchange.shown is None else difference(exchange.shown, printed)
        if wrong:
            yield f"{page.name}:{exchange.line}: {wrong}"


def _written(page: Path, folder: Path) -> Iterator[str]:
    """Renew the page; what could not be renewed stays, and is told, a line each."""
    text = page.read_text(encoding="utf-8")
    moved = 0
    for exchange in exchanges(text):
        try:
            printed = printed_by(exchange.language, exchange.commands, folder)
            fresh = None if exchange.shown is None else renewed(exchange.shown, printed)
        except (RuntimeError, Vanished) as problem:
            yield f"{page.name}:{exchange.line}: {problem}"
            continue
        if fresh is not None:
            block = "".join(f"{exchange.indent}{line}".rstrip() + "\n" for line in fresh)
            text = text[: exchange.start + moved] + block + text[exchange.end + moved :]
            moved += len(block) - (exchange.end - exchange.start)
    page.write_text(text, encoding="utf-8")


def main() -> int:
    """Check the pages, or write them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--check", dest="work", action="store_const", const=_checked)
    what.add_argument("--write", dest="work", action="store_const", const=_written)
    parser.add_argument("pages", nargs="*", type=Path, help="by default all that have commands")
    options = parser.parse_args()
    # most of the time goes into the commands, which are processes of their own
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        pages = options.pages or PAGES
        problems = [
            one for page in pool.map(partial(_problems, options.work), pages) for one in page
        ]
    print("\n".join(problems), end="\n" if problems else "")
    return min(len(problems), 1)


def _problems(work: Callable[[Path, Path], Iterator[str]], page: Path) -> list[str]:
    """What is wrong with a page, in a folder of its own."""
    with tempfile.TemporaryDirectory() as folder:
        fill(Path(folder), ROOT / "sample_audio", page.read_text(encoding="utf-8"))
        return list(work(page, Path(folder)))


if __name__ == "__main__":
    sys.exit(main())
