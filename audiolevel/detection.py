"""How likely is it that a wanted sound fires the trigger, in this site's noise?

The sound is placed at many random moments of the site's level history and the trigger decides
each time, in the state the site left it in: not armed yet, still in the dead time after a lorry,
or ready. Uncorrelated sounds add as mean squares and the F weighting of a mean square is linear,
so LAF² of the mixture is LAF² of the site plus LAF² of the sound; no waveform has to be mixed
where nothing clips.

For one placement the outcome at *every* setting follows from one array: the trigger fires if the
highest value its mode watches, from the moment it is armed to the end of the sound, is at or
above the setting. So a sweep costs little more than a single setting, and only placements that
meet a trigger not yet released are followed row by row.

Entry points: ``detect``, ``Detection``, ``placements`` and ``wilson_interval``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
import numpy.typing as npt

from audiolevel.errors import RecordingError, SettingError
from audiolevel.levels import ROW_S, SILENCE_DB, level_db, mean_square
from audiolevel.triggers import Centi, Trigger, centibels, series, sweep

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

MOMENT_S = 15.0
"""Placements closer than this meet the same vehicles: they count as one moment of the site."""

_BATCH = 1000
_NEVER = np.iinfo(np.int16).min


@dataclass(frozen=True)
class Detection:
    """The chance that a sound fires a trigger at one setting.

    Parameters
    ----------
    at_db
        The trigger's level or change.
    probability, low, high
        Share of the placements that fired, and its Wilson interval at `confidence`.
    placements
        Moments tried.
    effective
        Independent moments they are worth; fewer than `placements` where the history is short,
        because many placements then meet the same few vehicles. The interval is drawn from these.
    """

    at_db: float
    probability: float
    low: float
    high: float
    confidence: float
    placements: int
    effective: float


def detect(
    site_level_db: npt.ArrayLike,
    sound_level_db: npt.ArrayLike,
    sweeps: Sequence[tuple[Trigger, Sequence[float]]],
    *,
    interval_s: float = ROW_S,
    weights: npt.ArrayLike | None = None,
    confidence: float = 0.95,
    half_width: float = 0.025,
    at_most: int = 20_000,
    seed: int = 0,
) -> list[list[Detection]]:
    """Chance of detection for each trigger at each of its settings.

    Parameters
    ----------
    site_level_db
        LAF of the site at this gain, shape (rows,), dB.
    sound_level_db
        LAF of the sound alone on the same scale and at the same gain, shape (n,), row by row from
        silence and with the fall after it (`synthesis.laf_course_db`). A firing within these rows
        counts.
    sweeps
        Triggers, each with the levels or changes to try in place of its own.
    interval_s
        Of a row.
    weights
        How much each row counts as a moment for the sound to begin, shape (rows,); all the same
        when left out.
    confidence
        Of the interval.
    half_width
        More placements are tried until the Wilson interval of the share is no wider than this to
        each side at every setting (2.5 % takes 1,500 at worst).
    at_most
        Placements, whatever the width.
    seed
        Choice of moments.

    Returns
    -------
    list of list of Detection
        One list per sweep, one entry per setting.

    Raises
    ------
    RecordingError
        The history is shorter than the trigger's dead start and the sound together.
    SettingError
        A level that is not finite, or a parameter outside its range.
    """
    site = _checked(site_level_db, "site_level_db")
    sound = mean_square(_checked(sound_level_db, "sound_level_db") / 100.0)
    if not 0.0 < half_width < 1.0 or not 0.0 < confidence < 1.0 or at_most < 1:
        raise SettingError("half_width and confidence lie between 0 and 1, at_most is 1 or more")
    watches = [_Watch(site, trigger, settings, interval_s) for trigger, settings in sweeps]
    if not watches:
        return []
    context = max(watch.context for watch in watches)
    armed = max(watch.armed_from for watch in watches)
    rng = np.random.default_rng(seed)
    tried: list[IntArray] = []
    caught: list[list[npt.NDArray[np.bool_]]] = [[] for _ in watches]
    while True:
        size = min(_BATCH, at_most - sum(map(len, tried)))
        rows = placements(len(site), len(sound), size, armed_from=armed, weights=weights, rng=rng)
        mixed = _mixed(site, sound, rows, context)
        for watch, hits in zip(watches, caught, strict=True):
            hits.append(watch.caught(mixed[:, context - watch.context :], rows))
        tried.append(rows)
        count = sum(map(len, tried))
        shares = np.concatenate([np.concatenate(hits, axis=0).mean(axis=0) for hits in caught])
        low, high = wilson_interval(shares, count, confidence)
        if count >= at_most or np.max(high - low) <= 2.0 * half_width:
            break
    moment = np.concatenate(tried) // max(1, round(MOMENT_S / interval_s))
    return [
        _summarised(np.concatenate(hits, axis=0), watch.settings_db, moment, confidence)
        for watch, hits in zip(watches, caught, strict=True)
    ]


def placements(
    rows: int,
    sound_rows: int,
    count: int,
    *,
    armed_from: int,
    weights: npt.ArrayLike | None = None,
    rng: np.random.Generator,
) -> IntArray:
    """Rows at which the sound begins, shape (count,): anywhere it fits once the trigger is armed.

    Raises
    ------
    RecordingError
        It fits nowhere.
    SettingError
        Weights of another shape, negative, not finite, or nought everywhere it fits.
    """
    last = rows - sound_rows
    if last < armed_from:
        raise RecordingError(
            f"the level history has {rows} rows and the sound needs {sound_rows} after the"
            f" trigger's first {armed_from}: record for longer"
        )
    if weights is None:
        return rng.integers(armed_from, last, size=count, endpoint=True)
    weight = np.asarray(weights, dtype=np.float64)
    if weight.shape != (rows,) or not np.isfinite(weight).all() or (weight < 0.0).any():
        raise SettingError("weights: give one number of 0 or more for each row of the history")
    cumulated = np.cumsum(weight[armed_from : last + 1])
    if cumulated[-1] <= 0.0:
        raise SettingError("weights: all moments at which the sound fits weigh nothing")
    drawn = rng.uniform(0.0, cumulated[-1], size=count)
    return armed_from + np.minimum(np.searchsorted(cumulated, drawn, "right"), last - armed_from)


def wilson_interval(
    share: npt.ArrayLike, count: npt.ArrayLike, confidence: float = 0.95
) -> tuple[FloatArray, FloatArray]:
    """Limits of a probability of which `share` of `count` independent tries were seen.

    Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212: the score interval, which never leaves 0 to 1
    and keeps a width when none or all were seen.
    """
    from statistics import NormalDist

    z2 = NormalDist().inv_cdf(0.5 + confidence / 2.0) ** 2
    p, n = np.asarray(share, dtype=np.float64), np.asarray(count, dtype=np.float64)
    middle = (p + z2 / (2.0 * n)) / (1.0 + z2 / n)
    half = np.sqrt(z2 * (p * (1.0 - p) / n + z2 / (4.0 * n * n))) / (1.0 + z2 / n)
    return np.clip(middle - half, 0.0, 1.0), np.clip(middle + half, 0.0, 1.0)


class _Watch:
    """One trigger over its settings: what the site alone leaves it in, and what a mixture does."""

    def __init__(
        self, site: Centi, trigger: Trigger, settings_db: Sequence[float], interval_s: float
    ) -> None:
        self.settings_db = [float(setting) for setting in settings_db]
        self._mode = trigger.mode
        self._window = 0 if trigger.mode == "threshold" else round(trigger.window_s / interval_s)
        self._hold = ceil(trigger.hold_s / interval_s - 1e-9)
        self._rearm = ceil(trigger.rearm_s / interval_s - 1e-9)
        self.context = self._window + self._hold
        self.armed_from = ceil(max(trigger.window_s, 1.0) / interval_s - 1e-9) - 1
        release_db = trigger.release_db if trigger.mode == "threshold" else 0.0
        self._at = [ceil(round(setting * 100, 6)) for setting in self.settings_db]
        self._below = [ceil(round((s - release_db) * 100, 6)) for s in self.settings_db]
        watched = series(site, trigger.mode, max(self._window, 1))
        self._fired = sweep(site, trigger, self.settings_db, interval_s)
        self._released = [
            _first_below_after(watched, below, fired)
            for below, fired in zip(self._below, self._fired, strict=True)
        ]

    def caught(self, mixed: Centi, rows: IntArray) -> npt.NDArray[np.bool_]:
        """Which placements fire, shape (placements, settings).

        `mixed` holds the mixture's level, shape (placements, context + sound rows).
        """
        watched = self._watched(mixed)
        highest = np.full((len(rows), watched.shape[1] - self._hold + 1), _NEVER, np.int16)
        highest[:, :-1] = _held(watched, self._hold)
        highest = np.maximum.accumulate(highest[:, ::-1], axis=1)[:, ::-1]
        watched = watched[:, self._hold :]
        hits = np.empty((len(rows), len(self._at)), dtype=np.bool_)
        for number, at in enumerate(self._at):
            armed = self._armed_after(number, watched, rows)
            hits[:, number] = highest[np.arange(len(rows)), armed] >= at
        return hits

    def _watched(self, mixed: Centi) -> Centi:
        """What the mode compares, from `hold` rows before the sound on."""
        if self._mode == "threshold":
            return mixed
        from scipy.ndimage import maximum_filter1d, minimum_filter1d

        m = self._window
        present = mixed[:, m:]
        before = slice(m // 2, m // 2 + present.shape[1])  # rows k − m to k − 1, for each k
        parts: list[Centi] = []
        if self._mode in ("rise", "change"):
            parts.append(present - minimum_filter1d(mixed, m, axis=1)[:, before])
        if self._mode in ("fall", "change"):
            parts.append(maximum_filter1d(mixed, m, axis=1)[:, before] - present)
        return parts[0] if len(parts) == 1 else np.maximum(*parts)

    def _armed_after(self, number: int, watched: Centi, rows: IntArray) -> IntArray:
        """Rows into the sound from which the trigger can fire; the sound's length for never."""
        length = watched.shape[1]
        fired, released = self._fired[number], self._released[number]
        last = np.searchsorted(fired, rows) - 1
        after_firing = last >= 0
        armed = np.zeros(len(rows), dtype=np.int64)
        if not after_firing.any():
            return armed
        firing, release = fired[last[after_firing]], released[last[after_firing]]
        begin = rows[after_firing]
        still_on = np.flatnonzero(release >= begin)  # not released when the sound begins
        if len(still_on):
            below = watched[np.flatnonzero(after_firing)[still_on]] < self._below[number]
            first = np.where(below.any(axis=1), below.argmax(axis=1), length)
            release = release.copy()
            release[still_on] = begin[still_on] + first
        ready = np.maximum(firing + self._rearm, release + 1) - begin
        armed[after_firing] = np.clip(ready, 0, length)
        return armed


def _mixed(site: Centi, sound: FloatArray, rows: IntArray, context: int) -> Centi:
    """Level of site and sound together, shape (placements, context + sound rows)."""
    at = rows[:, None] + np.arange(-context, len(sound))
    mixed = site[np.maximum(at, 0)]
    if len(sound):
        together = mean_square(mixed[:, context:] / 100.0) + sound
        mixed[:, context:] = centibels(level_db(together))
    return np.asarray(mixed, dtype=np.int16)


def _held(watched: Centi, hold: int) -> Centi:
    """The lowest of each row and the `hold` before it, from row `hold` on."""
    if hold == 0:
        return watched
    from scipy.ndimage import minimum_filter1d

    lowest = minimum_filter1d(watched, hold + 1, axis=1)
    begin = (hold + 1) // 2
    return np.asarray(lowest[:, begin : begin + watched.shape[1] - hold], dtype=np.int16)


def _first_below_after(watched: Centi, below: int, fired: IntArray) -> IntArray:
    """First row after each firing at which the condition is false; past the end for never."""
    false_rows = np.append(np.flatnonzero(watched < below), np.iinfo(np.int64).max // 2)
    return np.asarray(false_rows[np.searchsorted(false_rows, fired, "right")], dtype=np.int64)


def _summarised(
    hits: npt.NDArray[np.bool_], settings_db: Sequence[float], moment: IntArray, confidence: float
) -> list[Detection]:
    count = len(hits)
    share = hits.mean(axis=0)
    effective = _effective(hits, share, moment)
    low, high = wilson_interval(share, effective, confidence)
    return [
        Detection(at_db, float(p), float(a), float(b), confidence, count, float(n))
        for at_db, p, a, b, n in zip(settings_db, share, low, high, effective, strict=True)
    ]


def _effective(hits: npt.NDArray[np.bool_], share: FloatArray, moment: IntArray) -> FloatArray:
    """Independent tries the placements are worth, from how much moments differ; (settings,).

    The variance of a ratio over clusters (Cochran, Sampling Techniques, 3rd ed. 1977, 6.3 and
    9A) against that of single draws. Where all or none fired there is no variance to compare and
    a moment counts as one try.
    """
    count = len(hits)
    _, number = np.unique(moment, return_inverse=True)
    moments = int(number.max()) + 1
    if moments < 2:
        return np.full(len(share), 1.0)
    size = np.bincount(number)
    per_moment = np.stack([np.bincount(number, column) for column in hits.T], axis=1)
    spread = per_moment - share * size[:, None]
    between = moments / (moments - 1) * np.sum(spread**2, axis=0) / count**2
    single = share * (1.0 - share)
    with np.errstate(divide="ignore", invalid="ignore"):
        worth = np.where(between > 0.0, single / between, float(moments))
    return np.asarray(np.clip(worth, 1.0, count), dtype=np.float64)


def _checked(values_db: npt.ArrayLike, name: str) -> Centi:
    values = np.asarray(values_db, dtype=np.float64)
    if values.ndim != 1 or not len(values):
        raise SettingError(f"{name}: give one level per row")
    if not np.isfinite(values).all():
        row = int(np.flatnonzero(~np.isfinite(values))[0])
        raise SettingError(f"{name}: row {row} is {values[row]}, not a level")
    # int16 hundredths hold a change of up to 327 dB
    return centibels(np.clip(values, SILENCE_DB, 120.0))
