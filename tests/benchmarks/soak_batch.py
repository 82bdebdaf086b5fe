"""Does a batch keep its promises at size: speed, memory, tiny files?

`python -m tests.benchmarks.soak_batch [speed] [hour] [tiny]` (all without words; some ten minutes
and 3 GB of disk in a temporary folder). Prints a row a promise. `against FOLDER` compares with
the program in another folder, an earlier commit of this one, say.
"""

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import soundfile as sf

RATE = 16_000


def files(
    folder: Path, count: int, seconds: float, copies_of: int = 20, rate_hz: int = RATE
) -> Path:
    """Recordings of a made-up road; further ones are copies under other names."""
    folder.mkdir(parents=True)
    rng = np.random.default_rng(1)
    for i in range(count):
        path = folder / f"r{i:05d}.wav"
        if i < copies_of:
            wave = rng.normal(0, 0.03 * rng.uniform(0.5, 2), round(seconds * rate_hz))
            sf.write(path, wave, rate_hz)
        else:
            path.write_bytes((folder / f"r{i % copies_of:05d}.wav").read_bytes())
    return folder


def command(folder: Path, out: Path, jobs: int) -> list[str]:
    """A batch in a process of its own."""
    words = ["batch", str(folder), "--out", str(out), "--jobs", str(jobs)]
    code = (
        "import sys, resource, audiolevel.cli as c\n"
        f"c.main({words!r}, standalone_mode=False)\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)"
    )
    return [sys.executable, "-c", code]


def run(folder: Path, out: Path, jobs: int) -> tuple[float, float]:
    """Seconds, and the parent's peak memory in MB."""
    begin = time.perf_counter()
    done = subprocess.run(command(folder, out, jobs), capture_output=True, text=True, check=True)
    return time.perf_counter() - begin, float(done.stderr.split()[-1])


def bare_decode(folder: Path) -> float:
    """Seconds to read every file with two threads and do nothing."""

    def read(path: Path) -> None:
        with sf.SoundFile(path) as file:
            while len(file.read(480_000, dtype="float32")):
                pass

    begin = time.perf_counter()
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(read, sorted(folder.iterdir())))
    return time.perf_counter() - begin


def speed(root: Path) -> None:
    """400 files of three minutes on two cores against one."""
    few, many = files(root / "few", 40, 180), files(root / "many", 400, 180)
    ratios, two = [], []
    for turn in range(3):
        one_s, _ = run(many, root / f"one{turn}", 1)
        two_s, memory = run(many, root / f"two{turn}", 2)
        ratios.append(one_s / two_s)
        two.append(two_s)
    _, small = run(few, root / "small", 2)
    heard_s = 400 * 180
    took = statistics.median(two)
    print(f"speed with --jobs 2 / --jobs 1: {statistics.median(ratios):.2f} (asked for ≥ 1.7)")
    print(f"parent memory, 400 files above 40: {memory - small:.0f} MB (asked for ≤ 50)")
    bare = bare_decode(many)
    print(f"{heard_s / took:.0f} × real time; bare decode {heard_s / bare:.0f} × real time")


def hour(root: Path) -> None:
    """An hour at 48 kHz in twenty files: two workers against one, as they measure and in all."""
    import audiolevel as al

    folder = files(root / "hour", 20, 180, rate_hz=48_000)
    measuring, whole = [], []
    for turn in range(3):
        a_file, took = {}, {}
        for jobs in (1, 2):
            seen: list[tuple[float, float]] = []

            def tell(done: float, _: float, seen: list[tuple[float, float]] = seen) -> None:
                seen.append((done, time.perf_counter()))

            begin = time.perf_counter()
            al.measure_folder(folder, root / f"{turn}-{jobs}", jobs=jobs, progress=tell)
            took[jobs] = time.perf_counter() - begin
            # from when every worker has begun and brought its first
            rest = [one for one in seen if one[0] >= jobs]
            a_file[jobs] = (rest[-1][1] - rest[0][1]) / (rest[-1][0] - rest[0][0])
        measuring.append(a_file[1] / a_file[2])
        whole.append(took[1] / took[2])
    print(
        f"an hour at 48 kHz, two workers against one: {statistics.median(measuring):.2f} while "
        f"they measure, {statistics.median(whole):.2f} with their start and the pages"
    )


def tiny(root: Path) -> None:
    """10,000 files of a tenth of a second: time beyond measuring each of them."""
    from audiolevel.batch.discovery import find_items
    from audiolevel.batch.runner import Task, measure_task
    from audiolevel.report.batch.record import record_of

    folder = files(root / "tiny", 10_000, 0.1)
    items = find_items(folder)
    begin = time.perf_counter()
    for item in items[:1000]:
        measure_task(Task(str(folder), item, record_of))
    own = (time.perf_counter() - begin) / 1000
    took, _ = run(folder, root / "tiny-out", 2)
    print(
        f"10,000 tiny files: {1000 * took / 10_000:.2f} ms a file with two workers, of which "
        f"{1000 * own / 2:.2f} are its own work; overhead "
        f"{1000 * (took / 10_000 - own / 2):.2f} ms (asked for < 10)"
    )


def spent(source: Path, words: list[str], out: Path) -> tuple[float, float]:
    """Wall and processor seconds of a batch by the program in a folder."""
    shutil.rmtree(out, ignore_errors=True)
    code = f"import audiolevel.cli as c; c.main({words!r}, standalone_mode=False)"
    before, begin = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(source)},
        cwd=out.parent,
        capture_output=True,
        check=True,
    )
    wall_s, after = time.perf_counter() - begin, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def against(root: Path, other: Path) -> None:
    """40 files of three minutes by this program and another in turn, medians of seven turns."""
    folder, out, here = files(root / "visits", 40, 180), root / "out", Path(__file__).parents[2]
    for jobs in (1, 2):
        words = ["batch", str(folder), "--out", str(out), "--jobs", str(jobs)]
        turns = [(spent(other, words, out), spent(here, words, out)) for _ in range(7)]
        # of each turn, since others use the computer meanwhile
        wall, processor = (
            statistics.median(theirs[i] / ours[i] for theirs, ours in turns) for i in (0, 1)
        )
        print(f"--jobs {jobs}: {wall:.2f} times as fast, by processor time {processor:.2f} times")


def main() -> None:
    """What the words ask for."""
    if sys.argv[1:2] == ["against"]:
        with tempfile.TemporaryDirectory() as folder:
            against(Path(folder), Path(sys.argv[2]))
        return
    parts = {"speed": speed, "hour": hour, "tiny": tiny}
    for name in sys.argv[1:] or parts:
        with tempfile.TemporaryDirectory() as folder:
            parts[name](Path(folder))


if __name__ == "__main__":
    main()
