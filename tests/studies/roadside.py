"""Simulated roadside sites: level histories whose true rates can be had by listening for days.

Everything is invented and described here: vehicles of three classes, impulses, sirens and a
background, added as mean squares. A pass-by is a Lorentzian hump whose width is distance over
speed. Levels are already F-weighted; the step is 0.1 s.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import lfilter

STEP_S = 0.1
DAY_S = 86400.0
WIDTHS_PER_S = np.geomspace(0.8, 4.2, 6)  # speed over distance, 1/s; each pass-by takes one
TAIL_S = 30.0
F_DECAY_DB_PER_S = 10 * np.log10(math.e) / 0.125


@dataclass(frozen=True)
class Site:
    """Parameters of one site; levels are F maxima in dB."""

    flow_per_h: float
    share: tuple[float, float, float]  # cars, heavy, motorbikes
    mean_db: tuple[float, float, float]
    sd_db: tuple[float, float, float]
    speed_m_s: float
    distance_m: float
    arrivals: str  # "poisson", "lights" or "clusters"
    cycle_s: float
    cluster: float
    impulses_per_h: float
    impulse_mean_db: float
    impulse_sd_db: float
    sirens_per_day: float
    siren_mean_db: float
    siren_sd_db: float
    background_db: float


def ordinary_site(rng):
    """A site like those the priors were made for."""
    heavy, bikes = rng.uniform(0.02, 0.12), rng.uniform(0.005, 0.03)
    offset = rng.normal(0, 2)
    return Site(
        flow_per_h=float(np.exp(rng.uniform(np.log(150), np.log(1500)))),
        share=(1 - heavy - bikes, heavy, bikes),
        mean_db=(68 + offset, 76 + offset, 78 + offset),
        sd_db=(3.0, 3.0, 5.0),
        speed_m_s=rng.uniform(8, 20),
        distance_m=rng.uniform(5, 15),
        arrivals=str(rng.choice(["poisson", "lights", "clusters"])),
        cycle_s=rng.uniform(60, 100),
        cluster=4.0,
        impulses_per_h=float(np.exp(rng.uniform(np.log(0.5), np.log(12)))),
        impulse_mean_db=69 + offset,
        impulse_sd_db=6.0,
        sirens_per_day=rng.uniform(0.5, 6) if rng.random() < 0.5 else 0.0,
        siren_mean_db=88 + offset,
        siren_sd_db=5.0,
        background_db=rng.normal(50, 2),
    )


STRESS = ("offsets", "spreads", "sirens", "no bikes", "platoons")


def stress_site(rng, kind):
    """A site whose loud classes are unlike those the priors were made for."""
    site = ordinary_site(rng)
    car = site.mean_db[0]
    if kind == "offsets":
        heavy = rng.uniform(1, 4) if rng.random() < 0.5 else rng.uniform(12, 15)
        bike = rng.uniform(1, 4) if rng.random() < 0.5 else rng.uniform(14, 18)
        return replace(site, mean_db=(car, car + heavy, car + bike))
    if kind == "spreads":
        return replace(site, sd_db=(6.0, 6.0, 10.0), impulse_sd_db=9.0)
    if kind == "sirens":
        return replace(
            site, sirens_per_day=6.0, siren_mean_db=car + 24, siren_sd_db=6.0, impulses_per_h=0.3
        )
    if kind == "no bikes":
        heavy = rng.uniform(0, 0.02)
        return replace(site, share=(1 - heavy, heavy, 0.0), sirens_per_day=0.0)
    return replace(
        site, arrivals=str(rng.choice(["clusters", "lights"])), cluster=rng.uniform(6, 12)
    )


def measure(site, hours, rng):
    """Level history of `hours` at the site, dB, one value every 0.1 s."""
    steps = round(hours * 3600 / STEP_S)
    size = next_fast_len(steps + round(TAIL_S / STEP_S), real=True)
    spectrum = np.zeros(size // 2 + 1, dtype=complex)
    for bin_energy, kernel in zip(_passes(site, hours, rng, steps), _kernels(size), strict=True):
        if bin_energy is not None:
            spectrum += rfft(bin_energy, size) * kernel
    energy = np.maximum(irfft(spectrum, size)[:steps], 0)
    wander = lfilter([1], [1, -np.exp(-STEP_S / 60)], rng.normal(0, 1, steps))
    wander *= 2 * np.sqrt(1 - np.exp(-2 * STEP_S / 60))
    energy += 10 ** ((site.background_db + wander) / 10)
    _add_impulses(site, hours, rng, energy)
    return 10 * np.log10(energy) + rng.normal(0, 0.4, steps)


def _passes(site, hours, rng, steps):
    """Mean squares of all pass-bys at their moments, one row for each hump width."""
    times = _arrivals(site, hours, rng)
    kind = rng.choice(3, times.size, p=np.array(site.share))
    level = rng.normal(np.array(site.mean_db)[kind], np.array(site.sd_db)[kind])
    lane = rng.random(times.size) < 0.5
    speed = site.speed_m_s * rng.uniform(0.85, 1.15, times.size)
    distance = site.distance_m + 3.5 * lane
    level -= 10 * np.log10(distance / site.distance_m)
    sirens = rng.poisson(site.sirens_per_day * hours / 24)
    times = np.append(times, rng.uniform(0, hours * 3600, sirens))
    level = np.append(level, rng.normal(site.siren_mean_db, site.siren_sd_db, sirens))
    width = np.append(speed / distance, np.full(sirens, 1.0))
    row = np.abs(np.log(width[:, None] / WIDTHS_PER_S)).argmin(axis=1)
    place = np.minimum((times / STEP_S).astype(int), steps - 1)
    return [
        np.bincount(place[row == r], 10 ** (level[row == r] / 10), steps)
        if np.any(row == r)
        else None
        for r in range(WIDTHS_PER_S.size)
    ]


_KERNELS = {}


def _kernels(size):
    """Spectra of the humps, cut off 30 s from the middle."""
    if size not in _KERNELS:
        half = round(TAIL_S / STEP_S)
        t = np.zeros(size)
        t[: half + 1] = np.arange(half + 1) * STEP_S
        t[-half:] = np.arange(half, 0, -1) * STEP_S
        used = (np.arange(size) <= half) | (np.arange(size) >= size - half)
        _KERNELS[size] = [rfft(np.where(used, 1 / (1 + (w * t) ** 2), 0)) for w in WIDTHS_PER_S]
    return _KERNELS[size]


def _arrivals(site, hours, rng):
    seconds = hours * 3600
    mean = site.flow_per_h * hours
    if site.arrivals == "clusters":
        leaders = rng.uniform(0, seconds, rng.poisson(mean / site.cluster))
        followers = rng.poisson(site.cluster, leaders.size)
        times = np.repeat(leaders, followers) + rng.uniform(0, 2.5 * site.cluster, followers.sum())
        return times[times < seconds]
    times = rng.uniform(0, seconds, rng.poisson(mean))
    if site.arrivals == "lights":  # all pass in the first 40 % of the cycle, 20 % in "platoons"
        green = 0.2 if site.cluster > 5 else 0.4
        times = np.floor(times / site.cycle_s) * site.cycle_s + (times % site.cycle_s) * green
    return times


def _add_impulses(site, hours, rng, energy):
    for _ in range(rng.poisson(site.impulses_per_h * hours)):
        first = int(rng.integers(energy.size))
        level = rng.normal(site.impulse_mean_db, site.impulse_sd_db)
        t = np.arange(0, 3, STEP_S) - rng.uniform(0.05, 1.2)
        shape = 10 ** ((level - F_DECAY_DB_PER_S * np.maximum(t, 0)) / 10)
        last = min(first + t.size, energy.size)
        energy[first:last] += shape[: last - first]


def firings(level, threshold_db, *, interval_s=STEP_S, rearm_s=10.0, release_db=2.0):
    """Moments at which a threshold fires: slow and plain, independent of the package."""
    above = np.flatnonzero(level >= threshold_db)
    above = above[above >= round(1.0 / interval_s)]
    below = np.flatnonzero(level < threshold_db - release_db)
    fired, place = [], 0
    while place < above.size:
        now = above[place]
        fired.append(now)
        quiet = np.searchsorted(below, now)
        if quiet == below.size:
            break
        again = max(now + round(rearm_s / interval_s), below[quiet])
        place = int(np.searchsorted(above, again))
    return np.array(fired, dtype=int)


def counts(level, thresholds_db, **rule):
    """Firings at each threshold."""
    return np.array([firings(level, t, **rule).size for t in thresholds_db])
