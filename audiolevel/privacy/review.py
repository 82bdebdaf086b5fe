"""How much speech would be recorded, from how far could it be understood, and what reduces it?

Brings together who could be understood (`overhearing`), the minutes a day that a plan records
(`captured`) and the measures that reduce them (`lessening`). Nothing here is legal advice.

Entry points: `review`, `Review`, `redacted`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from audiolevel.errors import RecordingError
from audiolevel.notices import Notice, notice
from audiolevel.planning.plan import SitePlan
from audiolevel.privacy.audibility import Carried, Overheard, PlaceHeard, Scene
from audiolevel.privacy.intelligibility import BANDS_HZ, EFFORTS
from audiolevel.privacy.mitigation import Measure, measures
from audiolevel.privacy.recorded_time import RecordedTime, captured
from audiolevel.privacy.speech_detection import SpeechShare, speech_share
from audiolevel.privacy.third_octaves import BandLevels


@dataclass(frozen=True)
class Review:
    """All that a privacy review of a site says."""

    plan: SitePlan
    assumed: bool
    carried: tuple[Carried, ...]
    by_hour: Mapping[int, Mapping[str, float]]
    places: tuple[PlaceHeard, ...]
    share: SpeechShare | None
    captured: RecordedTime | None
    measures: tuple[Measure, ...]
    warnings: tuple[Notice, ...]

    @property
    def gain_db(self) -> float:
        """The gain that radius and places are given for: the recommended one, or as recorded."""
        option = self.plan.recommended
        return 0.0 if option is None else option.gain_db

    def at_gain(self, gain_db: float) -> list[Carried]:
        """The efforts at one gain."""
        return [one for one in self.carried if one.gain_db == gain_db]


def review(plan: SitePlan, overheard: Sequence[Overheard], *, assumed: bool = False) -> Review:
    """Review a plan for what it means for people's speech.

    Parameters
    ----------
    plan : Plan
    overheard : sequence of Overheard
        Of the plan's recordings.
    assumed : bool
        The calibration is not measured but assumed.

    Raises
    ------
    RecordingError
        Nothing was heard: a level history has no bands.
    """
    if not overheard:
        raise RecordingError("nothing to judge speech by; give the sound, not a level history")
    bands = overheard[0].bands
    for other in overheard[1:]:
        bands = bands.with_other(other.bands)
    option, confidence = plan.recommended, plan.survey.confidence
    share = speech_share([one.speech for one in overheard], confidence)
    full_db = plan.survey.scale.spl_at_full_scale_db
    scene = None if full_db is None else _scene(plan, bands, full_db)
    gains = sorted({0.0, *(room.gain_db for room in plan.gains)})
    gain_db = 0.0 if option is None else option.gain_db
    carried = [] if scene is None else [scene.carried(g, e) for g in gains for e in EFFORTS]
    return Review(
        plan=plan,
        assumed=assumed,
        carried=tuple(carried),
        by_hour={} if scene is None else scene.by_hour(gain_db),
        places=() if scene is None else tuple(scene.places(gain_db)),
        share=share,
        captured=None if option is None else captured(option, plan.survey.site, share),
        measures=() if option is None else tuple(measures(plan, option, share, scene)),
        warnings=tuple(_warnings(plan, share, scene, assumed=assumed)),
    )


def redacted(found: Review) -> Review:
    """The same review without the names of the recordings and the moments they began."""
    survey = found.plan.survey
    names = {one.path.name: f"recording {i}" for i, one in enumerate(survey.measurements, 1)}
    heard = [
        replace(one, path=Path(names[one.path.name]), start=None) for one in survey.measurements
    ]
    warnings = tuple(one.of(names.get(one.source, one.source)) for one in found.warnings)
    plan = replace(found.plan, survey=replace(survey, measurements=heard), warnings=())
    return replace(found, plan=plan, warnings=warnings)


def _scene(plan: SitePlan, bands: BandLevels, full_scale_db: float) -> Scene:
    heard = plan.survey.measurements
    rates = [one.sample_rate_hz for one in heard if one.sample_rate_hz is not None]
    return Scene(
        bands,
        plan.survey.site,
        full_scale_db,
        format_floor_db=max(one.format_floor_db for one in heard),
        rate_hz=min(rates),
    )


def _warnings(
    plan: SitePlan, share: SpeechShare | None, scene: Scene | None, *, assumed: bool
) -> list[Notice]:
    notices = list(plan.warnings)
    if scene is None:
        uncalibrated = notice("uncalibrated", "no radius")
        notices = [uncalibrated if one.code == "uncalibrated" else one for one in notices]
    elif assumed:
        full_scale_db = plan.survey.scale.spl_at_full_scale_db
        notices.append(notice("assumed calibration", spl_at_full_scale_db=full_scale_db))
    if share is None:
        notices.append(notice("speech not judged"))
    if scene is not None and not scene.bands.carried[-1]:
        top_hz = float(BANDS_HZ[scene.bands.carried][-1])
        notices.append(notice("narrow band", top_hz=top_hz))
    return notices
