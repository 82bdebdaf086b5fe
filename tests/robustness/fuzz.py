"""Fuzzing of the readers: inputs that a coverage-guided search makes up, from those of the corpus.

`python -m tests.robustness.fuzz READER SECONDS`, or `all SECONDS` for each in turn; needs the extra
`fuzz` (atheris). A reader may give a result or an `AudioLevelError`; anything else stops the search
and the input is printed.
"""

import contextlib
import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

ENDINGS = {
    "sound": ".wav",
    "video": ".mp4",
    "history": ".csv",
    "site": ".toml",
    "log": ".csv",
    "manifest": ".csv",
    "marks": ".csv",
    "plan": ".json",
}


def readers() -> dict[str, Callable[[Path], object]]:
    """What reads each kind of file, all the way to a result."""
    from audiolevel.api.following import follow_up
    from audiolevel.batch.discovery import find_items
    from audiolevel.followup.event_log import LogFormat, read_log
    from audiolevel.metering.annotations import read_marks
    from audiolevel.metering.measurement import measure
    from audiolevel.site.site_file import read_site

    def followed(path: Path) -> object:
        return follow_up(path, path.parent / "good.csv")

    def listed(path: Path) -> object:
        # the file that the corpus' manifests name; a cell is read only where its file is there
        visits = path.parent / "visits"
        visits.mkdir(exist_ok=True)
        (visits / "a.wav").touch()
        return find_items(visits, manifest=path)

    return {
        "sound": measure,
        "video": measure,
        "history": measure,
        "site": read_site,
        "log": lambda path: read_log(path, LogFormat()),
        "manifest": listed,
        "marks": read_marks,
        "plan": followed,
    }


def seeds(kind: str) -> Iterator[bytes]:
    """Inputs to begin with."""
    from tests.robustness import sounds, texts

    if kind in ("sound", "video"):
        with tempfile.TemporaryDirectory() as scratch:
            made = sounds.sound_files if kind == "sound" else sounds.video_files
            for name, what, data in made(Path(scratch)):
                # the search grows small inputs best
                if what in ("as it was", "first tenth") and name != "a.w64":
                    yield data[:6000]
        return
    if kind == "plan":
        from audiolevel.records import json_text, to_object
        from tests.followup.made_log import plan_of

        yield json_text(to_object(plan_of())).encode()
        return
    made_texts = {
        "history": texts.histories,
        "site": texts.sites,
        "log": texts.logs,
        "manifest": texts.manifests,
        "marks": texts.marks,
    }
    for _, _, data, _ in made_texts[kind]():
        yield data[:3000]


def search(kind: str, seconds: int, folder: Path) -> None:
    """Search in this process; the library ends it."""
    import atheris

    with atheris.instrument_imports(include=["audiolevel"]):
        read = readers()[kind]
    from audiolevel.errors import AudioLevelError
    from tests.robustness import texts

    (folder / "good.csv").write_text(texts.LOG)
    path = folder / f"input{ENDINGS[kind]}"

    def one(data: bytes) -> None:
        path.write_bytes(data)
        with contextlib.suppress(AudioLevelError):
            read(path)

    corpus = folder / "corpus"
    corpus.mkdir()
    for number, data in enumerate(seeds(kind)):
        (corpus / str(number)).write_bytes(data)
    limits = [f"-max_total_time={seconds}", "-timeout=10", "-max_len=8000", "-rss_limit_mb=4096"]
    words = [f"-artifact_prefix={folder}/found-", "-print_final_stats=1", *limits, str(corpus)]
    atheris.Setup([sys.argv[0], *words], one)
    atheris.Fuzz()


def run(kind: str, seconds: int) -> tuple[int, str]:
    """Search in a process of its own: its exit status, and what it said last."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "tests.robustness.fuzz", kind, str(seconds), folder]
        done = subprocess.run(command, capture_output=True, text=True, errors="replace")
        said = done.stderr[-3000:]
        for found in sorted(Path(folder).glob("found-*")):
            said += f"\n{found.name}: {found.read_bytes()!r}"
        return done.returncode, said


def main() -> None:
    """Search for what the words ask, and print a row a reader."""
    kind, seconds = sys.argv[1], int(sys.argv[2])
    if len(sys.argv) > 3:
        search(kind, seconds, Path(sys.argv[3]))
        return
    worst = 0
    for one in ENDINGS if kind == "all" else kind.split(","):
        status, said = run(one, seconds)
        tried = [line.split()[-1] for line in said.splitlines() if "number_of_executed" in line]
        print(json.dumps({"reader": one, "seconds": seconds, "inputs": tried, "status": status}))
        if status:
            print(said)
        worst = max(worst, status)
        sys.stdout.flush()
    sys.exit(worst)


if __name__ == "__main__":
    main()
