"""Is noise that may not be there told from a street's? Left out of what hides talk, by kind.

    AUDIOLEVEL_RECORDINGS=... python -m tests.studies.masking_study

Two minutes each: wind whose density falls by 7 dB an octave (pressure in turbulence, to the power
of -7/3) to 10, from slight to strong gusts; rain, whose density falls by 2 to 4 dB an octave,
steady or in showers; machines and a camera's own white noise, steady; each over a quiet road 15 dB
and more below. Against them roads, the sample scenario and real streets, which must be kept. All
but the streets is computed.
"""

import os
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile as sf
from numpy.typing import NDArray

from audiolevel.privacy.audibility import FARTHEST_M, QUIET, ListeningModel
from audiolevel.privacy.masking import lasting
from audiolevel.privacy.third_octaves import BandAnalyser, BandLevels
from audiolevel.site.sections import Site
from tests.studies.speech_study import SAMPLE
from tests.studies.street_noises import MAKERS, RATE_HZ, coloured, wander

Array = NDArray[np.float64]
PIECES, EACH = 12, 20
KINDS = ("wind", "rain", "machine", "white")
FULL_DB = 100.0


def analysed(samples: Array, rate_hz: int = RATE_HZ) -> BandLevels:
    """Band levels of what was recorded."""
    analyser = BandAnalyser(rate_hz)
    analyser.add(np.asarray(samples, dtype=np.float32)[:, None])
    return analyser.result()


def word_m(bands: BandLevels) -> float:
    """From how far a word of normal talk is caught over it, 300 m at most."""
    if not bands.heard_s:
        return FARTHEST_M
    model = ListeningModel(bands, Site(), FULL_DB, format_floor_db=-120.0, rate_hz=RATE_HZ)
    return min(FARTHEST_M, model.radii("normal", model.noise_db(QUIET, 0.0)).words_m)


def _pieces(rng: np.random.Generator, kind: str) -> Array:
    slope = {"wind": rng.uniform(-10, -7), "rain": rng.uniform(-4, -2), "machine": -5.0}
    fall = slope.get(kind, 0.0)
    swing = {"wind": rng.uniform(2, 8), "rain": rng.choice([0.0, 2.0])}.get(kind, 0.0)
    gusts = [10 ** (swing / 20 * wander(rng, rng.uniform(0.5, 3.0))) for _ in range(PIECES)]
    return np.concatenate([coloured(rng, fall, 30.0) * gust for gust in gusts])


def made(kind: str, seed: int, below_db: float = 15.0) -> Array:
    """Two minutes of one kind over a quiet road; "road" is the road alone."""
    rng = np.random.default_rng(seed)
    road = np.concatenate([MAKERS["road"](rng) for _ in range(PIECES)])
    road *= 0.01 * 10 ** (-below_db / 20) / road.std()
    if kind == "road":
        return road
    over = _pieces(rng, kind)
    return 0.01 * over / over.std() + road


def streets(folder: Path | None) -> Iterator[tuple[str, Array, int]]:
    """Minutes of the sample and of real streets, as they are."""
    samples, rate = sf.read(SAMPLE)
    for minute in range(0, 20, 2):
        yield "sample scenario", samples[minute * 60 * rate : (minute + 2) * 60 * rate], rate
    for path in sorted(folder.glob("*.wav")) if folder is not None else ():
        both, rate = sf.read(path, always_2d=True)
        for channel in both.T:
            yield "real street", channel, rate


def main() -> None:
    """Print what is left out of each kind, and the distances beside those of the road alone."""
    for kind in (*KINDS, "road"):
        why, before, after = set[str](), [], []
        for seed in range(EACH):
            below_db = 15.0 + seed % 3 * 5
            bands = analysed(made(kind, seed, below_db))
            kept, causes = lasting(bands)
            truth_m = word_m(analysed(made("road", seed, below_db)))
            why |= set(causes)
            before.append(word_m(bands) / truth_m)
            after.append(word_m(kept) / truth_m)
        print(
            f"{kind:8s} distance over that of the road alone, median and least: before "
            f"{np.median(before):.2f}, {min(before):.2f}; after {np.median(after):.2f}, "
            f"{min(after):.2f}; {', '.join(sorted(why)) or 'kept'}"
        )
    folder = os.environ.get("AUDIOLEVEL_RECORDINGS")
    for name, samples, rate in streets(Path(folder) if folder else None):
        bands = analysed(samples, rate)
        kept, causes = lasting(bands)
        ratio = word_m(kept) / word_m(bands)
        print(f"{name:16s} {len(samples) / rate:.0f} s: {ratio:.2f}, {causes or 'kept'}")


if __name__ == "__main__":
    main()
