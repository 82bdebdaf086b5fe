"""How much of speech is left in a level history?

    python -m tests.studies.history_study

An attacker with speech of the same voices and its histories learns the best straight-line guess of
every third-octave level (150 Hz to 4 kHz, every 10 ms) from the columns of the history at that
moment and around it, and tries it on other voices. How much of the spectrum's *shape* (each band
against the mean of all, and against its own mean of a second: what changes with the syllables, not
the timbre of a voice) the guess explains is compared with noise vocoders of 1, 2, 3, 4 and 8
bands, with which listeners' scores are published: Shannon, Zeng, Kamath, Wygonski and Ekelid,
Science 270 (1995) 303-304: nearly perfect with four bands, high with three, little with one.
"""

from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from audiolevel.metering.level_history import COLUMNS, HistoryWriter
from audiolevel.metering.meter import Meter
from tests.studies.speech_study import voices
from tests.studies.street_noises import RATE_HZ

Array = NDArray[np.float64]

EDGES_HZ = 1000 * 10 ** ((np.arange(-8, 8) - 0.5) / 10)  # third-octaves 160 Hz to 4 kHz
VOCODER_BANDS = (1, 2, 3, 4, 8)
_FLOOR_DB = 40.0  # what lies this far under a voice's loudest is silence
RIDGES = (1e-6, 1e-4, 1e-3, 1e-2, 1e-1, 1.0)
_AROUND_F = range(-8, 9, 4)
_AROUND = 8  # rows to each side that the attacker looks at


def spectrum_db(samples: Array) -> Array:
    """Third-octave levels every 10 ms, shape (rows, bands), no lower than 40 dB under the top."""
    size, step = 512, RATE_HZ // 100
    rows = (len(samples) - size) // step
    cut = samples[np.arange(rows)[:, None] * step + np.arange(size)] * np.hanning(size)
    power = np.abs(np.fft.rfft(cut, axis=1)) ** 2
    hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    bands = [power[:, (hz >= a) & (hz < b)].sum(axis=1) for a, b in _pairs()]
    level = 10 * np.log10(np.stack(bands, axis=1) + 1e-12)
    return np.asarray(np.maximum(level, level.max() - _FLOOR_DB))


def _pairs() -> list[tuple[float, float]]:
    return list(pairwise(EDGES_HZ.tolist()))


def vocoded(levels_db: Array, bands: int) -> Array:
    """What a vocoder of so many bands keeps of it: the energy of groups of third-octaves."""
    groups = np.array_split(np.arange(levels_db.shape[1]), bands)
    power = 10 ** (levels_db / 10)
    kept = [10 * np.log10(power[:, group].sum(axis=1)) for group in groups]
    return np.stack(kept, axis=1)


def history_of(samples: Array, path: Path) -> dict[str, Array]:
    """Columns of the history file that would be written of it."""
    scaled = samples / np.abs(samples).max() * 0.5
    meter = Meter(RATE_HZ, 1)
    with HistoryWriter(path) as history:
        history.add(meter.feed(scaled.astype(np.float32)[:, None]).rows)
    table = np.loadtxt(path, delimiter=",", skiprows=1)
    return {name: table[:, i] for i, name in enumerate(COLUMNS)}


def rows_of(samples: Array) -> dict[str, Array]:
    """The same columns as they are measured, all of them new every 10 ms."""
    scaled = samples / np.abs(samples).max() * 0.5
    rows = Meter(RATE_HZ, 1).feed(scaled.astype(np.float32)[:, None]).rows
    return {name: getattr(rows, name) for name in COLUMNS[1:]}


def unweighted(laf_db: Array) -> Array:
    """F weighting undone: the level of each row by itself, as far as the rounding allows."""
    keep = np.exp(-0.01 / 0.125)
    power = 10 ** (laf_db / 10)
    own = (power - keep * np.concatenate([power[:1], power[:-1]])) / (1 - keep)
    return np.asarray(10 * np.log10(np.maximum(own, 0.01 * power)))


def looked_at(columns: Mapping[str, Array], names: list[str]) -> Array:
    """What the attacker looks at: the columns, F weighting undone, at each row and around it."""
    chosen = [unweighted(columns[n]) if n in ("laf_db", "lzf_db") else columns[n] for n in names]
    wide = [np.roll(c, k) for c in chosen for k in range(-_AROUND, _AROUND + 1)]
    wide += [np.roll(_weighted(c, t), k) for c in chosen for t in (0.125, 1.0) for k in _AROUND_F]
    return np.column_stack(wide)


def _weighted(level_db: Array, time_constant_s: float) -> Array:
    """F or S weighting of levels, in dB."""
    keep = np.exp(-0.01 / time_constant_s)
    power = lfilter([1 - keep], [1, -keep], 10 ** (level_db / 10))
    return np.asarray(10 * np.log10(power + 1e-20))


def explained(learn: list[tuple[Array, Array]], tried: list[tuple[Array, Array]]) -> float:
    """Share of the variance of the spectrum's shape that the guess explains, on the tried.

    The attacker is granted the ridge that happens to do best.
    """
    seen = np.concatenate([a for a, _ in learn])
    shapes = np.concatenate([_shape(b) for _, b in learn])
    middle, spread = seen.mean(axis=0), seen.std(axis=0) + 1e-9
    mean = shapes.mean(axis=0)
    standard = (seen - middle) / spread
    products, targets = standard.T @ standard, standard.T @ (shapes - mean)
    truth = np.concatenate([_shape(b) for _, b in tried]) - mean
    unseen = (np.concatenate([a for a, _ in tried]) - middle) / spread
    best = 0.0
    for caution in RIDGES:
        weights = np.linalg.solve(products + caution * len(seen) * np.eye(len(products)), targets)
        best = max(best, 1 - ((truth - unseen @ weights) ** 2).sum() / (truth**2).sum())
    return float(best)


def _shape(levels_db: Array) -> Array:
    loud = levels_db.max(axis=1, keepdims=True) > levels_db.max() - _FLOOR_DB + 10
    shape = (levels_db - levels_db.mean(axis=1, keepdims=True)) * loud
    second = np.ones(101) / 101
    slow = np.stack([np.convolve(band, second, "same") for band in shape.T], axis=1)
    return np.asarray(shape - slow)


def scores(folder: Path, seconds: int = 60) -> dict[str, float]:
    """Explained shape for vocoders and for choices of the history's columns."""
    halves = [list(voices(half).values()) for half in (0, 1)]
    parts = [[speech[: seconds * RATE_HZ] for speech in half] for half in halves]
    spectra = [[spectrum_db(speech) for speech in half] for half in parts]
    out = {}
    for bands in VOCODER_BANDS:
        seen = [
            [
                (
                    looked_at(
                        {"v" + str(i): c for i, c in enumerate(vocoded(s, bands).T)},
                        ["v" + str(i) for i in range(bands)],
                    ),
                    s,
                )
                for s in half
            ]
            for half in spectra
        ]
        out[f"vocoder of {bands}"] = explained(*seen)
    columns = [[history_of(s, folder / "h.csv") for s in half] for half in parts]
    raw = [[rows_of(s) for s in half] for half in parts]
    for name, source, chosen in (
        ("LAF alone", columns, ["laf_db"]),
        ("all columns", columns, COLUMNS[1:]),
        ("all columns, not held for a second", raw, COLUMNS[1:]),
    ):
        # the window of 32 ms reaches over the rows behind it
        seen = [
            [
                (looked_at(column, chosen)[1 : 1 + len(s)], s[: len(column["laf_db"]) - 1])
                for column, s in zip(several, half, strict=True)
            ]
            for several, half in zip(source, spectra, strict=True)
        ]
        out[name] = explained(*seen)
    return out


if __name__ == "__main__":
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as name:
        for what, share in scores(Path(name)).items():
            print(f"| {what} | {100 * share:.0f} % |")
