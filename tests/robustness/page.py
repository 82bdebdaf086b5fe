"""`docs/robustness.md` and `robustness.csv`: every file of the corpus and what came of it.

`python -m tests.robustness.page` runs the whole corpus (some minutes) and writes both; with
`--check` it only prints what is not as it should be.
"""

import csv
import functools
import io
import multiprocessing
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from audiolevel.ground.names import plain
from tests.robustness import corpus
from tests.robustness.corpus import Case, Outcome, cases, judge, make_base
from tests.robustness.environments import ENVIRONMENTS

DOCS = Path(__file__).parents[2] / "docs"
PAGE, ROWS = DOCS / "robustness.md", DOCS / "robustness.csv"
COLUMNS = ("kind", "file", "what is wrong", "outcome", "what was said")
HEAD = """# Under fire

What the program makes of files that are broken or say what cannot be, of a computer that denies
it something, and of workers that are killed. Any of it may end in a result, a result with a
caution, or one line on standard error and the status 1. It may not end in a traceback, in half a
file, in a number that is wrong without a word, in more than {longest:g} s of processor beyond a
second for each megabyte of input, or in more than {most:g} GB of memory; and what was there is
there.

**Damaged files.** {count} files, cut off, empty, of another kind or encoding, with headers that
lie. Each is read by the command that reads its kind, in a process of its own.

| kind | files | right | caution | refused |
|---|---|---|---|---|
{table}
Right is the result of the undamaged file, within {wrong_db:g} dB and {length:g} % of length, or
of the other sound that the file says it is. What came of each file, and what was said, is in
[robustness.csv](robustness.csv). A transport stream has neither a length nor an end: of one that
is cut off what is there is measured, and what is missing is not known.

**Large inputs.** More is refused in one line, where the file is read:

| input | at most |
|---|---|
| site file | 1 MB; 32 gains, 20 wanted sounds, 200 entries of any other list |
| plan | 16 MB |
| marks, manifest | 16 MB; 10,000 marks, 200,000 recordings |
| camera's log | 50 MB, 525,600 rows, 10 years |
| earlier results (`--compare`) | 128 MB |
| recording | 64 channels; its length costs time and no memory |

**The computer.** {environments} environments (`tests/robustness/environments.py`): six encodings
of the output, which is full, closed or not read to its end; no home, no temporary folder, no such
time zone; few open files, little memory, no room for the next write. JSON is UTF-8 whatever the
encoding.

**Attack.** `python -m tests.robustness.attack --seconds 3600 --seed 1` draws damaged inputs, odd
options, environments and kills by its seed, one minute of it in each run of CI. A result of a
damaged sound is compared with what an independent reader finds in the same file (SciPy, FFmpeg):
length, level and highest sample. {attacked}
"""

# of the last long attack, kept by hand: each finds other inputs
ATTACKED = """The last ones, 26 minutes in all: 2,143 attacks, of which two
gave way at first (Ogg and AU files with a piece doubled; an Ogg is now told, an AU is read to the
end that its header names)."""


def all_outcomes(base: Path, processes: int = 2) -> list[tuple[Case, Outcome]]:
    """Every case and what came of it, in the order of the corpus."""
    make_base(base)
    files = list(cases(base))
    context = multiprocessing.get_context("fork")
    # its workers may have children, which the batches of manifests need
    with ProcessPoolExecutor(processes, mp_context=context) as pool:
        outcomes = pool.map(functools.partial(judge, base=base), files, chunksize=4)
        return list(zip(files, outcomes, strict=True))


def row(case: Case, outcome: Outcome) -> str:
    """A line of the table."""
    out = io.StringIO()
    # a table with a NUL in it is a binary file to those who search or compare it
    cells = (case.kind, case.file, case.what, outcome.verdict, outcome.said)
    csv.writer(out, lineterminator="").writerow(map(plain, cells))
    return out.getvalue()


def rows(outcomes: list[tuple[Case, Outcome]]) -> str:
    """The table of every file."""
    return "\n".join([",".join(COLUMNS), *(row(*one) for one in outcomes), ""])


def text(table: str) -> str:
    """The page, of the table of every file."""
    told = [(one["kind"], one["outcome"]) for one in csv.DictReader(io.StringIO(table))]
    counts = Counter([*told, *(("all", verdict) for _, verdict in told)])
    lines = []
    for kind in [*dict.fromkeys(kind for kind, _ in told), "all"]:
        cells = [counts[kind, verdict] for verdict in ("right", "caution", "refused")]
        lines.append(f"| {kind} | {sum(cells)} | {' | '.join(map(str, cells))} |\n")
    return HEAD.format(
        count=len(told),
        table="".join(lines),
        wrong_db=corpus._WRONG_DB,
        length=100 * corpus._WRONG_LENGTH,
        longest=corpus.LONGEST_S,
        most=corpus.MOST_KB / 1e6,
        environments=len(ENVIRONMENTS),
        attacked=ATTACKED,
    )


def faults(outcomes: list[tuple[Case, Outcome]]) -> list[str]:
    """What is not as it should be."""
    return [
        f"{case.kind}: {case.file}: {case.what}: {outcome.verdict}"
        f"{f', wanted {case.wanted}' if case.wanted else ''}: {outcome.said}"
        for case, outcome in outcomes
        if not outcome.good or (case.wanted and outcome.verdict != case.wanted)
    ]


def main() -> None:
    """Run the corpus, and write the page where all is as it should be."""
    with tempfile.TemporaryDirectory() as folder:
        outcomes = all_outcomes(Path(folder) / "base")
    wrong = faults(outcomes)
    print("\n".join(wrong) or "all as it should be")
    if "--check" not in sys.argv and not wrong:
        table = rows(outcomes)
        ROWS.write_text(table, encoding="utf-8")
        PAGE.write_text(text(table), encoding="utf-8")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
