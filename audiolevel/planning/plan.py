"""Which gain and which trigger should be set, and what will they do?

Every gain is judged for its room above and below the sound (`gain`), every mode is swept at each
usable gain for what it fires on and what it catches (`curves`), and one setting is chosen
(`choosing`). This room brings them together and says how far the result can be relied on.

Entry points: `survey_of`, `make_plan`, `Plan`, `gains_to_simulate`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from audiolevel.metering import gain as gains
from audiolevel.metering.annotations import Mark
from audiolevel.metering.calibration import Scale, fit_display
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.gain import GainMargins
from audiolevel.metering.measurement import Gains, Measurement
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.statistics import Levels, Summary
from audiolevel.notices import Notice, notice
from audiolevel.planning import choice as choosing
from audiolevel.planning import storage
from audiolevel.planning.advice import advice
from audiolevel.planning.choice import Option
from audiolevel.planning.curves import Curve, Survey, build_curves
from audiolevel.planning.wanted import wanted_sounds
from audiolevel.site import Site
from audiolevel.sounds.arrival import WantedSound

# a history does not say its rate; wanted sounds are then made for a common one
_USUAL_RATE_HZ = 16_000


@dataclass(frozen=True)
class Plan:
    """What to set, and the whole of what it was chosen from."""

    recommended: Option | None
    reason: str
    options: tuple[Option, ...]
    by_mode: tuple[Option, ...]
    rooms: tuple[GainMargins, ...]
    settings: tuple[float | None, ...]
    curves: tuple[Curve, ...]
    ceiling_db: float
    survey: Survey
    reliable: bool
    warnings: tuple[Notice, ...]
    advice: tuple[str, ...]

    @property
    def levels(self) -> Levels:
        """Of all recordings together, dB FS."""
        return self.survey.levels

    @property
    def scale(self) -> Scale:
        """The unit levels are said in."""
        return self.survey.scale

    @property
    def heard_s(self) -> float:
        """Length of all recordings together."""
        return sum(one.duration_s for one in self.survey.heard)

    @property
    def limit_per_day(self) -> float:
        """False firings a day that are put up with."""
        return self.survey.site.limits.false_triggers_per_day

    def lost_to_clipping(self, room: GainMargins) -> list[WantedSound]:
        """The wanted sounds that are heard only up to full scale at this gain."""
        return [wanted for wanted in self.survey.wanted if wanted.clips_at(room.gain_db)]


def gains_to_simulate(site: Site, scale: Scale) -> Gains:
    """The gains of a site, for listening to its recordings."""
    return Gains(
        gains_db=[gain for _, gain in site.gains_db()],
        noise_db=site.own_noise_db,
        clipped_share_limit=site.limits.clipped_share,
    )


def survey_of(
    heard: Sequence[Measurement],
    site: Site,
    *,
    marks: Sequence[Sequence[Mark]] = (),
    folder: Path | None = None,
    confidence: float = 0.95,
    seed: int = 0,
) -> Survey:
    """Bring together what a plan is made from.

    Parameters
    ----------
    heard : sequence of Measurement
        Recordings of one site, at one gain, listened to with `gains_to_simulate(site, scale)`.
    marks : one sequence of Mark for each recording
        Wanted sounds in the recordings themselves; none by default.
    folder : Path or None
        That the files of `[[wanted]]` are relative to.
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn by chance.
    """
    scale = Scale(site.microphone.spl_at_full_scale_db)
    wanted: Sequence[WantedSound] = ()
    if scale.spl_at_full_scale_db is not None:
        rate_hz = heard[0].sample_rate_hz or _USUAL_RATE_HZ
        wanted = wanted_sounds(site, scale.spl_at_full_scale_db, rate_hz, folder=folder, seed=seed)
    return Survey(
        heard=heard,
        site=site,
        scale=scale,
        levels=_levels_together(heard),
        marks=marks or [()] * len(heard),
        wanted=wanted,
        confidence=confidence,
        seed=seed,
    )


def make_plan(survey: Survey) -> Plan:
    """Plan from one or more recordings of a site."""
    heard, site, levels = survey.heard, survey.site, survey.levels
    display = fit_display(site.display.readings) if site.display.readings else None
    rooms = _rooms(heard, levels, site, survey.scale)
    ceiling_db = _ceiling_db(heard)
    silent = levels.lafmax_db <= SILENCE_DB + 1
    curves = [] if silent else build_curves(survey, rooms)
    settings = tuple(setting for setting, _ in site.gains_db())
    options = choosing.options_of(curves, rooms, settings, ceiling_db, site, display)
    recommended = choosing.recommend(options, ceiling_db)
    warnings = [*_card(recommended, site), *_warnings(survey)]
    return Plan(
        recommended=recommended,
        reason=choosing.reason(recommended, site),
        options=tuple(options),
        by_mode=tuple(choosing.by_mode(options, ceiling_db)),
        rooms=tuple(rooms),
        settings=settings,
        curves=tuple(curves),
        ceiling_db=ceiling_db,
        survey=survey,
        reliable=_reliable(recommended, warnings),
        warnings=tuple(warnings),
        advice=tuple(_advice(recommended, rooms, levels, site)),
    )


def _levels_together(heard: Sequence[Measurement]) -> Levels:
    together = Summary()
    for one in heard:
        together.include(one.summary)
    return together.levels()


def _card(option: Option | None, site: Site) -> list[Notice]:
    """What fills the card: another recording than the trigger's comes first."""
    if option is None:
        return []
    held = storage.of_setting(site, option.curve.prediction, option.row)
    return storage.storage_notices(held, site.storage, site.limits.days_kept)


def _warnings(survey: Survey) -> list[Notice]:
    """Cautions of all recordings; a length is judged of all together."""
    heard, scale = survey.heard, survey.scale
    total = sum(one.duration_s for one in heard)
    seen: dict[str, Notice] = {}
    for one in heard:
        judged = replace(one, levels=replace(one.levels, duration_s=total))
        for caution in quality_notices(judged, scale, survey.site.own_noise_db):
            general = caution.code in ("uncalibrated", "short") or len(heard) == 1
            seen.setdefault(caution.code, caution if general else caution.of(one.path.name))
    if survey.site.wanted and not survey.wanted:
        seen["not placed"] = notice("not placed")
    return list(seen.values())


def _rooms(
    heard: Sequence[Measurement], levels: Levels, site: Site, scale: Scale
) -> list[GainMargins]:
    noise = site.own_noise_db
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


def _ceiling_db(heard: Sequence[Measurement]) -> float:
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


def _reliable(option: Option | None, warnings: Sequence[Notice]) -> bool:
    if option is None or option.room.estimated or option.basis == "reach":
        return False
    spoilt = {"short", "silent", "low-frequency overload"}
    return not any(caution.code in spoilt for caution in warnings)


def _advice(
    option: Option | None, rooms: Sequence[GainMargins], levels: Levels, site: Site
) -> list[str]:
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
