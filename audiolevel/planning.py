"""Which gain and which trigger should be set, and what will they do?

Every gain is judged for its room above and below the sound; at each usable gain every mode is
swept over its settings, and the counts are carried to a day with their limits. For each mode and
gain the option is the setting that keeps the limit of false firings with the most certainty the
recordings allow, below the level where the input begins to clip. One option is recommended.

Entry points: `make_plan`, `Plan`, `Option`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from audiolevel import gain as gains
from audiolevel.advice import advice
from audiolevel.calibration import DisplayLine, Scale, fit_display
from audiolevel.cautions import Caution, about
from audiolevel.counting import LevelForLimit, Prediction, predict
from audiolevel.gain import GainHeard, Room
from audiolevel.levels import SILENCE_DB
from audiolevel.listening import Gains, Heard
from audiolevel.site import Site
from audiolevel.summary import Levels, Summary
from audiolevel.trials import visit
from audiolevel.triggers import MODES, Trigger, sweep

Array = NDArray[np.float64]

LEVEL_STEP_DB = 0.5
_ABOVE_LOUDEST_DB = 10.0
CHANGES_DB = np.arange(3.0, 41.0)
# the loudest sound of a day is some 10 dB above that of ten minutes (docs/counting.md), so a gain
# that leaves less than 12 dB above the highest sample will clip on it; 10 dB below L90 keep the
# noise from adding more than half a decibel
HEADROOM_WANTED_DB = 12.0
FOOTROOM_WANTED_DB = 10.0
_CEILING_MARGIN_DB = 3.0


@dataclass(frozen=True)
class Curve:
    """What one mode does at one gain: settings in dB FS at that gain, or dB of change."""

    mode: str
    gain_db: float
    prediction: Prediction
    limit: LevelForLimit | None


@dataclass(frozen=True)
class Option:
    """One setting of one mode at one gain, with what is expected of it.

    Attributes
    ----------
    row : int
        Of the setting in the curve's prediction.
    basis : str
        "safe": it keeps the limit with 90 % certainty; "best": with even odds; "reach": the limit
        cannot be promised, and this is the highest setting the recording says anything about.
    """

    room: Room
    gain_setting: float | None
    trigger: Trigger
    display_level: float | None
    curve: Curve
    row: int
    basis: str

    @property
    def gain_db(self) -> float:
        """Gain relative to the recording."""
        return self.room.gain_db


@dataclass(frozen=True)
class Plan:
    """What to set, and the whole of what it was chosen from."""

    recommended: Option | None
    reason: str
    options: tuple[Option, ...]
    rooms: tuple[Room, ...]
    settings: tuple[float | None, ...]
    curves: tuple[Curve, ...]
    ceiling_db: float
    levels: Levels
    heard_s: float
    limit_per_day: float
    scale: Scale
    reliable: bool
    warnings: tuple[Caution, ...]
    advice: tuple[str, ...]


def gains_to_hear(site: Site, scale: Scale) -> Gains:
    """The gains of a site, for listening to its recordings."""
    return Gains(
        gains_db=[gain for _, gain in site.gains_db()],
        noise_db=own_noise_db(site, scale),
        clipped_share_limit=site.limits.clipped_share,
    )


def own_noise_db(site: Site, scale: Scale) -> float | None:
    """The microphone's own noise in dB FS at the recorded gain, where the site file knows it."""
    noise, full = site.microphone.self_noise_dba, scale.spl_at_full_scale_db
    return None if noise is None or full is None else noise - full


def make_plan(
    heard: Sequence[Heard], site: Site, *, confidence: float = 0.95, seed: int = 0
) -> Plan:
    """Plan from one or more recordings of a site, all made at the same gain.

    Parameters
    ----------
    heard : sequence of Heard
        Listened to with `gains_to_hear(site, scale)`.
    confidence : float
        Of every interval.
    seed : int
        Of the counting's draws.
    """
    scale = Scale(site.microphone.spl_at_full_scale_db)
    display = fit_display(site.display.readings) if site.display.readings else None
    levels = _levels_together(heard)
    rooms = _rooms(heard, levels, site, scale)
    ceiling_db = _ceiling_db(heard)
    warnings = _warnings(heard, levels, scale, own_noise_db(site, scale))
    curves = _curves(heard, rooms, levels, site, scale, confidence=confidence, seed=seed)
    settings = tuple(setting for setting, _ in site.gains_db())
    options = _options(curves, rooms, settings, ceiling_db, site, display)
    recommended = _recommend(options, ceiling_db, site)
    return Plan(
        recommended=recommended,
        reason=_reason(recommended, site.limits.false_triggers_per_day),
        options=tuple(options),
        rooms=tuple(rooms),
        settings=settings,
        curves=tuple(curves),
        ceiling_db=ceiling_db,
        levels=levels,
        heard_s=sum(one.duration_s for one in heard),
        limit_per_day=site.limits.false_triggers_per_day,
        scale=scale,
        reliable=_reliable(recommended, warnings),
        warnings=tuple(warnings),
        advice=tuple(_advice(recommended, rooms, levels, site)),
    )


def _levels_together(heard: Sequence[Heard]) -> Levels:
    together = Summary()
    for one in heard:
        together.include(one.summary)
    return together.levels()


def _warnings(
    heard: Sequence[Heard], levels: Levels, scale: Scale, noise_db: float | None
) -> list[Caution]:
    """Cautions of all recordings; a length is judged of all together."""
    total = sum(one.duration_s for one in heard)
    seen: dict[str, Caution] = {}
    for one in heard:
        judged = replace(one, levels=replace(one.levels, duration_s=total))
        for caution in about(judged, scale, noise_db):
            named = f"{one.path.name}: {caution.text}" if len(heard) > 1 else caution.text
            general = caution.code in ("uncalibrated", "short")
            seen.setdefault(caution.code, caution if general else replace(caution, text=named))
    return list(seen.values())


# --- gains ---------------------------------------------------------------------------------------


def _rooms(heard: Sequence[Heard], levels: Levels, site: Site, scale: Scale) -> list[Room]:
    noise = own_noise_db(site, scale)
    floor_db = max(one.format_floor_db for one in heard) if noise is None else noise
    tail = None
    if levels.clipping.verdict == "heavy":
        half = float(np.mean([one.half_scale_share for one in heard]))
        tail = gains.amplitude_tail(levels.clipping.clipped_share, half)
    weights = np.array([one.duration_s for one in heard])
    rooms = []
    for i, (_, gain_db) in enumerate(site.gains_db()):
        shares = np.array([one.gains[i].clipped_share for one in heard])
        simulated = float(shares @ weights / weights.sum())
        rooms.append(
            gains.room(
                gain_db,
                # what clipped while recording is clipped at every gain from there on
                clipped_share=max(simulated, levels.clipping.clipped_share if gain_db >= 0 else 0),
                sample_peak_db=levels.sample_peak_db,
                l10_db=levels.percentiles_db["L10"],
                l90_db=levels.percentiles_db["L90"],
                noise_floor_db=floor_db,
                clipped_share_limit=site.limits.clipped_share,
                tail=tail,
            )
        )
    return rooms


def _ceiling_db(heard: Sequence[Heard]) -> float:
    """LAF in dB FS, at any gain, at which the samples of this site's loud sounds reach full scale.

    The distance between the highest sample and LAF in the loudest tenth of the seconds, where
    sounds that fire a trigger are; rumble makes it large and the ceiling low.
    """
    peak = np.concatenate([one.second_peak_db for one in heard])
    lafmax = np.concatenate([one.second_lafmax_db for one in heard])
    if not (peak > SILENCE_DB).any():
        return 0.0
    loud = lafmax >= np.quantile(lafmax, 0.9)
    return -float(np.median(peak[loud] - lafmax[loud]))


# --- curves --------------------------------------------------------------------------------------


def _curves(
    heard: Sequence[Heard],
    rooms: Sequence[Room],
    levels: Levels,
    site: Site,
    scale: Scale,
    *,
    confidence: float,
    seed: int,
) -> list[Curve]:
    """Every mode at every usable gain; a gain that only shifts the level shifts its curve."""
    if levels.lafmax_db <= SILENCE_DB + 1:
        return []
    grid = _level_grid(levels, scale)
    as_recorded: dict[str, Prediction] = {}
    curves = []
    for mode in (mode for mode in MODES if mode in site.trigger.modes):
        for i, room in enumerate(rooms):
            at_gain = [one.gains[i] for one in heard]
            if not room.usable or any(one.laf is None for one in at_gain):
                continue
            settings = grid if mode == "threshold" else CHANGES_DB
            if all(one.shifted for one in at_gain):
                if mode not in as_recorded:
                    base = [GainHeard(0.0, 0.0, one.as_recorded) for one in at_gain]
                    as_recorded[mode] = _predict(
                        heard, base, mode, settings, site, confidence, seed
                    )
                prediction = _shifted(as_recorded[mode], room.gain_db if mode == "threshold" else 0)
            else:
                own = settings + room.gain_db if mode == "threshold" else settings
                prediction = _predict(heard, at_gain, mode, own, site, confidence, seed)
            limit = prediction.level_for_limit(site.limits.false_triggers_per_day)
            curves.append(Curve(mode, room.gain_db, prediction, limit))
    return curves


def _level_grid(levels: Levels, scale: Scale) -> Array:
    """Levels to try, in dB FS as recorded: round numbers of the unit they are shown in."""
    low = floor(scale.shown(levels.percentiles_db["L50"]))
    high = ceil(scale.shown(levels.lafmax_db)) + _ABOVE_LOUDEST_DB
    shown = np.arange(low, high + LEVEL_STEP_DB / 2, LEVEL_STEP_DB)
    return np.round([scale.full_scale(level) for level in shown], 6)


def _predict(
    heard: Sequence[Heard],
    at_gain: Sequence[GainHeard],
    mode: str,
    settings: Array,
    site: Site,
    confidence: float,
    seed: int,
) -> Prediction:
    trigger = site.trigger.trigger(mode, float(settings[-1]))
    visits = []
    for one, sound in zip(heard, at_gain, strict=True):
        if sound.laf is not None:
            fired = sweep(sound.laf, trigger, settings.tolist())
            visits.append(visit(one, [len(rows) for rows in fired], sound.laf, trigger))
    return predict(
        settings,
        visits,
        extrapolate=trigger.extrapolates,
        confidence=confidence,
        traffic=site.schedule.traffic_by_hour or None,
        seed=seed,
    )


def _shifted(prediction: Prediction, gain_db: float) -> Prediction:
    reach = prediction.reach_db
    return replace(
        prediction,
        settings_db=prediction.settings_db + gain_db,
        curve_db=prediction.curve_db + gain_db,
        reach_db=None if reach is None else reach + gain_db,
    )


# --- options -------------------------------------------------------------------------------------


def _options(
    curves: Sequence[Curve],
    rooms: Sequence[Room],
    settings: Sequence[float | None],
    ceiling_db: float,
    site: Site,
    display: DisplayLine | None,
) -> list[Option]:
    setting_of = {room.gain_db: setting for room, setting in zip(rooms, settings, strict=True)}
    room_of = {room.gain_db: room for room in rooms}
    options = []
    for curve in curves:
        found = _setting(curve, ceiling_db)
        if found is None:
            continue
        row, basis = found
        at_db = float(curve.prediction.settings_db[row])
        shows = display is not None and curve.mode == "threshold"
        options.append(
            Option(
                room=room_of[curve.gain_db],
                gain_setting=setting_of[curve.gain_db],
                trigger=site.trigger.trigger(curve.mode, at_db),
                display_level=display.shown(at_db) if display is not None and shows else None,
                curve=curve,
                row=row,
                basis=basis,
            )
        )
    return options


def _setting(curve: Curve, ceiling_db: float) -> tuple[int, str] | None:
    """The lowest setting that keeps the limit as surely as can be said; None if none may be set."""
    prediction, limit = curve.prediction, curve.limit
    settings, said = prediction.settings_db, prediction.method != "upper limit"
    allowed = settings <= ceiling_db if curve.mode == "threshold" else np.full(len(settings), True)
    if limit is not None:
        for basis, at_db in (("safe", limit.safe_db), ("best", limit.best_db)):
            row = None if at_db is None else _first(allowed & (settings >= at_db - 1e-9))
            # the curve's limits may be known a little beyond the reach; the count there is not
            if row is not None and said[row]:
                return row, basis
    if curve.mode == "threshold":
        highest = np.flatnonzero(allowed & said)
        return (int(highest[-1]), "reach") if len(highest) else None
    never = _first(prediction.count == 0)
    return (len(settings) - 1 if never is None else never), "reach"


def _first(allowed: NDArray[np.bool_]) -> int | None:
    rows = np.flatnonzero(allowed)
    return int(rows[0]) if len(rows) else None


def _recommend(options: Sequence[Option], ceiling_db: float, site: Site) -> Option | None:
    """The surest basis first, then the gain with room enough that changes least."""
    if not options:
        return None
    bases = ("safe", "best", "reach")
    return min(
        options,
        key=lambda option: (
            bases.index(option.basis),
            MODES.index(option.trigger.mode),
            *_gain_order(option, ceiling_db),
        ),
    )


def _gain_order(option: Option, ceiling_db: float) -> tuple[float, float, float]:
    """Sorts gains: lacking room, then distance from the recorded gain, then the lower of two."""
    room = option.room
    spare = [room.headroom_db - HEADROOM_WANTED_DB, room.footroom_db - FOOTROOM_WANTED_DB]
    if option.trigger.mode == "threshold":
        spare.append(ceiling_db - option.trigger.at_db - _CEILING_MARGIN_DB)
    lacking = max(0.0, -min(spare))
    return lacking, abs(room.gain_db), room.gain_db


def _reason(option: Option | None, limit_per_day: float) -> str:
    if option is None:
        return "no setting can be defended from this recording"
    certainty = {
        "safe": f"keeps {limit_per_day:g} a day with 90 % certainty",
        "best": f"keeps {limit_per_day:g} a day by the best estimate, not yet with 90 % certainty",
        "reach": (
            f"is the highest this recording says anything about; "
            f"that it keeps {limit_per_day:g} a day cannot be promised"
        ),
    }[option.basis]
    kind = {
        "threshold": "the lowest level that" if option.basis != "reach" else "this level",
        "rise": "the smallest rise that" if option.basis != "reach" else "this rise",
        "fall": "the smallest fall that" if option.basis != "reach" else "this fall",
        "change": "the smallest change that" if option.basis != "reach" else "this change",
    }[option.trigger.mode]
    room = option.room
    return (
        f"{kind} {certainty}; the gain leaves {room.headroom_db:.0f} dB above the highest sample "
        f"and {room.footroom_db:.0f} dB between L90 and the noise floor"
    )


def _reliable(option: Option | None, warnings: Sequence[Caution]) -> bool:
    if option is None or option.room.estimated or option.basis == "reach":
        return False
    spoilt = {"short", "silent", "low-frequency overload"}
    return not any(caution.code in spoilt for caution in warnings)


def _advice(option: Option | None, rooms: Sequence[Room], levels: Levels, site: Site) -> list[str]:
    hints = []
    if levels.clipping.verdict == "heavy":
        good = [room for room in rooms if room.usable and room.gain_db < 0]
        if good:
            lower = -max(good, key=lambda room: room.gain_db).gain_db
            if option is not None:
                lower = max(lower, -option.gain_db)
            hints.append(
                f"lower the gain by {lower:g} dB, record again there and plan again: "
                "what was clipped cannot be counted"
            )
        else:
            hints.append("lower the gain below every setting considered here and record again")
    elif option is None:
        hints.append("record again, louder or longer, at a gain that neither clips nor is silent")
    if option is not None:
        hints += advice(option.curve.prediction, site.limits.false_triggers_per_day)
        hints.append("after a day or two compare the camera's log: audiolevel followup")
    return hints
