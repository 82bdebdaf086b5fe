"""What a recording's samples tell of faults that its levels do not show.

Direct current, mains hum, stuck blocks, steps of the gain, and a mark by which the same sound is
known again: the levels of third-octaves in every second. Gathered while the recording is measured.

Entry points: `SoundCheck`, `SoundFacts`, `mark_of`.
"""

import base64
from dataclasses import dataclass

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.metering.readers import Block

# of the mark: 100 Hz to 3.2 kHz, as far as the slowest recorder goes
_EDGES_HZ = 1000.0 * 10.0 ** ((np.arange(-10, 7) - 0.5) / 10.0)
BANDS = len(_EDGES_HZ) - 1
# half an hour knows a recording again, and a longer one by its beginning
_MARKED_S = 1800
# third-octaves of the long-term spectrum, 50 Hz to 16 kHz
THIRDS_HZ: Array = 1000.0 * 10.0 ** (np.arange(-13, 13) / 10.0)
_MAINS_HZ, _OVERTONES = (50, 60), 4
# samples that must come again exactly, looked for within a second of each of so many places
_STUCK, _PLACES = 256, 10
# a tone repeats everywhere, a fault here and there
_TONE_SHARE = 0.2
# A step of the gain is there between two moments of 50 ms, which no vehicle is: dB of 0.15 s after
# over 0.15 s before
_MOMENTS, _BEFORE, _STEP_DB = 20, 3, 4.0
# and it stays in most bands, unlike a bang: the quiet tenth of so many seconds to each side, longer
# than a vehicle passes, and how much of the step must be left
_BESIDE_S, _STAYS = 20, 0.6


@dataclass(frozen=True)
class SoundFacts:
    """What was found; levels in dB re full scale.

    Attributes
    ----------
    dc : float
        Mean of the samples of the worst channel, of full scale.
    hum_db : float
        By how much the lines of the mains stand above what is beside them, mean of those that do.
    hum_hz : int
        50 or 60.
    stuck : int
        Places at which samples come again exactly, as a buffer that is played on.
    step_at_s, step_db : float
        The greatest step of all bands at once; 0 and 0 where there is none.
    thirds_db : tuple of float
        Long-term spectrum at `THIRDS_HZ`, mean of the seconds' decibels.
    mark : str
        Base 64 of int16, hundredths of a dB, shape (seconds, 16).
    """

    dc: float
    hum_db: float
    hum_hz: int
    stuck: int
    step_at_s: float
    step_db: float
    thirds_db: tuple[float, ...]
    mark: str


def mark_of(text: str) -> Array:
    """The levels that a mark holds, dB, shape (seconds, 16)."""
    return np.frombuffer(base64.b64decode(text), dtype="<i2").reshape(-1, BANDS) / 100


class SoundCheck:
    """Goes through a stream of samples second by second.

    Parameters
    ----------
    rate_hz : int
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._rest: Block | None = None
        self._sum: Array | None = None
        self._frames = self._stuck = self._places = 0
        self._marks: list[Array] = []
        self._hz = np.fft.rfftfreq(rate_hz, 1 / rate_hz)
        self._window = np.hanning(rate_hz)
        self._log_power = np.zeros(rate_hz // 2 + 1)
        self._seconds = 0
        self._moments = np.zeros(0)
        self._sharp: list[float] = []

    def add(self, block: Block) -> None:
        """Take in one more block, shape (frames, channels); any length."""
        self._frames += len(block)
        each = block.sum(axis=0, dtype=np.float64)
        self._sum = each if self._sum is None else self._sum + each
        held = block if self._rest is None else np.concatenate([self._rest, block])
        whole = len(held) // self._rate_hz
        for second in range(whole):
            self._second(held[second * self._rate_hz : (second + 1) * self._rate_hz])
        self._rest = held[whole * self._rate_hz :].copy()

    def _second(self, samples: Block) -> None:
        wave = samples[:, 0].astype(np.float64)
        self._stuck += _repeats(samples[:, 0])
        self._places += _PLACES
        spectrum = np.fft.rfft((wave - wave.mean()) * self._window)
        power = (spectrum.real**2 + spectrum.imag**2) / self._rate_hz**2 + 1e-20
        # of decibels: what comes and goes counts little, what stays stands out
        self._log_power += 10 * np.log10(power)
        self._seconds += 1
        if len(self._marks) < _MARKED_S:
            # no window: every sample of the second counts alike, wherever another copy's begins
            whole = np.fft.rfft(wave - wave.mean())
            energy = (whole.real**2 + whole.imag**2) / self._rate_hz**2 + 1e-20
            edges = np.searchsorted(self._hz, _EDGES_HZ)
            bands = np.add.reduceat(energy, np.minimum(edges, len(energy) - 1))[:-1]
            self._marks.append(10 * np.log10(bands))
            self._sharp.append(self._sharpest_of(wave))

    def _sharpest_of(self, wave: Array) -> float:
        # differences weigh what is high, of which a moment has enough to be sure of
        high = np.diff(wave)
        size = len(high) // _MOMENTS
        power = (high[: size * _MOMENTS].reshape(_MOMENTS, size) ** 2).mean(axis=1)
        moments = np.concatenate([self._moments, 10 * np.log10(power + 1e-12)])
        self._moments = moments[-2 * _BEFORE :]
        return _sharpest(moments)

    def result(self) -> SoundFacts:
        """Of everything taken in."""
        levels = np.array(self._marks).reshape(-1, BANDS)
        mean = self._log_power / max(self._seconds, 1)
        hum_db, hum_hz = _hum(mean) if self._seconds else (0.0, _MAINS_HZ[0])
        step_at_s, step_db = _step(levels, np.array(self._sharp))
        dc = 0.0 if self._sum is None else float(np.abs(self._sum / max(self._frames, 1)).max())
        thirds = [
            float(mean[(self._hz >= hz * 10**-0.05) & (self._hz < hz * 10**0.05)].mean())
            for hz in THIRDS_HZ
            if hz * 10**0.05 < self._rate_hz / 2
        ]
        tone = self._stuck > _TONE_SHARE * self._places
        packed = np.clip(np.round(100 * levels), -32768, 32767).astype("<i2").tobytes()
        return SoundFacts(
            dc=round(dc, 5),
            hum_db=round(hum_db, 1),
            hum_hz=hum_hz,
            stuck=0 if tone else self._stuck,
            step_at_s=step_at_s,
            step_db=round(step_db, 1),
            thirds_db=tuple(round(one, 1) for one in thirds),
            mark=base64.b64encode(packed).decode("ascii"),
        )


def _repeats(wave: Block) -> int:
    """Places of a second whose samples come again within it, exactly."""
    found, size = 0, len(wave)
    for first in range(0, size - 2 * _STUCK, max(1, size // _PLACES)):
        piece = wave[first : first + _STUCK]
        # silence, clipping and held values repeat too, and are told elsewhere or are no buffer
        if len(np.unique(piece)) < _STUCK // 4:
            continue
        later = np.flatnonzero(wave[first + 32 : size - _STUCK] == piece[0]) + first + 32
        # by a few samples first: hardly any other place passes
        for step in (1, 7, 50, 255):
            later = later[wave[later + step] == piece[step]]
        found += any(np.array_equal(wave[at : at + _STUCK], piece) for at in later)
    return found


def _hum(level_db: Array) -> tuple[float, int]:
    """How far the lines of the mains stand out of a spectrum of lines 1 Hz apart, and which."""
    best = 0.0, _MAINS_HZ[0]
    for mains_hz in _MAINS_HZ:
        above = []
        for line in range(mains_hz, mains_hz * _OVERTONES + 1, mains_hz):
            beside = np.r_[level_db[line - 9 : line - 3], level_db[line + 4 : line + 10]]
            above.append(float(level_db[line - 1 : line + 2].max() - np.median(beside)))
        # two of four: one line alone is a machine of the site
        second = sorted(above)[-2]
        best = max(best, (second, mains_hz))
    return best


def _sharpest(moments: Array) -> float:
    """The greatest step between moments that lie beside each other, dB."""
    mean = np.convolve(moments, np.ones(_BEFORE) / _BEFORE, "valid")
    steps = mean[_BEFORE:] - mean[:-_BEFORE]
    return float(steps[np.abs(steps).argmax()])


def _step(levels: Array, sharp: Array) -> tuple[float, float]:
    """Where the gain steps: second and dB; 0 and 0 where it does not.

    Parameters
    ----------
    levels : array, shape (seconds, bands)
    sharp : array, shape (seconds,)
        The sharpest step of each second.
    """
    best = 0.0, 0.0
    for at in np.flatnonzero(np.abs(sharp[: len(levels)]) >= _STEP_DB).tolist():
        if not _BESIDE_S <= at < len(levels) - _BESIDE_S:
            continue
        # the second of the step itself is of both gains
        before, after = levels[at - _BESIDE_S : at], levels[at + 1 : at + 1 + _BESIDE_S]
        stays = np.quantile(after, 0.1, axis=0) - np.quantile(before, 0.1, axis=0)
        enough = max(_STEP_DB, abs(float(sharp[at]))) * _STAYS
        stayed = float(np.median(stays)) * np.sign(sharp[at]) >= enough
        if stayed and abs(sharp[at]) > abs(best[1]):
            best = float(at), float(sharp[at])
    return best
