"""Firings and detections of every mode, at every setting and usable gain.

A gain that only shifts the level shifts its curve; every other usable gain is swept on the levels
simulated for it. Marked wanted sounds are no false firings and are not listened to.

Entry points: `curves_of`, `curve_at`, `Curve`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audiolevel.counting.exposure import Visit
from audiolevel.counting.predicted import LevelForLimit, Prediction
from audiolevel.ground.arrays import Array, Centi, IntArray
from audiolevel.metering.gain import SimulatedGain
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.placement import DetectionCurve, comparable_marks, marked, placed
from audiolevel.planning.prediction import settings_to_try, swept
from audiolevel.planning.survey import Survey


@dataclass(frozen=True, eq=False)
class Curve:
    """What one mode does at one gain, at every setting.

    Attributes
    ----------
    mode : str
    gain_db : float
        Relative to the recording.
    prediction : Prediction
        Its settings are dB FS at that gain, or dB of change.
    limit : LevelForLimit or None
        The setting that gives just the site's limit of false firings.
    detections : tuple of DetectionCurve
        Of every sound placed or marked.
    comparable : tuple of DetectionCurve
        Of the sounds marked about as far off as the site file says: what was computed for those
        must agree with them.
    visits : tuple of Visit
        What the prediction is made from; their counts are those of the prediction's settings.
    fired : sequence of sequence of arrays of int64
        Rows at which it fired, by recording and setting; in marked sounds too.
    """

    mode: str
    gain_db: float
    prediction: Prediction
    limit: LevelForLimit | None
    detections: tuple[DetectionCurve, ...] = ()
    comparable: tuple[DetectionCurve, ...] = ()
    visits: tuple[Visit, ...] = ()
    fired: Sequence[Sequence[IntArray]] = ()

    @property
    def limit_within_scale(self) -> LevelForLimit | None:
        """`limit` with None for every level above full scale: the input never reads it."""
        if self.limit is None or self.mode != "threshold":
            return self.limit
        # 0 dB FS; if even the lower end lies above it, nothing is known within the scale
        within = self.limit.up_to(0.0)
        return None if within.low_db is None else within

    @property
    def required(self) -> list[DetectionCurve]:
        """The sounds that a setting is chosen for: those of the site file, or else the marked ones.

        Without those that need not be caught and those out of reach.
        """
        # sounds of the site file say what is wanted; marks only what happened to be heard
        placed = [one for one in self.detections if one.distance_m is not None]
        return [one for one in placed or self.detections if one.must and not one.out_of_reach]

    def least_probability(self) -> Array:
        """Probability of the required sound that is caught least; shape (settings,)."""
        return self._least([one.probability for one in self.required])

    def least_sure_probability(self) -> Array:
        """The lowest lower end of the required sounds' probabilities; shape (settings,)."""
        return self._least([one.low for one in self.required])

    def _least(self, each: Sequence[Array]) -> Array:
        if not each:
            return np.ones(len(self.prediction.settings_db))
        # (sounds, settings) to (settings,): every wanted sound must be caught
        least: Array = np.min(each, axis=0)
        return least

    def shifted(self, gain_db: float) -> "Curve":
        """The same mode at a gain that moves every level alike."""
        # a difference of two levels is the same at every gain that only shifts them
        if self.mode != "threshold":
            return replace(self, gain_db=gain_db)
        return replace(
            self,
            gain_db=gain_db,
            prediction=self.prediction.shifted(gain_db),
            limit=None if self.limit is None else self.limit.shifted(gain_db),
            visits=tuple(visit.shifted(gain_db) for visit in self.visits),
        )


def curves_of(survey: Survey, gains: Sequence[GainMargins]) -> list[Curve]:
    """A curve for every mode of the site at every usable gain.

    Parameters
    ----------
    survey : Survey
    gains : sequence of GainMargins
        One for each gain that was simulated, in their order.
    """
    modes = list(survey.modes)
    grids = {mode: settings_to_try(survey, mode) for mode in modes}
    as_recorded: dict[str, Curve] = {}
    curves = []
    for i, gain in enumerate(gains):
        simulated = [one.gains[i] for one in survey.measurements]
        # nothing is looked for at a gain that is not to be set
        if not gain.usable or any(one.laf is None for one in simulated):
            continue
        clip = _clips(survey, gain.gain_db)
        if not clip and all(one.shifted for one in simulated):
            # swept once, then shifted: the sweep is what takes the time
            if not as_recorded:
                base = [replace(one, gain_db=0.0) for one in simulated]
                as_recorded = _at_gain(survey, base, 0.0, grids, clip=False)
            curves += [as_recorded[mode].shifted(gain.gain_db) for mode in modes]
        else:
            # clipping or noise bends the levels, so no other gain's curve can be shifted here
            own = {mode: settings_to_try(survey, mode, gain.gain_db) for mode in modes}
            curves += list(_at_gain(survey, simulated, gain.gain_db, own, clip=clip).values())
    return sorted(curves, key=lambda curve: (modes.index(curve.mode), curve.gain_db))


def curve_at(survey: Survey, index: int, gain_db: float, mode: str, settings_db: Array) -> Curve:
    """The curve of one mode at one gain, for settings of one's own.

    Parameters
    ----------
    survey : Survey
    index : int
        Of the gain among those simulated; its levels must be there.
    gain_db : float
        Relative to the recording.
    mode : str
    settings_db : array, shape (n,)
        Rising; dB FS at that gain, or dB of change.
    """
    simulated = [one.gains[index] for one in survey.measurements]
    clip = _clips(survey, gain_db)
    return _at_gain(survey, simulated, gain_db, {mode: settings_db}, clip=clip)[mode]


def _clips(survey: Survey, gain_db: float) -> bool:
    """Whether the site, or the site and a usual wanted sound together, may pass full scale."""
    # without peaks a wanted sound is looked at by itself
    highest = 10 ** (survey.levels.sample_peak_db / 20) if survey.has_peaks else 0.0
    # the worst case: both peaks at the same sample and of one sign
    usual = [
        highest + 10 ** ((wanted.peak_db + wanted.variation.mean_db) / 20)
        for wanted in survey.wanted
    ]
    return any(amplitude * 10 ** (gain_db / 20) > 1 for amplitude in (highest, *usual))


def _at_gain(
    survey: Survey,
    simulated: Sequence[SimulatedGain],
    gain_db: float,
    grids: Mapping[str, Array],
    *,
    clip: bool,
) -> dict[str, Curve]:
    """All modes at one gain, swept on its own levels."""
    levels = [one.laf for one in simulated if one.laf is not None]
    detections = placed(survey, levels, gain_db, grids, clip=clip)
    return {
        mode: _curve(survey, levels, gain_db, mode, grid, detections[mode])
        for mode, grid in grids.items()
    }


def _curve(
    survey: Survey,
    levels: Sequence[Centi],
    gain_db: float,
    mode: str,
    grid: Array,
    detections: Iterable[DetectionCurve],
) -> Curve:
    site = survey.site
    limit_per_day = site.limits.false_triggers_per_day
    # any setting will do: the sweep puts each of the grid in its place
    trigger = site.trigger.trigger(mode, float(grid[-1]))
    counts = swept(survey, levels, trigger, grid)
    return Curve(
        mode,
        gain_db,
        counts.prediction,
        counts.prediction.level_for_limit(limit_per_day),
        (*detections, *marked(survey, levels, counts.fired)),
        tuple(marked(survey, levels, counts.fired, comparable_marks(survey))),
        tuple(counts.visits),
        counts.fired,
    )
