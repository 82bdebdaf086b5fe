"""How long each command takes beside reading the file: `python -m tests.benchmarks.how_long`.

Prints the table of docs/questions.md: an hour of WAV made of the sample, on this computer. A ratio
says the same on a faster one, roughly.
"""

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import soundfile as sf

from audiolevel.api.demo import lay_out

SAMPLE = Path(__file__).parents[2] / "sample_audio"
TURNS = 3


def _hour(path: Path) -> None:
    sound, rate_hz = sf.read(SAMPLE / "bridge_approach.ogg")
    with sf.SoundFile(path, "w", rate_hz, 1) as file:
        for _ in range(3):
            file.write(sound)


def _reading_s(path: Path) -> float:
    began = time.perf_counter()
    for _ in sf.blocks(path, blocksize=160_000):
        pass
    return time.perf_counter() - began


def _took_s(*words: str) -> float:
    began = time.perf_counter()
    subprocess.run([sys.executable, "-m", "audiolevel", *words, "--quiet"], check=True)
    return time.perf_counter() - began


def rows(folder: Path) -> Iterator[tuple[str, float]]:
    """What was done, and how many times as long as reading it took."""
    site, sound = folder / "lane", folder / "hour.wav"
    _hour(sound)
    reading_s = min(_reading_s(sound) for _ in range(TURNS))
    yield "reading an hour of WAV, 16 kHz", reading_s

    def best(*words: str) -> float:
        return min(_took_s(*words) for _ in range(TURNS)) / reading_s

    yield "`measure`", best("measure", str(sound))
    lay_out(site)
    (site / "visits" / "20240604_093000.ogg").unlink()
    shutil.copy(sound, site / "visits" / "20240604_093000.wav")
    yield "`plan`, the first time", _took_s("plan", str(site)) / reading_s
    yield "`plan` again, after a changed line", best("plan", str(site))
    yield "`privacy`", _took_s("privacy", str(site)) / reading_s
    yield "`followup`", _took_s("followup", str(site), "--kind", "sound") / reading_s


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        for what, ratio in rows(Path(place)):
            print(f"| {what} | {ratio:.2g} |")
