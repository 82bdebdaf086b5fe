"""Make the sample scenario: a camera at an invented place, Quarry Lane bridge approach.

Everything heard is computed: vehicles that pass on two lanes, wind, a distant town and a few
wanted sounds at known times. Run it from the top of the repository:

    python sample_audio/make_sample.py

It writes the two recordings and `wanted.csv` beside itself, each next to its place first and then
moved there whole. The same seed on the same machine gives the same samples before coding.

Sources of the numbers
----------------------
Sound power of light, medium and heavy vehicles by octave band and speed: Directive 2002/49/EC,
annex II, 2.2, coefficients of table F-1 as replaced by Delegated Directive (EU) 2021/1226.
Hard ground (half space). Motorcycles, level spread, speeds, headways, wind and town: assumptions
of ours, plausible rather than measured.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf

from audiolevel.metering.weighting import a_weighting_db
from audiolevel.sounds.catalogue import Sound, find, with_level
from audiolevel.sounds.synthesis import REFERENCE_PA, at_full_scale, lafmax_db, render

HERE = Path(__file__).parent
SEED = 20_317
RATE_HZ = 16_000
DURATION_S = 1200
MINUTE_S = 60
SPL_AT_FULL_SCALE_DB = 110.0
HIGH_GAIN_DB = 24.0
# dB(A) at 7 m: the least that UN Regulation No. 28 asks of a vehicle
QUIET_HORN_DB = 93.0
HIGH_GAIN_FROM_S, HIGH_GAIN_TO_S = 540, 660
RECORDING = "bridge_approach.ogg"
HIGH_GAIN_RECORDING = "bridge_approach_high_gain.flac"
VORBIS_QUALITY_LOSS = 0.1  # 0 keeps most, 1 least; here every level stays within 0.1 dB

NEAR_LANE_M, FAR_LANE_M = 13.0, 16.5
JOINT_M = 16.0  # the bridge's expansion joint: this far before the closest point
SOUND_SPEED_M_S = 340.0
# exact base-10 octave midbands, 63 Hz to 8 kHz (IEC 61260-1:2014, 5.2)
OCTAVES_HZ = 1000.0 * 10.0 ** (np.arange(-12, 12, 3) / 10.0)
HEARD_FOR_S = 12.0  # to each side of the closest point; beyond it the town is louder

# What happens, when, how far away, and whether it stands out of the traffic at that moment.
WANTED: list[tuple[float, str, float, str]] = [
    (47.0, "metal bang", 3.5, "above"),
    (127.0, "shout", 0.8, "above"),
    (217.0, "breaking glass", 2.0, "above"),
    (318.0, "vehicle horn", 11.0, "above"),
    (409.0, "shout", 40.0, "buried"),
    (508.0, "breaking glass", 2.0, "above"),
    (575.0, "vehicle horn", 12.0, "above"),
    (666.0, "metal bang", 3.0, "above"),
    (753.0, "shout", 0.8, "above"),
    (842.0, "breaking glass", 60.0, "buried"),
    (931.0, "vehicle horn", 9.0, "above"),
    (1012.0, "metal bang", 2.5, "above"),
    (1098.0, "breaking glass", 2.0, "above"),
    (1175.0, "shout", 1.0, "above"),
]


@dataclass(frozen=True)
class VehicleClass:
    """Octave-band sound power (63 Hz to 8 kHz) by speed, and how its members differ.

    `rolling` and `propulsion` hold the coefficient pairs (A, B) of the directive; `extra_db`
    raises the propulsion noise (motorcycles), `firing_hz` adds an engine tone with overtones.
    """

    share: float
    speed_km_h: float
    spread_db: float
    rolling: tuple[tuple[float, ...], tuple[float, ...]]
    propulsion: tuple[tuple[float, ...], tuple[float, ...]]
    extra_db: float = 0.0
    firing_hz: float = 0.0
    axles_m: tuple[float, ...] = (0.0, 2.6)


_LIGHT_ROLLING = (
    (83.1, 89.2, 87.7, 93.1, 100.1, 96.7, 86.8, 76.2),
    (30.0, 41.5, 38.9, 25.7, 32.5, 37.2, 39.0, 40.0),
)
_LIGHT_PROPULSION = (
    (97.9, 92.5, 90.7, 87.2, 84.7, 88.0, 84.4, 77.1),
    (-1.3, 7.2, 7.7, 8.0, 8.0, 8.0, 8.0, 8.0),
)
CLASSES = [
    VehicleClass(0.885, 48.0, 1.8, _LIGHT_ROLLING, _LIGHT_PROPULSION),
    VehicleClass(
        0.05,
        45.0,
        1.8,
        (
            (88.7, 93.2, 95.7, 100.9, 101.7, 95.1, 87.8, 83.6),
            (30.0, 35.8, 32.6, 23.8, 30.1, 36.2, 38.3, 40.1),
        ),
        (
            (105.5, 100.2, 100.5, 98.7, 101.0, 97.8, 91.2, 85.0),
            (-1.9, 4.7, 6.4, 6.5, 6.5, 6.5, 6.5, 6.5),
        ),
        firing_hz=62.0,
        axles_m=(0.0, 4.2),
    ),
    VehicleClass(
        0.04,
        43.0,
        2.0,
        (
            (91.7, 96.2, 98.2, 104.9, 105.1, 98.5, 91.1, 85.6),
            (30.0, 33.5, 31.3, 25.4, 31.8, 37.1, 38.6, 40.6),
        ),
        (
            (108.8, 104.2, 103.5, 102.9, 102.6, 98.5, 93.8, 87.5),
            (0.0, 3.0, 4.6, 5.0, 5.0, 5.0, 5.0, 5.0),
        ),
        firing_hz=48.0,
        axles_m=(0.0, 3.6, 9.5, 10.8),
    ),
    VehicleClass(
        0.025,
        52.0,
        3.0,
        _LIGHT_ROLLING,
        _LIGHT_PROPULSION,
        extra_db=13.0,
        firing_hz=95.0,
        axles_m=(0.0, 1.4),
    ),
]


@dataclass(frozen=True)
class PassBy:
    """One vehicle: when it is nearest, how far then, how fast, which class, how loud for it."""

    number: int
    time_s: float
    distance_m: float
    speed_m_s: float
    kind: VehicleClass
    louder_db: float


def sound_power_db(kind: VehicleClass, speed_km_h: float) -> np.ndarray:
    """Unweighted octave-band sound power levels, rolling and propulsion together, shape (8,)."""
    (ar, br), (ap, bp) = (np.asarray(pair) for pair in (kind.rolling, kind.propulsion))
    rolling = ar + br * np.log10(speed_km_h / 70.0)
    propulsion = ap + bp * (speed_km_h - 70.0) / 70.0 + kind.extra_db
    return 10.0 * np.log10(10.0 ** (rolling / 10.0) + 10.0 ** (propulsion / 10.0))


def arrivals_s(rng: np.random.Generator, per_hour: float, platoon: float) -> np.ndarray:
    """Passing times: platoons of mean size `platoon` (1: single cars) at random moments."""
    times: list[float] = []
    time_s = -HEARD_FOR_S
    while time_s < DURATION_S + HEARD_FOR_S:
        members = rng.geometric(1.0 / platoon)
        headways = 1.6 + rng.exponential(1.2, members)
        times.extend(time_s + np.cumsum(headways))
        time_s = times[-1] + rng.exponential(max(0.1, 3600.0 * platoon / per_hour - 2.8 * platoon))
    return np.asarray(times)


def traffic() -> list[PassBy]:
    """Every vehicle of the scene, in order of passing."""
    rng = np.random.default_rng([SEED, 1])
    flows = [(NEAR_LANE_M, arrivals_s(rng, 330.0, 3.0)), (FAR_LANE_M, arrivals_s(rng, 290.0, 1.3))]
    planned = sorted((time, lane) for lane, times in flows for time in times)
    vehicles = []
    for number, (time_s, lane_m) in enumerate(planned):
        kind = CLASSES[rng.choice(len(CLASSES), p=[c.share for c in CLASSES])]
        speed_km_h = np.clip(rng.normal(kind.speed_km_h, 5.0), 25.0, 75.0)
        distance_m = lane_m + rng.normal(0.0, 0.3)
        louder_db = rng.normal(0.0, kind.spread_db)
        vehicles.append(PassBy(number, time_s, distance_m, speed_km_h / 3.6, kind, louder_db))
    return vehicles


def shaped_noise(
    rng: np.random.Generator, size: int, density_db: Callable[[np.ndarray], np.ndarray]
) -> np.ndarray:
    """Gaussian noise in pascals with a power density in dB re (20 µPa)² per hertz."""
    spectrum = np.fft.rfft(rng.standard_normal(size))
    frequency = np.fft.rfftfreq(size, 1.0 / RATE_HZ)
    gain = 10.0 ** (density_db(np.maximum(frequency, 1.0)) / 20.0) * np.sqrt(RATE_HZ / 2.0)
    gain[frequency < 10.0] = 0.0
    return np.fft.irfft(spectrum * gain, size) * REFERENCE_PA


def octave_density_db(band_db: np.ndarray) -> Callable[[np.ndarray], np.ndarray]:
    """Octave-band levels as a smooth power density: straight lines over lg f, level kept."""
    at_centre = band_db - 10.0 * np.log10(OCTAVES_HZ * (10.0**0.15 - 10.0**-0.15))
    lg_centre = np.log10(OCTAVES_HZ)

    def density_db(frequency_hz: np.ndarray) -> np.ndarray:
        inside = np.interp(np.log10(frequency_hz), lg_centre, at_centre)
        below_db = 40.0 * np.minimum(np.log10(frequency_hz / 40.0), 0.0)
        return inside + below_db

    return density_db


def pass_by(vehicle: PassBy) -> tuple[float, np.ndarray]:
    """Start time and pressure of one vehicle, as it comes, passes and goes."""
    rng = np.random.default_rng([SEED, 2, vehicle.number])
    start_s = round((vehicle.time_s - HEARD_FOR_S) * RATE_HZ) / RATE_HZ
    time_s = start_s + np.arange(round(2 * HEARD_FOR_S * RATE_HZ)) / RATE_HZ
    away_m = np.hypot(vehicle.distance_m, vehicle.speed_m_s * (time_s - vehicle.time_s))
    power_db = sound_power_db(vehicle.kind, vehicle.speed_m_s * 3.6) + vehicle.louder_db
    at_one_metre_db = power_db - 10.0 * np.log10(2.0 * np.pi)
    sound = shaped_noise(rng, len(time_s), octave_density_db(at_one_metre_db))
    if vehicle.kind.firing_hz:
        sound += engine(
            rng, vehicle.kind.firing_hz, time_s - away_m / SOUND_SPEED_M_S, at_one_metre_db
        )
    weighted_db = at_one_metre_db + a_weighting_db(OCTAVES_HZ)
    level_db = float(10.0 * np.log10(np.sum(10.0 ** (weighted_db / 10.0))))
    sound += joint_thumps(rng, vehicle, time_s, level_db)
    fade = np.clip(np.minimum(time_s - start_s, start_s + 2 * HEARD_FOR_S - time_s) / 2.0, 0.0, 1.0)
    return start_s, sound / away_m * fade


def joint_thumps(
    rng: np.random.Generator, vehicle: PassBy, time_s: np.ndarray, level_db: float
) -> np.ndarray:
    """A short thump as each axle crosses the joint; some wheels hit it far harder than others."""
    rms = REFERENCE_PA * 10.0 ** ((level_db + rng.normal(11.5, 2.2)) / 20.0)
    envelope = np.zeros(len(time_s))
    for behind_m in vehicle.kind.axles_m:
        since_s = time_s - (vehicle.time_s + (behind_m - JOINT_M) / vehicle.speed_m_s)
        envelope += np.where(since_s >= 0.0, np.exp(-np.maximum(since_s, 0.0) / 0.025), 0.0)
    hit = shaped_noise(rng, len(time_s), lambda hz: -6.0 * np.abs(np.log2(hz / 400.0)))
    return rms * hit / np.sqrt(np.mean(hit**2)) * envelope


def engine(
    rng: np.random.Generator, firing_hz: float, emitted_s: np.ndarray, band_db: np.ndarray
) -> np.ndarray:
    """Firing tone and overtones, as loud as the 63 to 250 Hz bands; `emitted_s` bends the pitch."""
    own_hz = firing_hz * rng.uniform(0.85, 1.2)
    tone = np.zeros(len(emitted_s))
    for order in (0.5, 1.0, 1.5, 2.0, 3.0, 4.0):
        band = int(np.argmin(np.abs(np.log(OCTAVES_HZ[:3] / (own_hz * order)))))
        rms = REFERENCE_PA * 10.0 ** ((band_db[band] - 4.0) / 20.0)
        phase = rng.uniform(0.0, 2.0 * np.pi)
        tone += np.sqrt(2.0) * rms * np.sin(2.0 * np.pi * own_hz * order * emitted_s + phase)
    return tone


def slow_wander(stream: int, step_s: float) -> np.ndarray:
    """A standard normal course that changes over about `step_s`, at every whole second."""
    rng = np.random.default_rng([SEED, 3, stream])
    knots = rng.standard_normal(int(DURATION_S / step_s) + 4)
    seconds = np.arange(DURATION_S + 2 * MINUTE_S)
    return np.interp(seconds / step_s, np.arange(len(knots)), knots)


def town_density_db(frequency_hz: np.ndarray) -> np.ndarray:
    """Distant town: falls 4 dB an octave from 250 Hz, about 51 dB(A)."""
    octaves = np.log2(frequency_hz / 250.0)
    return 25.5 - np.where(octaves > 0, 4.5, 1.5) * octaves


def wind_density_db(frequency_hz: np.ndarray) -> np.ndarray:
    """Wind on the microphone: falls 8 dB an octave above 20 Hz; 69 dB unweighted, mean gust."""
    return 55.0 - 8.0 * np.maximum(np.log2(frequency_hz / 20.0), -1.0)


def background(minute: int) -> np.ndarray:
    """Town, wind and the microphone's own noise for one minute, joined smoothly to the next."""
    joined_s = 1
    size = (MINUTE_S + joined_s) * RATE_HZ
    lap = np.sin(np.linspace(0.0, np.pi / 2.0, joined_s * RATE_HZ, endpoint=False))
    town, gust = slow_wander(0, 15.0), slow_wander(1, 4.0)
    minute_sound = np.zeros(size)
    for part, density_db, level, spread_db in (
        (0, town_density_db, town, 1.2),
        (1, wind_density_db, gust, 4.0),
        (2, lambda hz: np.full_like(hz, -8.0), np.zeros_like(town), 0.0),
    ):
        pieces = [
            shaped_noise(np.random.default_rng([SEED, 4, part, m]), size, density_db)
            for m in (minute, minute + 1)
        ]
        noise = pieces[0].copy()
        noise[-len(lap) :] = noise[-len(lap) :] * lap[::-1] + pieces[1][: len(lap)] * lap
        second = minute * MINUTE_S + np.arange(size) / RATE_HZ
        course_db = spread_db * np.interp(second, np.arange(len(level)), level)
        minute_sound += noise * 10.0 ** (course_db / 20.0)
    return minute_sound[joined_s * RATE_HZ :]


def wanted_pressures() -> list[tuple[float, np.ndarray]]:
    """Start time and pressure of every wanted sound, as it arrives at the camera."""
    return [
        (start_s, render(_event(name), RATE_HZ, distance_m=distance_m, seed=SEED + number))
        for number, (start_s, name, distance_m, _) in enumerate(WANTED)
    ]


def _event(name: str) -> Sound:
    """A sound of the table; the horns of this road are quiet ones."""
    sound = find(name)
    return with_level(sound, QUIET_HORN_DB, 7.0) if name == "vehicle horn" else sound


def minute_pressure(minute: int) -> np.ndarray:
    """One minute of the scene in pascals, made afresh from the seed, shape (960000,)."""
    from_s, to_s = minute * MINUTE_S, (minute + 1) * MINUTE_S
    pressure = background(minute)
    near = [v for v in traffic() if from_s - HEARD_FOR_S < v.time_s < to_s + HEARD_FOR_S]
    for start_s, sound in [*map(pass_by, near), *wanted_pressures()]:
        at = round((start_s - from_s) * RATE_HZ)
        first, last = max(at, 0), min(at + len(sound), len(pressure))
        if first < last:
            pressure[first:last] += sound[first - at : last - at]
    return pressure


def minute_samples(minute: int) -> np.ndarray:
    """The same minute as the camera records it; a full-scale sine is 1."""
    return at_full_scale(minute_pressure(minute), SPL_AT_FULL_SCALE_DB)


def high_gain_samples() -> np.ndarray:
    """Two minutes of the scene through an input turned up too far: clipped at full scale."""
    first, last = HIGH_GAIN_FROM_S // MINUTE_S, HIGH_GAIN_TO_S // MINUTE_S
    samples = np.concatenate([minute_samples(minute) for minute in range(first, last)])
    return np.clip(samples * 10.0 ** (HIGH_GAIN_DB / 20.0), -1.0, 1.0)


def write_sound(path: Path, blocks: Iterator[np.ndarray], **coding: object) -> None:
    """Write a sound file beside its place, then move it there whole."""
    beside = path.with_name(path.name + ".part")
    with sf.SoundFile(beside, "w", samplerate=RATE_HZ, channels=1, **coding) as file:
        for block in blocks:
            for start in range(0, len(block), 4096):  # the Vorbis coder overflows on long writes
                file.write(block[start : start + 4096])
    os.replace(beside, path)


def write_wanted(path: Path) -> None:
    """Write when each wanted sound is heard and how loud it is alone, in dB FS."""
    beside = path.with_name(path.name + ".part")
    with beside.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["start_s", "end_s", "sound", "distance_m", "lafmax_db"])
        for (start_s, name, distance_m, _), (_, pressure) in zip(
            WANTED, wanted_pressures(), strict=True
        ):
            # A full-scale sine has a mean square of 1/2 and reads 0 dB FS.
            alone_db = lafmax_db(at_full_scale(pressure, SPL_AT_FULL_SCALE_DB), RATE_HZ) + 3.0103
            end_s = start_s + len(pressure) / RATE_HZ
            table.writerow(
                [f"{start_s:.2f}", f"{end_s:.2f}", name, f"{distance_m:g}", f"{alone_db:.2f}"]
            )
    os.replace(beside, path)


def main() -> None:
    """Write the scenario's sound and its list of wanted sounds."""
    write_wanted(HERE / "wanted.csv")
    write_sound(
        HERE / HIGH_GAIN_RECORDING, iter([high_gain_samples()]), format="FLAC", subtype="PCM_16"
    )
    write_sound(
        HERE / RECORDING,
        (minute_samples(minute) for minute in range(DURATION_S // MINUTE_S)),
        format="OGG",
        subtype="VORBIS",
        compression_level=VORBIS_QUALITY_LOSS,
    )


if __name__ == "__main__":
    main()
