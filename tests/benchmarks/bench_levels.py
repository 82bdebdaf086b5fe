"""How fast is measuring and planning, against the bare reading of the file?

`python -m tests.benchmarks.bench_levels` prints a table of ratios; both sides of each ratio are
run in turn in the same process, and the median of the pairs is shown. `--write` puts the table
into docs/performance.md. Takes about ten minutes and 10 GB of disk in a temporary folder.
"""

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy.signal import butter, sosfilt

DOC = Path(__file__).parents[2] / "docs" / "performance.md"
COMMAND = "python -m tests.benchmarks.bench_levels --write"


def street(path: Path, hours: float, rate_hz: int, peak_db: float = -8.0) -> Path:
    """A road of pass-bys as 16-bit WAV, written a minute at a time."""
    rng = np.random.default_rng(1)
    ramp = np.arange(60 * rate_hz) / rate_hz
    with sf.SoundFile(path, "w", rate_hz, 1, "PCM_16") as file:
        for _ in range(round(hours * 60)):
            power = np.full(len(ramp), 1e-5)
            for at in rng.uniform(0, 60, 8):
                power += 10 ** rng.normal(-2.6, 0.35) / (1 + ((ramp - at) / 0.9) ** 2)
            wave = rng.standard_normal(len(ramp), dtype=np.float32) * np.sqrt(power)
            top = 10 ** (peak_db / 20)
            file.write(np.clip(wave, -top, top))
    return path


def bare_minimum(path: Path) -> None:
    """Read in blocks to float32 and run one float32 filter of three sections."""
    sections = butter(6, 0.3, output="sos").astype(np.float32)
    state = np.zeros((3, 2), np.float32)
    with sf.SoundFile(path) as file:
        while len(block := file.read(65_536, dtype="float32")):
            _, state = sosfilt(sections, block, zi=state)


def measured(path: Path) -> None:
    """What `measure` does."""
    from audiolevel.metering.measurement import measure

    measure(path)


def planned(path: Path) -> None:
    """What `plan` does, with the thirteen gains and four modes it takes by default."""
    from audiolevel.metering.measurement import measure
    from audiolevel.planning.plan import plan_of
    from audiolevel.planning.survey import gains_to_simulate, survey_of
    from audiolevel.site.sections import Site

    site = Site()
    plan_of(survey_of([measure(path, gains=gains_to_simulate(site))], site))


def pyoctaveband(path: Path) -> None:
    """A weighting and F with PyOctaveBand 2.0.0, a minute at a time so that it fits in memory."""
    import pyoctaveband as pob

    with sf.SoundFile(path) as file:
        rate = file.samplerate
        while len(block := file.read(60 * rate)):
            weighted = pob.weighting_filter(block, rate, curve="A")
            pob.time_weighting(weighted, rate, mode="fast")


def seconds(job: Callable[[Path], None], path: Path) -> float:
    """Wall-clock time of one run."""
    begin = time.perf_counter()
    job(path)
    return time.perf_counter() - begin


def ratio(
    job: Callable[[Path], None],
    base: Callable[[Path], None],
    path: Path,
    pairs: int,
    base_path: Path | None = None,
) -> float:
    """Median over pairs, run in turn, of the time of one job over that of another."""
    found = []
    for _ in range(pairs):
        other = seconds(base, base_path or path)
        found.append(seconds(job, path) / other)
    return statistics.median(found)


def peak_mb(command: str, path: Path) -> float:
    """Peak memory of a fresh process that runs a command on a recording."""
    code = (
        "import sys, resource; from audiolevel.cli import main\n"
        f"main({[command, str(path), '--json', str(path) + '.json']!r}, standalone_mode=False)\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, file=sys.stderr)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(run.stderr.split()[-1])


def start_up(code: str, pairs: int = 15) -> float:
    """Median time of a fresh process."""
    found = []
    for _ in range(pairs):
        begin = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True)
        found.append(time.perf_counter() - begin)
    return statistics.median(found)


def table(folder: Path) -> list[tuple[str, str, str]]:
    """Rows of (what, measured, asked for)."""
    rows: list[tuple[str, str, str]] = []

    def add(what: str, value: str, wanted: str) -> None:
        rows.append((what, value, wanted))
        print(f"{what:<72} {value:>10}   {wanted}", flush=True)

    hour48 = street(folder / "hour48.wav", 1, 48_000)
    against_bare = ratio(measured, bare_minimum, hour48, 5)
    add("`measure`, 1 h at 48 kHz / bare read and filter", f"{against_bare:.2f}", "≤ 2.0")
    against_pob = ratio(pyoctaveband, measured, hour48, 3)
    add("PyOctaveBand 2.0.0 A and F, same samples / `measure`", f"{against_pob:.1f}", "≥ 5")
    hour48.unlink()
    hour, four = street(folder / "h1.wav", 1, 16_000), street(folder / "h4.wav", 4, 16_000)
    growth = ratio(measured, measured, four, 5, hour)
    add("`measure`, 4 h / 1 h at 16 kHz", f"{growth:.2f}", "≤ 4.3")
    minute, day = street(folder / "m.wav", 1 / 60, 16_000), street(folder / "d.wav", 24, 16_000)
    more = peak_mb("measure", day) - peak_mb("measure", minute)
    add("peak memory of `measure`, 24 h above 1 min at 16 kHz", f"{more:.0f} MB", "≤ 60 MB")
    add("peak memory of `plan`, 24 h at 16 kHz", f"{peak_mb('plan', day):.0f} MB", "≤ 400 MB")
    plan = ratio(planned, measured, day, 1)
    add("`plan` / `measure`, 24 h at 16 kHz, 13 gains, 4 modes", f"{plan:.2f}", "≤ 3")
    light = start_up("import numpy, click")
    whole = start_up("import audiolevel.cli as c; c.main(['--help'], standalone_mode=False)")
    add("`--help` / importing numpy and click", f"{whole / light:.2f}", "≤ 1.5")
    return rows


def main() -> None:
    """Run everything and print or write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    write = parser.parse_args().write
    with tempfile.TemporaryDirectory() as folder:
        rows = table(Path(folder))
    if write:
        lines = [
            "# Speed and memory",
            "",
            f"Made by `{COMMAND}` on two cores. Each figure is a ratio of two runs side by side,",
            "so that it says the same on a faster machine; nothing here is a timed test.",
            "",
            "| what | measured | asked for |",
            "|---|---|---|",
            *[f"| {what} | {value} | {wanted} |" for what, value, wanted in rows],
        ]
        DOC.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(
        f"peak of this process {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"
    )


if __name__ == "__main__":
    main()
