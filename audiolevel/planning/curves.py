"""How often would each mode fire, and what would it catch, at every setting and gain?

A gain that only shifts the level shifts its curve; every other usable gain is swept on the levels
simulated for it. Marked wanted sounds are no false firings and are not listened to.

Entry points: `build_curves`, `Survey`, `Curve`, `DetectionCurve`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audiolevel.arrays import Array, Centi, IntArray
from audiolevel.counting.day_parts import ByPart, settings_by_part
from audiolevel.counting.rates import LevelForLimit, Prediction, predict
from audiolevel.counting.schedule import active_by_hour
from audiolevel.intervals import wilson_interval
from audiolevel.metering.annotations import Mark, hidden, inside
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import GainMargins, SimulatedGain
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import ROW_S
from audiolevel.metering.statistics import Levels
from audiolevel.planning.trial import visit
from audiolevel.site import Site
from audiolevel.sounds.arrival import WantedSound
from audiolevel.sounds.detection import Detection, detect, swept_triggers
from audiolevel.sounds.mixing import Background, Stretch, WaveformMixer
from audiolevel.triggers.trigger import MODES, sweep

LEVEL_STEP_DB = 0.5
_ABOVE_LOUDEST_DB = 10.0
CHANGES_DB = np.arange(3.0, 41.0)
# two hours hold hundreds of vehicles; placing in more would cost time and tell no more
_PLACING_ROWS = 720_000
_PLACING_STRETCHES = 12
_PLACEMENTS = 20_000
# a mixture costs a thousand times what adding mean squares does, and a gain at which wanted sounds
# clip is one to leave: fifty give ±14 % at worst
_MIXED_AT_MOST = 50


@dataclass(frozen=True)
class Survey:
    """All that a plan is made from.

    Attributes
    ----------
    marks : one tuple of `Mark` for each recording
    wanted : the sounds to catch, as they arrive; empty without a calibration
    """

    heard: Sequence[Measurement]
    site: Site
    scale: Scale
    levels: Levels
    marks: Sequence[Sequence[Mark]]
    wanted: Sequence[WantedSound] = ()
    confidence: float = 0.95
    seed: int = 0


@dataclass(frozen=True)
class DetectionCurve:
    """How likely a wanted sound fires the trigger, at every setting; arrays of shape (settings,).

    `distance_m` is None for a sound marked in the recording itself.
    """

    sound: str
    distance_m: float | None
    probability: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class Curve:
    """What one mode does at one gain: settings in dB FS at that gain, or dB of change."""

    mode: str
    gain_db: float
    prediction: Prediction
    limit: LevelForLimit | None
    catches: tuple[DetectionCurve, ...] = ()
    by_part: ByPart | None = None

    @property
    def asked(self) -> list[DetectionCurve]:
        """The sounds that must be caught: those of the site file, or else the marked ones."""
        named = [catch for catch in self.catches if catch.distance_m is not None]
        return named or list(self.catches)

    def caught(self) -> Array:
        """The chance of the wanted sound that is caught least, at every setting; (settings,)."""
        if not self.asked:
            return np.ones(len(self.prediction.settings_db))
        least: Array = np.min([catch.probability for catch in self.asked], axis=0)
        return least


def build_curves(survey: Survey, rooms: Sequence[GainMargins]) -> list[Curve]:
    """A curve for every mode of the site at every usable gain.

    Parameters
    ----------
    rooms : sequence of GainMargins
        One for each gain that was listened to, in their order.
    """
    modes = [mode for mode in MODES if mode in survey.site.trigger.modes]
    grids = {mode: level_grid(survey) if mode == "threshold" else CHANGES_DB for mode in modes}
    plain: dict[str, Curve] = {}
    curves = []
    for i, room in enumerate(rooms):
        sounds = [one.gains[i] for one in survey.heard]
        if not room.usable or any(sound.laf is None for sound in sounds):
            continue
        if _only_shifts(survey, sounds, room.gain_db):
            if not plain:
                base = [replace(sound, gain_db=0.0) for sound in sounds]
                plain = _at_gain(survey, base, 0.0, grids, clip=False)
            curves += [_shifted(plain[mode], room.gain_db) for mode in modes]
        else:
            own = {
                mode: grid + room.gain_db if mode == "threshold" else grid
                for mode, grid in grids.items()
            }
            curves += list(_at_gain(survey, sounds, room.gain_db, own, clip=True).values())
    return sorted(curves, key=lambda curve: (modes.index(curve.mode), curve.gain_db))


def level_grid(survey: Survey) -> Array:
    """Levels to try, in dB FS as recorded: round numbers of the unit they are shown in."""
    scale, levels = survey.scale, survey.levels
    low = floor(scale.shown(levels.percentiles_db["L50"]))
    high = ceil(scale.shown(levels.lafmax_db)) + _ABOVE_LOUDEST_DB
    shown = np.arange(low, high + LEVEL_STEP_DB / 2, LEVEL_STEP_DB)
    return np.round([scale.full_scale(level) for level in shown], 6)


def _only_shifts(survey: Survey, sounds: Sequence[SimulatedGain], gain_db: float) -> bool:
    """Whether neither the site nor the site and a wanted sound together reach full scale."""
    highest = 10 ** (survey.levels.sample_peak_db / 20)
    together = [highest + 10 ** (wanted.peak_db / 20) for wanted in survey.wanted]
    fits = all(amplitude * 10 ** (gain_db / 20) <= 1 for amplitude in together)
    return fits and all(sound.shifted for sound in sounds)


def _at_gain(
    survey: Survey,
    sounds: Sequence[SimulatedGain],
    gain_db: float,
    grids: dict[str, Array],
    *,
    clip: bool,
) -> dict[str, Curve]:
    """All modes at one gain, swept on its own levels."""
    histories = [sound.laf for sound in sounds if sound.laf is not None]
    caught = _placed(survey, histories, gain_db, grids, clip=clip)
    return {
        mode: _curve(survey, histories, gain_db, mode, grid, caught[mode])
        for mode, grid in grids.items()
    }


def _curve(
    survey: Survey,
    histories: Sequence[Centi],
    gain_db: float,
    mode: str,
    grid: Array,
    caught: Iterable[DetectionCurve],
) -> Curve:
    site = survey.site
    trigger = site.trigger.trigger(mode, float(grid[-1]))
    visits, fired_at = [], []
    for heard, laf, marks in zip(survey.heard, histories, survey.marks, strict=True):
        fired = sweep(laf, trigger, grid.tolist())
        false = [np.count_nonzero(~inside(rows, marks, len(laf))) for rows in fired]
        visits.append(visit(heard, false, hidden(laf, marks), trigger, marks))
        fired_at.append(fired)
    prediction = predict(
        grid,
        visits,
        extrapolate=trigger.extrapolates,
        confidence=survey.confidence,
        traffic=site.schedule.traffic_by_hour or None,
        active=active_by_hour(site.schedule.active),
        seed=survey.seed,
    )
    limit = prediction.level_for_limit(site.limits.false_triggers_per_day)
    marked = _marked(survey, histories, fired_at)
    by_part = settings_by_part(
        grid,
        visits,
        site.limits.false_triggers_per_day,
        extrapolate=trigger.extrapolates,
        active=active_by_hour(site.schedule.active),
        confidence=survey.confidence,
        seed=survey.seed,
    )
    return Curve(mode, gain_db, prediction, limit, (*caught, *marked), by_part)


def _shifted(curve: Curve, gain_db: float) -> Curve:
    """The same mode at a gain that moves every level alike."""
    if curve.mode != "threshold":
        return replace(curve, gain_db=gain_db)
    before, limit = curve.prediction, curve.limit
    reach = before.reach_db
    moved = replace(
        before,
        settings_db=before.settings_db + gain_db,
        curve_db=before.curve_db + gain_db,
        reach_db=None if reach is None else reach + gain_db,
    )
    if limit is not None:
        limit = replace(
            limit,
            best_db=limit.best_db + gain_db,
            safe_db=None if limit.safe_db is None else limit.safe_db + gain_db,
            low_db=limit.low_db + gain_db,
            high_db=None if limit.high_db is None else limit.high_db + gain_db,
        )
    by_part = None if curve.by_part is None else curve.by_part.moved(gain_db)
    return replace(curve, gain_db=gain_db, prediction=moved, limit=limit, by_part=by_part)


# --- what is caught ------------------------------------------------------------------------------


def _placed(
    survey: Survey,
    histories: Sequence[Centi],
    gain_db: float,
    grids: dict[str, Array],
    *,
    clip: bool,
) -> dict[str, list[DetectionCurve]]:
    """Every wanted sound placed into the site's levels; for each mode a curve a sound."""
    caught: dict[str, list[DetectionCurve]] = {mode: [] for mode in grids}
    if not survey.wanted:
        return caught
    ground = placing_background(survey.heard)
    quiet = [hidden(laf, marks) for laf, marks in zip(histories, survey.marks, strict=True)]
    site_db = on_background(survey, ground, quiet) / 100
    sweeps = [
        (survey.site.trigger.trigger(mode, float(grid[-1])), grid.tolist())
        for mode, grid in grids.items()
    ]
    watches = swept_triggers(site_db, sweeps)
    weights = moment_weights(survey, ground)
    for wanted in survey.wanted:
        mixer = _mixer(survey, ground, wanted, gain_db) if clip else None
        found = detect(
            site_db,
            wanted.course_db(gain_db) if clip else unclipped_course_db(wanted),
            sweeps,
            weights=weights,
            confidence=survey.confidence,
            at_most=_placements(mixer),
            seed=survey.seed,
            mixer=mixer,
            watches=watches,
        )
        for mode, detections in zip(grids, found, strict=True):
            caught[mode].append(_catch(wanted, detections))
    return caught


def _placements(mixer: WaveformMixer | None) -> int:
    """How many placements to try at most: fewer where many of them must be mixed."""
    if mixer is None:
        return _PLACEMENTS
    return int(np.clip(_MIXED_AT_MOST / max(mixer.share, 1e-9), _MIXED_AT_MOST, _PLACEMENTS))


def placing_background(heard: Sequence[Measurement]) -> Background:
    """Where to place sounds: all that was heard, or stretches spread over long recordings."""
    total = sum(one.summary.rows for one in heard)
    stretches = []
    for one in heard:
        rows = one.summary.rows
        if total <= _PLACING_ROWS:
            stretches.append(Stretch(one, 0, rows))
            continue
        share = max(1, round(_PLACING_STRETCHES * rows / total))
        length = min(rows, _PLACING_ROWS // _PLACING_STRETCHES)
        firsts = np.linspace(0, rows - length, share).astype(np.int64).tolist()
        stretches += [Stretch(one, first, length) for first in firsts]
    return Background(tuple(stretches))


def on_background(survey: Survey, ground: Background, per_recording: Sequence[NDArray[Any]]) -> Any:
    """An array a recording, shape (rows,) each, as one array over the ground."""
    of = {id(one): values for one, values in zip(survey.heard, per_recording, strict=True)}
    return np.concatenate([of[id(s.heard)][s.first : s.first + s.rows] for s in ground.stretches])


def moment_weights(survey: Survey, ground: Background) -> Array | None:
    """How much each row of the ground counts: by the share of its hour that is active.

    None, all alike, without a schedule, or where no active hour was heard at all.
    """
    active = active_by_hour(survey.site.schedule.active)
    if active is None:
        return None
    parts = []
    for stretch in ground.stretches:
        start = stretch.heard.start
        if start is None:
            parts.append(np.full(stretch.rows, active.mean()))
            continue
        begin_s = start.hour * 3600 + start.minute * 60 + start.second
        seconds = begin_s + (stretch.first + np.arange(stretch.rows)) * ROW_S
        parts.append(active[(seconds // 3600).astype(np.int64) % 24])
    weights = np.concatenate(parts)
    return weights if weights.any() else None


def _mixer(
    survey: Survey, ground: Background, wanted: WantedSound, gain_db: float
) -> WaveformMixer | None:
    """A mixer where there are waveforms to mix into; a level history has none."""
    if any(one.sample_rate_hz != wanted.rate_hz for one in survey.heard):
        return None
    untouched = []
    for one, marks in zip(survey.heard, survey.marks, strict=True):
        free = np.ones(one.summary.rows, dtype=np.bool_)
        for mark in marks:
            rows = mark.rows(len(free))
            reach = len(wanted.samples) * 100 // wanted.rate_hz + 100
            free[max(0, rows.start - reach) : rows.stop] = False
        untouched.append(free)
    return WaveformMixer(ground, wanted, gain_db, on_background(survey, ground, untouched))


def unclipped_course_db(wanted: WantedSound) -> Array:
    """LAF of the sound at the recorded gain as if nothing could clip."""
    down_db = max(0.0, wanted.peak_db) + 1.0
    return wanted.course_db(-down_db) + down_db


def _catch(wanted: WantedSound, found: Sequence[Detection]) -> DetectionCurve:
    return DetectionCurve(
        wanted.name,
        wanted.distance_m,
        np.array([one.probability for one in found]),
        np.array([one.low for one in found]),
        np.array([one.high for one in found]),
    )


def _marked(
    survey: Survey, histories: Sequence[Centi], fired_at: Sequence[Sequence[IntArray]]
) -> list[DetectionCurve]:
    """The share of the marked sounds of each name in which the trigger fired."""
    names = sorted({mark.sound for marks in survey.marks for mark in marks})
    catches = []
    for name in names:
        hits = [
            [_fires_in(rows, mark, len(laf)) for rows in fired]
            for laf, marks, fired in zip(histories, survey.marks, fired_at, strict=True)
            for mark in marks
            if mark.sound == name
        ]
        share = np.mean(hits, axis=0)
        low, high = wilson_interval(share, len(hits), survey.confidence)
        catches.append(DetectionCurve(name, None, share, low, high))
    return catches


def _fires_in(rows: IntArray, mark: Mark, total: int) -> bool:
    span = mark.rows(total)
    at = int(np.searchsorted(rows, span.start))
    return at < len(rows) and bool(rows[at] < span.stop)
