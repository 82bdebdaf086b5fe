"""What would this one trigger do, on these recordings, at these gains?

Entry points: `run_trials`, `Trial`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.arrays import Centi
from audiolevel.counting.peaks_over_threshold import separate_peaks
from audiolevel.counting.rates import Prediction, Visit, predict
from audiolevel.metering.annotations import Mark
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import SimulatedGain
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import ROW_S
from audiolevel.triggers.trigger import Trigger, firings

# sounds closer than this belong together (docs/counting.md)
SEPARATE_S = 10.0


@dataclass(frozen=True)
class Trial:
    """One trigger on one recording at one gain.

    Attributes
    ----------
    trigger : Trigger
        Its level in dB FS at this gain.
    fired : tuple of (float, float)
        Time in seconds and level in dB FS of each firing.
    prediction : Prediction
        Of this setting, from all recordings together.
    """

    heard: Measurement
    sound: SimulatedGain
    trigger: Trigger
    fired: tuple[tuple[float, float], ...]
    prediction: Prediction


def run_trials(
    heard: Sequence[Measurement],
    asked: Trigger,
    scale: Scale,
    *,
    traffic: ArrayLike | str | None = None,
    confidence: float = 0.95,
    seed: int = 0,
) -> list[Trial]:
    """Every gain that was listened to, on every recording.

    Parameters
    ----------
    heard : sequence of Measurement
        Listened to with the gains to try.
    asked : Trigger
        A threshold's level in the unit of `scale`.
    """
    trials = []
    for i, sound in enumerate(heard[0].gains):
        trigger = asked
        if asked.mode == "threshold":
            trigger = asked.at(scale.full_scale(asked.at_db, sound.gain_db))
        fired = [_fired(one.gains[i], trigger) for one in heard]
        prediction = predict(
            [trigger.at_db],
            [
                visit(one, len(times), one.gains[i].laf, trigger)
                for one, times in zip(heard, fired, strict=True)
            ],
            extrapolate=trigger.extrapolates,
            confidence=confidence,
            traffic=traffic,
            seed=seed,
        )
        trials += [
            Trial(one, one.gains[i], trigger, times, prediction)
            for one, times in zip(heard, fired, strict=True)
        ]
    return trials


def visit(
    heard: Measurement,
    counts: ArrayLike,
    laf: Centi | None,
    trigger: Trigger,
    marks: Sequence[Mark] = (),
) -> Visit:
    """A recording as the counting sees it: firings at each setting, and its separate peaks.

    The marked stretches are no part of the time listened to.
    """
    peaks = None
    if trigger.extrapolates and laf is not None:
        # peaks that could not fire one after the other, or not hold long enough, are no firings
        apart_s = max(SEPARATE_S, trigger.rearm_s)
        peaks = separate_peaks(laf / 100, ROW_S, apart_s=apart_s, hold_s=trigger.hold_s)
    return Visit(
        counts=np.atleast_1d(np.asarray(counts, dtype=np.int64)),
        duration_s=max(heard.duration_s - sum(mark.length_s for mark in marks), ROW_S),
        peaks_db=peaks,
        start=heard.start,
    )


def _fired(sound: SimulatedGain, trigger: Trigger) -> tuple[tuple[float, float], ...]:
    if sound.laf is None:
        return ()
    rows = firings(sound.laf / 100, trigger)
    return tuple(
        (round((row + 1) * ROW_S, 2), float(sound.laf[row]) / 100) for row in rows.tolist()
    )
