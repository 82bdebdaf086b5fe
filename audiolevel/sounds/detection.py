"""The chance that a wanted sound fires the trigger in this site's noise.

The sound is placed at many random moments of the site's level history and the trigger decides
each time, in the state the site left it in: not armed yet, still in the dead time after a lorry,
or ready. Uncorrelated sounds add as mean squares and the F weighting of a mean square is linear,
so LAF² of the mixture is LAF² of the site plus LAF² of the sound; no waveform has to be mixed
where nothing clips.

No two events are alike (`variation`): every placement draws an offset of the sound's level, and
the chance is the mean over the offsets, P = ∫ P₀(δ) N(δ; m, s²) dδ with P₀ the chance at an offset
and s the spread from event to event. The offsets are drawn more widely than s, with weights, so
that one sweep also gives the chance at other means m: the ends of what is not known of the mean.

Entry points: ``surroundings``, ``detect``, ``Detection``, ``placements``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array, BoolArray, Centi, IntArray
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.ground.intervals import MOMENT_S, wilson_interval
from audiolevel.metering.decibels import SILENCE_DB, centibels, level_db, mean_square
from audiolevel.metering.meter import ROW_S
from audiolevel.sounds.variation import CERTAIN, Variation
from audiolevel.triggers.response import SweptTrigger
from audiolevel.triggers.trigger import Trigger

# placements from one look at the intervals to the next
_BATCH = 1000
# farther than this from the level worked out no sound is placed
OFFSET_LIMIT_DB = 45.0
# offsets are drawn this much more widely than the next event is expected, for the ends' sake
_WIDER = 1.2
# a spread below this would leave hardly a draw within it
_LEAST_SPREAD_DB = 0.5
# fractional part of the golden ratio: multiples of it fill an interval evenly at any number
_GOLDEN = 0.6180339887498949


@dataclass(frozen=True)
class Detection:
    """The chance that a sound fires a trigger at one setting.

    Parameters
    ----------
    at_db
        The trigger's level or change.
    probability, low, high
        Share of the events that fire, and its interval at `confidence`: what is not known of the
        sound's mean level, and the Wilson interval of the placements.
    placements
        Moments tried.
    effective
        Independent moments they are worth; fewer than `placements` where the history is short,
        because many placements then meet the same few vehicles. Wilson's interval is drawn from
        these.
    """

    at_db: float
    probability: float
    low: float
    high: float
    confidence: float
    placements: int
    effective: float


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What every sound of a site meets: its levels, and what they alone make of each trigger.

    Attributes
    ----------
    level : array of int16, shape (rows,)
        LAF of the site, hundredths of a dB.
    swept : tuple of SweptTrigger
    interval_s : float
        Of a row.
    weights : array-like or None
        How much each row counts as a moment for a sound to begin, shape (rows,); None: all alike.
    """

    level: Centi
    swept: tuple[SweptTrigger, ...]
    interval_s: float = ROW_S
    weights: ArrayLike | None = None


def surroundings(
    site_level_db: ArrayLike,
    sweeps: Sequence[tuple[Trigger, Sequence[float]]],
    *,
    interval_s: float = ROW_S,
    weights: ArrayLike | None = None,
) -> Surroundings:
    """What sounds meet at a site.

    Parameters
    ----------
    site_level_db
        LAF of the site at this gain, shape (rows,), dB.
    sweeps
        Triggers, each with the levels or changes to try in place of its own.
    interval_s, weights
        As in `Surroundings`.

    Raises
    ------
    SettingError
        A level that is not finite.
    """
    level = _checked(site_level_db, "site_level_db")
    swept = (SweptTrigger(level, trigger, settings, interval_s) for trigger, settings in sweeps)
    return Surroundings(level, tuple(swept), interval_s, weights)


def detect(
    around: Surroundings,
    sound_level_db: ArrayLike,
    *,
    variation: Variation = CERTAIN,
    confidence: float = 0.95,
    half_width: float = 0.025,
    at_most: int = 20_000,
    seed: int = 0,
) -> list[list[Detection]]:
    """Chance of detection for each trigger at each of its settings.

    Parameters
    ----------
    around
        What the sound meets.
    sound_level_db
        LAF of the sound alone on the same scale and at the same gain, shape (n,), row by row from
        silence and with the fall after it (`synthesis.laf_course_db`). A firing within these rows
        counts.
    variation
        How far the sound's level may lie from `sound_level_db`.
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
        One list per trigger, one entry per setting.

    Raises
    ------
    RecordingError
        The history is shorter than the trigger's dead start and the sound together.
    SettingError
        A level that is not finite, or a parameter outside its range.
    """
    sound = mean_square(_checked(sound_level_db, "sound_level_db") / 100.0)
    if not 0.0 < half_width < 1.0 or not 0.0 < confidence < 1.0 or at_most < 1:
        raise SettingError("half_width and confidence lie between 0 and 1, at_most is 1 or more")
    # no trigger has no widest interval to reach
    if not around.swept:
        return []
    # one ground for all triggers: where the slowest of them is armed
    armed = max(trigger.armed_from for trigger in around.swept)
    rng = np.random.default_rng(seed)
    tried = _Tried(around.level, sound, around.swept, variation)
    while tried.count < at_most and tried.widest(confidence) > 2.0 * half_width:
        size = min(_BATCH, at_most - tried.count)
        tried.add(
            placements(
                len(around.level),
                len(sound),
                size,
                armed_from=armed,
                weights=around.weights,
                rng=rng,
                interval_s=around.interval_s,
            )
        )
    return tried.detections(max(1, round(MOMENT_S / around.interval_s)), confidence)


class _Tried:
    """The placements tried so far, and which of them fired each trigger at each setting."""

    def __init__(
        self,
        site: Centi,
        sound: Array,
        swept: Sequence[SweptTrigger],
        variation: Variation,
    ) -> None:
        self._site, self._sound, self._swept = site, sound, swept
        self._offsets = OffsetDraws(variation)
        self._context = max(trigger.context for trigger in swept)
        self._rows: list[IntArray] = []
        self._fired: list[list[BoolArray]] = [[] for _ in swept]

    @property
    def count(self) -> int:
        return sum(map(len, self._rows))

    def add(self, rows: IntArray) -> None:
        offsets_db = self._offsets.draw(len(rows))
        mixed = _mixed(self._site, self._sound, rows, offsets_db, self._context)
        # each trigger looks back by its own context; cut out was the longest
        for trigger, hits in zip(self._swept, self._fired, strict=True):
            hits.append(trigger.fires(mixed[:, self._context - trigger.context :], rows))
        self._rows.append(rows)

    def widest(self, confidence: float) -> float:
        """Width of the widest interval of all settings; infinite before the first placement."""
        if not self._rows:
            return np.inf
        weights = self._offsets.weights()
        shares = np.concatenate([_share(self._hits(i), weights) for i in range(len(self._swept))])
        # so many draws of equal weight would be as sure (Kish, Survey Sampling, 1965, 11.7)
        worth = weights.sum() ** 2 / (weights**2).sum()
        low, high = wilson_interval(shares, worth, confidence)
        return float(np.max(high - low))

    def detections(self, moment_rows: int, confidence: float) -> list[list[Detection]]:
        """One list per trigger, one entry per setting; a moment is so many rows."""
        # placements of one moment meet the same vehicle and are no independent tries
        moment = np.concatenate(self._rows) // moment_rows
        return [
            _summarised(self._hits(i), trigger.settings_db, moment, confidence, self._offsets)
            for i, trigger in enumerate(self._swept)
        ]

    def _hits(self, i: int) -> BoolArray:
        """What fired trigger `i`, shape (placements, settings)."""
        return np.concatenate(self._fired[i], axis=0)


class OffsetDraws:
    """Offsets of a sound's level, evenly spread over what the next event may be.

    Parameters
    ----------
    variation : Variation
    """

    def __init__(self, variation: Variation) -> None:
        self._variation = variation
        self._width_db = _WIDER * variation.predictive_db
        self._drawn: list[Array] = []

    def draw(self, count: int) -> Array:
        """The next offsets in dB, shape (count,)."""
        number = sum(map(len, self._drawn)) + np.arange(1, count + 1)
        if self._width_db:
            # kept out of start-up
            from scipy.special import ndtri

            # evenly spread in probability, in an order that no moment of the site shares
            drawn = self._width_db * ndtri((0.5 + number * _GOLDEN) % 1.0)
            away: Array = np.clip(drawn, -OFFSET_LIMIT_DB, OFFSET_LIMIT_DB)
        else:
            away = np.zeros(count)
        self._drawn.append(away + self._variation.mean_db)
        return self._drawn[-1]

    def weights(self, beyond_db: float = 0.0) -> Array:
        """What each offset counts if the mean were so many dB above the best estimate; (drawn,)."""
        drawn = np.concatenate(self._drawn)
        if not self._width_db:
            return np.ones(len(drawn))
        mean_db = self._variation.mean_db
        spread_db = max(self._variation.event_db, _LEAST_SPREAD_DB)
        # the density wanted over the density drawn from; constants cancel in every share
        wanted = ((drawn - mean_db - beyond_db) / spread_db) ** 2
        had = ((drawn - mean_db) / self._width_db) ** 2
        exponent = 0.5 * (had - wanted)
        weights: Array = np.exp(exponent - exponent.max())
        return weights

    def ends_db(self, confidence: float) -> tuple[float, float]:
        """By how much the mean may lie below and above the best estimate."""
        from scipy.special import ndtri

        half_db = float(ndtri(0.5 + confidence / 2.0)) * self._variation.unknown_db
        return -half_db, half_db


def placements(
    rows: int,
    sound_rows: int,
    count: int,
    *,
    armed_from: int,
    weights: ArrayLike | None = None,
    rng: np.random.Generator,
    interval_s: float = ROW_S,
) -> IntArray:
    """Rows at which the sound begins, shape (count,): anywhere it fits once the trigger is armed.

    Raises
    ------
    RecordingError
        It fits nowhere.
    SettingError
        Weights of another shape, negative, not finite, or nought everywhere it fits.
    """
    # the last row at which the whole sound still fits
    last = rows - sound_rows
    if last < armed_from:
        raise RecordingError(
            f"{rows * interval_s:.2f} s are too short for a sound of "
            f"{sound_rows * interval_s:.2f} s, which begins once the trigger is armed, "
            f"{armed_from * interval_s:.2f} s after the beginning; record "
            f"{(armed_from + sound_rows) * interval_s:.2f} s or more"
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
    # drawn by inverting the sum; the minimum is for a draw of the very total
    return armed_from + np.minimum(np.searchsorted(cumulated, drawn, "right"), last - armed_from)


def _mixed(site: Centi, sound: Array, rows: IntArray, offsets_db: Array, context: int) -> Centi:
    """Level of site and sound together, shape (placements, context + sound rows)."""
    at = rows[:, None] + np.arange(-context, len(sound))
    # before the history begins its first level is taken to have lasted
    mixed = site[np.maximum(at, 0)]
    if len(sound):
        # a placement's sound is louder or quieter as a whole; mean squares are powers
        events = sound * 10.0 ** (offsets_db[:, None] / 10.0) if offsets_db.any() else sound
        # LAF² of the mixture: mean squares add while nothing clips
        together = mean_square(mixed[:, context:] / 100.0) + events
        mixed[:, context:] = centibels(level_db(together))
    return np.asarray(mixed, dtype=np.int16)


def _share(hits: BoolArray, weights: Array) -> Array:
    """Weighted share of the placements that fired, shape (settings,)."""
    share: Array = np.clip(weights @ hits / weights.sum(), 0.0, 1.0)
    return share


def _summarised(
    hits: BoolArray,
    settings_db: Sequence[float],
    moment: IntArray,
    confidence: float,
    offsets: OffsetDraws,
) -> list[Detection]:
    count, weights = len(hits), offsets.weights()
    share = _share(hits, weights)
    effective = _effective(hits, share, moment, weights)
    below, above = wilson_interval(share, effective, confidence)
    # the chance if the sound's mean lay at either end of what is not known of it
    ends = np.stack([_share(hits, offsets.weights(end)) for end in offsets.ends_db(confidence)])
    # two independent doubts: their distances from the best estimate add as squares
    low = share - np.hypot(share - below, share - np.minimum(ends.min(axis=0), share))
    high = share + np.hypot(above - share, np.maximum(ends.max(axis=0), share) - share)
    low, high = np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)
    return [
        Detection(at_db, float(p), float(a), float(b), confidence, count, float(n))
        for at_db, p, a, b, n in zip(settings_db, share, low, high, effective, strict=True)
    ]


def _effective(hits: BoolArray, share: Array, moment: IntArray, weights: Array) -> Array:
    """Independent tries the placements are worth, from how much moments differ; (settings,).

    The variance of a ratio over clusters (Cochran, Sampling Techniques, 3rd ed. 1977, 6.3 and
    9A) against that of single draws. Where all or none fired there is no variance to compare and
    a moment counts as one try.
    """
    count = len(hits)
    # moments counted from 0 without gaps, so that bincount has no empty ones
    _, number = np.unique(moment, return_inverse=True)
    moments = int(number.max()) + 1
    # one moment has no variance between moments and is worth one try
    if moments < 2:
        return np.full(len(share), 1.0)
    # weights that sum to the number of placements, so that plain ones are 1
    weight = weights * (count / weights.sum())
    size = np.bincount(number, weight)
    # of shape (moments, settings)
    per_moment = np.stack([np.bincount(number, weight * column) for column in hits.T], axis=1)
    # hits of each moment above what its share of the placements would give
    spread = per_moment - share * size[:, None]
    between = moments / (moments - 1) * np.sum(spread**2, axis=0) / count**2
    # variance of one independent draw
    single = share * (1.0 - share)
    # nought by nought where all or none fired; `where` puts the moments there
    with np.errstate(divide="ignore", invalid="ignore"):
        worth = np.where(between > 1e-15, single / between, float(moments))
    return np.asarray(np.clip(worth, 1.0, count), dtype=np.float64)


def _checked(values_db: ArrayLike, name: str) -> Centi:
    values = np.asarray(values_db, dtype=np.float64)
    if values.ndim != 1 or not len(values):
        raise SettingError(f"{name}: give one level per row")
    if not np.isfinite(values).all():
        row = int(np.flatnonzero(~np.isfinite(values))[0])
        raise SettingError(f"{name}: row {row} is {values[row]}, not a level")
    # int16 hundredths hold a change of up to 327 dB
    return centibels(np.clip(values, SILENCE_DB, 120.0))
