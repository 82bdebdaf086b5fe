"""`docs/robustness.md`: every file of the corpus and what came of it.

`python -m tests.robustness.page` runs the whole corpus (some minutes) and writes the page; with
`--check` it only prints what is not as it should be.
"""

import functools
import multiprocessing
import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from audiolevel.names import plain
from tests.robustness.corpus import Case, Outcome, cases, judge, make_base

PAGE = Path(__file__).parents[2] / "docs" / "robustness.md"
HEAD = """# Damaged and odd files

What the program makes of {count} files that are broken, cut off, empty, of another kind, in another
encoding, or that say what cannot be. Each is read by the command that reads its kind, in a process
of its own; `python -m tests.robustness.page` writes this page, `python -m tests.robustness.corpus
FOLDER` the files.

- **right**: the result of the undamaged file, within {wrong_db:g} dB and {length:g} % of length;
  where the file is another sound, or says of itself without contradiction that it is another one,
  the result of that.
- **caution**: a result with the cautions named.
- **refused**: one line on standard error, exit status 1, nothing written.

A transport stream (TS) has neither a length nor an end: of one that is cut off what is there is
measured, and nobody can know what is missing.

None gave a traceback, took longer than {longest:g} s, left half a file, or gave a wrong number
without a word.

Beyond these, a coverage-guided search makes up inputs of its own from them (extra `fuzz`;
`python -m tests.robustness.fuzz all 450` searches each reader for 450 s, an hour in all, and prints
how many inputs it tried; an eighth of a minute each is among the slow tests). A reader may give a
result or a refusal; anything else, an input that takes longer than 10 s or 4 GB among it, is a
find. {searched}

"""

# of the last hour-long search, kept by hand: it finds other inputs each time
SEARCHED = """The last
search: 65 minutes over all eight, 450 s each and 300 s more on manifests once it read their cells
too; 503,162 inputs, none of them a find."""


def all_outcomes(base: Path, processes: int = 2) -> list[tuple[Case, Outcome]]:
    """Every case and what came of it, in the order of the corpus."""
    make_base(base)
    corpus = list(cases(base))
    context = multiprocessing.get_context("fork")
    # its workers may have children, which the batches of manifests need
    with ProcessPoolExecutor(processes, mp_context=context) as pool:
        outcomes = pool.map(functools.partial(judge, base=base), corpus, chunksize=4)
        return list(zip(corpus, outcomes, strict=True))


def row(case: Case, outcome: Outcome) -> str:
    """A line of the table."""
    said = outcome.said.replace("|", "\\|").replace("\n", " ")
    # a page with a NUL in it is a binary file to those who search or compare it
    return plain(f"| `{case.file}` | {case.what} | {outcome.verdict} | {said} |")


def text(outcomes: list[tuple[Case, Outcome]]) -> str:
    """The page."""
    from tests.robustness import corpus

    lines = [
        HEAD.format(
            count=len(outcomes),
            wrong_db=corpus._WRONG_DB,
            length=100 * corpus._WRONG_LENGTH,
            longest=corpus.LONGEST_S,
            searched=SEARCHED,
        )
    ]
    kinds = list(dict.fromkeys(case.kind for case, _ in outcomes))
    lines += ["| kind | files | right | caution | refused |\n", "|---|---|---|---|---|\n"]
    for kind in [*kinds, "all"]:
        seen = Counter(o.verdict for case, o in outcomes if kind in (case.kind, "all"))
        cells = [seen[one] for one in ("right", "caution", "refused")]
        lines.append(f"| {kind} | {sum(seen.values())} | {' | '.join(map(str, cells))} |\n")
    for kind in kinds:
        lines.append(f"\n## {kind}\n\n| file | what is wrong | outcome | what was said |\n")
        lines.append("|---|---|---|---|\n")
        lines += [f"{row(case, one)}\n" for case, one in outcomes if case.kind == kind]
    return "".join(lines)


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
        PAGE.write_text(text(outcomes), encoding="utf-8")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
