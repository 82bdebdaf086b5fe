"""Recordings, logs and site files that the commands of the how-to name, made of the sample.

What a page names and a reader would have made on site is made here, so that its commands run.
"""

import csv
import shutil
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import soundfile as sf

import audiolevel as al

RATE_HZ = 16_000
# of the sample: a sine that fills the scale is so loud
SPL_AT_FULL_SCALE_DB = 110.0


def fill(folder: Path, sample: Path, named_in: str) -> None:
    """Put a copy of the sample into a folder, and every other file that a page's text names."""
    shutil.copytree(sample, folder / sample.name)
    sound, rate_hz = sf.read(sample / "bridge_approach.ogg")
    assert rate_hz == RATE_HZ
    for name, make in _MAKERS.items():
        if name in named_in:
            make(folder / name.strip(), sound)


_Maker = Callable[[Path, np.ndarray], None]


def _minutes(begin: float, end: float) -> _Maker:
    """A part of the sample's sound."""

    def make(path: Path, sound: np.ndarray) -> None:
        sf.write(path, sound[round(begin * 60 * RATE_HZ) : round(end * 60 * RATE_HZ)], RATE_HZ)

    return make


def _split(path: Path, sound: np.ndarray) -> None:
    """Two minutes each, as a recorder splits them."""
    for begin in (0, 2):
        name = path.name.replace("*", f"20260302_080{begin}00")
        _minutes(begin, begin + 2)(path.with_name(name), sound)


def _tone(seconds: float, level_db: float) -> np.ndarray:
    """A sine of 1 kHz over a little noise."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    noise = np.random.default_rng(1).normal(0, 1e-4, len(time))
    return np.asarray(10 ** (level_db / 20) * np.sin(2 * np.pi * 1000 * time) + noise)


def _calibrator(spl_db: float, gain_db: float = 0.0) -> _Maker:
    """A sound calibrator's tone, at a gain relative to the sample's."""

    def make(path: Path, _: np.ndarray) -> None:
        sf.write(path, _tone(12, spl_db - SPL_AT_FULL_SCALE_DB + gain_db), RATE_HZ)

    return make


def _steps(path: Path, _: np.ndarray) -> None:
    """A phone's noise beside the camera: soft, louder, louder still, half a minute each."""
    noise = np.random.default_rng(2).normal(0, 1, 90 * RATE_HZ)
    levels = np.repeat([-52.0, -39.5, -28.5], 30 * RATE_HZ)
    sf.write(path, noise * 10 ** (levels / 20), RATE_HZ)


def _quiet(gain_db: float) -> _Maker:
    """A quiet room: the capsule's noise, moved by the gain, and the converter's."""

    def make(path: Path, _: np.ndarray) -> None:
        rng = np.random.default_rng(3)
        capsule, converter = rng.normal(
            0, 10 ** (np.array([[-78 + gain_db], [-88]]) / 20), (2, 30 * RATE_HZ)
        )
        sf.write(path, capsule + converter, RATE_HZ, subtype="PCM_24")

    return make


def _claps(path: Path, _: np.ndarray) -> None:
    """A steady tone over the site's noise, and nine claps 2.5 s apart."""
    rng = np.random.default_rng(4)
    wave = _tone(28, -26) + rng.normal(0, 2e-3, 28 * RATE_HZ)
    for clap in range(9):
        at = round((3 + 2.5 * clap) * RATE_HZ)
        wave[at : at + 800] += 0.4 * np.exp(-np.arange(800) / 150) * rng.normal(0, 1, 800)
    sf.write(path, wave, RATE_HZ)


def _site(path: Path, _: np.ndarray) -> None:
    """A site file without a calibration: the sample's gain steps and limits."""
    path.write_text(
        '[site]\nname = "Quarry Lane bridge approach"\nkind = "busy road"\n\n'
        '[gain]\nrecorded_at = "mid"\n'
        'steps = [["low", -12.0], ["mid", 0.0], ["high", 12.0]]\n\n'
        '[trigger]\nmodes = ["threshold"]\n\n[limits]\nfalse_triggers_per_day = 60\n',
        encoding="utf-8",
    )


def _marks(path: Path, _: np.ndarray) -> None:
    """The sample's marks of its first ten minutes."""
    marks = (path.parent / "sample_audio" / "wanted.csv").read_text(encoding="utf-8").splitlines()
    kept = [line for line in marks[1:] if float(line.split(",")[1]) <= 600]
    path.write_text("\n".join([marks[0], *kept]) + "\n", encoding="utf-8")


def _meter_log(path: Path, sound: np.ndarray) -> None:
    """The log of a sound level meter, a row a second, with decimal commas."""
    laf = al.measure(sound, rate_hz=RATE_HZ).laf_db
    loudest = laf[: len(laf) // 100 * 100].reshape(-1, 100).max(axis=1) + SPL_AT_FULL_SCALE_DB
    begin = datetime(2026, 3, 2, 22, 0, 0)
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file, delimiter=";", lineterminator="\n")
        rows.writerow(["Date", "LAFmax"])
        for second, level in enumerate(loudest, start=1):
            rows.writerow([begin + timedelta(seconds=second), f"{level:.1f}".replace(".", ",")])


def _video(path: Path, sound: np.ndarray) -> None:
    # imported here: only the how-to's page on video needs the extra
    from tests.metering.made_video import write_video

    write_video(path, sound[: 60 * RATE_HZ], RATE_HZ, "aac", bit_rate=96_000)


def _folder(path: Path, sound: np.ndarray) -> None:
    """Three visits at one gain, in a folder with the sample's site file."""
    path.mkdir()
    for number in range(3):
        _minutes(5 * number, 5 * number + 3)(path / f"visit{number + 1}.wav", sound)
    shutil.copy(path.parent / "sample_audio" / "site.toml", path / "site.toml")


def _manifest(path: Path, _: np.ndarray) -> None:
    path.write_text(
        "path,start,gain_setting\nvisit1.wav,2026-03-02T08:00,mid\n"
        "visit2.wav,2026-03-04T17:30,mid\nvisit3.wav,2026-03-07T23:00,mid\n",
        encoding="utf-8",
    )


_MAKERS: dict[str, _Maker] = {
    "street.wav": _minutes(0, 10),
    "monday.wav": _minutes(0, 6),
    "wednesday.wav": _minutes(6, 12),
    "saturday.wav": _minutes(12, 18),
    "rec_*.wav": _split,
    "tone94.wav": _calibrator(94),
    "low94.wav": _calibrator(94, -12),
    "low114.wav": _calibrator(114, -12),
    "steps.wav": _steps,
    "quiet_low.wav": _quiet(-12),
    "quiet_high.wav": _quiet(12),
    "claps.wav": _claps,
    "site.toml": _site,
    " wanted.csv": _marks,
    "night.csv": _meter_log,
    "20260302_173005.mp4": _video,
    "recordings": _folder,
    "visits.csv": _manifest,
}
