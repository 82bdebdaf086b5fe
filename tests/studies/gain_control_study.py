"""Is gain control found by a tone and nine claps, on a hundred simulated cameras over real streets?

    AUDIOLEVEL_RECORDINGS=... python -m tests.studies.gain_control_study

Every camera records a minute of a real street with a steady tone 11 to 20 dB above it and nine
claps 2.5 s apart. A third does nothing to its levels; the others limit, compress or turn their
gain up and down, with random thresholds, ratios and times. A camera bends levels by as much as its
gain moves within a second after the claps.
"""

import argparse
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy.signal import sosfilt

from audiolevel.ground.errors import RecordingError
from audiolevel.metering.gain_control import FOUND_FROM_DB, steadiness
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.weighting import filters

CLAPS = 9
KINDS = ("linear", "limiter", "compressor", "agc", "linear", "gate")
_LENGTH_S = 28.0


@dataclass(frozen=True)
class Camera:
    """One simulated camera, and what the test said of it."""

    kind: str
    bends_db: float
    change_db: float | None
    said: str


def streets(folder: Path) -> list[tuple[int, np.ndarray]]:
    """Real streets, one channel each, with their rates."""
    found = []
    for name in ("street_long", "street_a", "street_b"):
        samples, rate = sf.read(folder / f"{name}.wav", always_2d=True)
        found += [(rate, channel) for channel in samples.T]
    return found


def scene(rng: np.random.Generator, street: np.ndarray, rate: int) -> tuple[np.ndarray, list[int]]:
    """Street, tone and claps together, and the frames at which hands meet."""
    length = round(_LENGTH_S * rate)
    begin = int(rng.integers(0, len(street)))
    site = np.roll(np.tile(street, -(-length // len(street)))[:length], begin)
    weighted = sosfilt(filters(rate).a, site)
    rms = np.sqrt(np.mean(weighted**2))
    tone_rms = rms * 10 ** (rng.uniform(11, 20) / 20)
    time = np.arange(length) / rate
    hz = 1000.0 * (1 + rng.normal(0, 1e-4))
    wave = site + np.sqrt(2) * tone_rms * np.sin(2 * np.pi * hz * time)
    at = [round((3.0 + 2.5 * i + rng.normal(0, 0.15)) * rate) for i in range(CLAPS)]
    for frame in at:
        # a clap: 2 ms up, then noise that falls within 10 to 25 ms, and a room's echo
        n = round(0.3 * rate)
        since = np.arange(n) / rate
        fall = np.exp(-since / rng.uniform(0.006, 0.015)) + 0.03 * np.exp(-since / 0.06)
        burst = rng.normal(0, 1, n) * fall * np.minimum(since / 0.002, 1)
        peak = tone_rms * np.sqrt(2) * 10 ** (rng.uniform(14, 26) / 20)
        wave[frame : frame + n] += burst / np.abs(burst).max() * peak
    return wave, at


def smoothed(detector_db: np.ndarray, attack_s: float, release_s: float, rate: int) -> np.ndarray:
    """A gain in dB that falls within the attack time and comes back within the release time."""
    up, down = np.exp(-1 / (release_s * rate)), np.exp(-1 / (attack_s * rate))
    out, now = np.empty(len(detector_db)), 0.0
    for i, wanted in enumerate(detector_db.tolist()):
        keep = down if wanted < now else up
        now = keep * now + (1 - keep) * wanted
        out[i] = now
    return out


def device(rng: np.random.Generator, kind: str, rate: int) -> Callable[[np.ndarray], np.ndarray]:
    """The gain in dB that a camera of this kind puts on a wave, sample by sample."""
    attack_s = float(np.exp(rng.uniform(np.log(0.001), np.log(0.02))))
    release_s = float(np.exp(rng.uniform(np.log(0.3), np.log(4.0))))
    ratio = {
        "limiter": 20.0,
        "compressor": rng.uniform(2, 6),
        "agc": rng.uniform(4, 20),
        "gate": 2.0,
    }.get(kind)

    def gains(wave: np.ndarray) -> np.ndarray:
        if ratio is None:
            return np.zeros(len(wave))
        # decided every millisecond, as a signal processor does
        step = max(1, rate // 1000)
        peak = np.abs(wave[: len(wave) // step * step]).reshape(-1, step).max(axis=1)
        level = 20 * np.log10(np.maximum(peak, 1e-9))
        usual, top = np.median(level), np.quantile(level, 0.9995)
        # a limiter sits between the tone and the claps, the others at the tone or below
        place = {"limiter": rng.uniform(0.25, 0.75), "compressor": rng.uniform(-0.3, 0.5)}.get(
            kind, rng.uniform(-0.5, 0.3)
        )
        threshold = usual + place * (top - usual)
        wanted = -np.maximum(level - threshold, 0) * (1 - 1 / ratio)
        if kind == "gate":
            # holds steady sounds down and opens on louder ones
            wanted = np.where(level > usual + 0.3 * (top - usual), 0.0, -rng.uniform(4, 12))
        by_step = smoothed(wanted, attack_s, release_s, 1000)
        return np.interp(np.arange(len(wave)), np.arange(len(by_step)) * step, by_step)

    return gains


def camera(number: int, found: list[tuple[int, np.ndarray]]) -> Camera:
    """Simulate one camera and test it."""
    rng = np.random.default_rng([2610, number])
    kind = KINDS[number % len(KINDS)]
    rate, street = found[number % len(found)]
    wave, claps = scene(rng, street, rate)
    gain_db = device(rng, kind, rate)(wave)
    # how far the gain has moved when a level after a clap would be read
    bends = np.abs(
        [
            gain_db[at - rate // 4] - gain_db[at + rate // 8 : at + rate * 9 // 20].mean()
            for at in claps
        ]
    )
    heard = wave * 10 ** (gain_db / 20)
    heard *= 0.7 / np.abs(heard).max()
    coded = np.round(heard * 32768).clip(-32768, 32767) / 32768
    try:
        said = steadiness(recording_of_array(coded, rate, f"camera {number}"))
    except RecordingError as error:
        return Camera(kind, float(np.median(bends)), None, str(error))
    return Camera(kind, float(np.median(bends)), said.change_db, "")


def main() -> None:
    """Print who was found."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cameras", type=int, default=100)
    count = parser.parse_args().cameras
    found = streets(Path(os.environ["AUDIOLEVEL_RECORDINGS"]))
    cameras = [camera(number, found) for number in range(count)]
    for one in cameras:
        if one.said:
            print(f"  refused ({one.kind}): {one.said[:90]}")
    report(cameras)


def report(cameras: list[Camera]) -> tuple[float, float]:
    """Print and return the share of benders found, and of steady cameras falsely found."""
    told = [one for one in cameras if one.change_db is not None]
    benders = [one for one in told if one.bends_db >= 3]
    steady = [one for one in told if one.kind == "linear"]
    seen = [one.change_db is not None and abs(one.change_db) >= FOUND_FROM_DB for one in benders]
    false = [one.change_db is not None and abs(one.change_db) >= FOUND_FROM_DB for one in steady]
    print(f"{len(cameras)} cameras, {len(told)} told")
    print(f"bend by 3 dB or more: {len(benders)}, found {100 * np.mean(seen):.0f} %")
    print(f"steady: {len(steady)}, falsely found {100 * np.mean(false):.0f} %")
    middle = [one for one in told if one.kind != "linear" and one.bends_db < 3]
    seen_there = sum(abs(one.change_db or 0.0) >= FOUND_FROM_DB for one in middle)
    print(f"bend by less: {len(middle)}, of those found {seen_there}")
    worst = max((abs(one.change_db or 0.0) for one in steady), default=0.0)
    print(f"steady cameras: change at most {worst:.2f} dB")
    return float(np.mean(seen)), float(np.mean(false))


if __name__ == "__main__":
    main()
