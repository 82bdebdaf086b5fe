"""The privacy review of a plan: speech that would be recorded, from how far, and what reduces it.

Brings together who could be understood (`audibility`), the minutes a day that a plan records
(`recorded_time`) and the ways to reduce them (`mitigation`). Nothing here is legal advice.

Entry points: `make_review`, `Review`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from math import isfinite

from audiolevel.ground.errors import RecordingError
from audiolevel.ground.intervals import Interval
from audiolevel.ground.notices import Notice, notice
from audiolevel.metering.quality import SHORT_S
from audiolevel.planning.heard import is_silent
from audiolevel.planning.plan import SitePlan
from audiolevel.planning.survey import bandwidth_hz
from audiolevel.privacy.active_hours import Listened, listened_in
from audiolevel.privacy.audibility import (
    TALKER_DB,
    AudibilityCurve,
    ListeningModel,
    PlaceAudibility,
    Radii,
    SpeechAnalysis,
    Unknowns,
)
from audiolevel.privacy.intelligibility import BANDS_HZ, EFFORTS
from audiolevel.privacy.masking import TALK_SHARE, lasting
from audiolevel.privacy.mitigation import Mitigation, Outlook, mitigations
from audiolevel.privacy.read_aloud import Reading, Walked, compared
from audiolevel.privacy.recorded_time import RecordedTime, recorded_time
from audiolevel.privacy.speech_detection import SpeechShare, speech_share
from audiolevel.privacy.third_octaves import BandLevels, carried_bands
from audiolevel.site.sections import Site

# of sound without talk in it: less says nothing of the noise that hides talk
LEAST_MASKING_S = 10.0
# A mild gain control lifts quiet moments by so much and halves every distance (our case of it in
# tests/studies/masking_study.py); a strong one does more, and only the test shows it
UNTESTED_GAIN_DB = 6.0


@dataclass(frozen=True)
class Review:
    """All that a privacy review of a site says.

    Attributes
    ----------
    plan : SitePlan
    curves : tuple of AudibilityCurve
        Of every gain and vocal effort; none without a calibration, or where talk is all there was.
    listened : Listened
        What was heard of the hours in which the camera is on.
    by_hour : mapping of int to mapping of str to Radii
        In quiet moments by hour of the day and vocal effort.
    places : tuple of PlaceAudibility
        Of the site file.
    share : SpeechShare or None
        None where no recording was long enough.
    recorded : RecordedTime or None
        Of the recommended setting; None where there is none. Its minutes of speech are None where
        the sample does not support them.
    mitigations : tuple of Mitigation
    walked : tuple of Walked
        A walk test against what was computed.
    warnings : tuple of Notice
        The plan's, and those of the review.
    """

    plan: SitePlan
    curves: tuple[AudibilityCurve, ...]
    listened: Listened
    by_hour: Mapping[int, Mapping[str, Radii]]
    places: tuple[PlaceAudibility, ...]
    share: SpeechShare | None
    recorded: RecordedTime | None
    mitigations: tuple[Mitigation, ...]
    walked: tuple[Walked, ...]
    warnings: tuple[Notice, ...]

    @property
    def calibration_assumed(self) -> bool:
        """Whether the calibration is not measured but assumed."""
        return self.plan.survey.site.calibration_assumed

    @property
    def gain_db(self) -> float:
        """The gain that radius and places are given for: the recommended one, or as recorded."""
        option = self.plan.recommended
        return 0.0 if option is None else option.gain_db

    def at_gain(self, gain_db: float) -> list[AudibilityCurve]:
        """The curves of all vocal efforts at one gain (dB from the recorded one)."""
        return [one for one in self.curves if one.gain_db == gain_db]


def make_review(
    plan: SitePlan,
    analyses: Sequence[SpeechAnalysis],
    *,
    walk_test: Sequence[Reading] = (),
) -> Review:
    """Review a plan for what it means for people's speech.

    Parameters
    ----------
    plan : SitePlan
    analyses : sequence of SpeechAnalysis
        Of the plan's recordings.
    walk_test : sequence of Reading
        To be compared with what is computed.

    Returns
    -------
    Review

    Raises
    ------
    RecordingError
        There is no analysis: a level history has no bands.
    """
    if not analyses:
        raise RecordingError("nothing to judge speech by; give the sound, not a level history")
    option, confidence = plan.recommended, plan.survey.confidence
    # digital silence is a microphone that was off, and no quiet place
    silent = all(is_silent(one) for one in plan.survey.measurements)
    bands, doubts = _masking(plan, analyses)
    doubts = () if silent else doubts
    share = None if silent else speech_share([one.speech for one in analyses], confidence)
    listened = listened_in(plan.survey)
    supported = _supported(share, plan, listened)
    full_db = plan.survey.scale.spl_at_full_scale_db
    if plan.survey.site.microphone.gain_control == "found":
        doubts = ("gain control",)
    elif share is not None and share.detected_share >= TALK_SHARE:
        doubts = ("talk",)
    # where talk is nearly all that was heard nothing is known of the noise that hides talk
    masked = bands.heard_s >= LEAST_MASKING_S and not silent
    masked = masked and not {"gain control", "talk"} & set(doubts)
    model = None if full_db is None or not masked else _model(plan, bands, full_db, listened)
    walked = () if model is None else compared(model, walk_test, confidence)
    if model is not None:
        # who was understood farther off than computed carries all distances along
        model = model.carrying(max((one.farther_db for one in walked), default=0.0))
    # the gain as recorded is always among them
    gains = sorted({0.0, *(room.gain_db for room in plan.gains)})
    gain_db = 0.0 if option is None else option.gain_db
    # without a calibration no level is a sound pressure, so no distance is known
    curves = [] if model is None else [model.curve(g, e) for g in gains for e in EFFORTS]
    measures: list[Mitigation] = []
    if option is not None:
        life = plan.card_life(option)
        days = None if life is None or not isfinite(life.days_kept) else life.days_kept
        measures = mitigations(Outlook(plan, option, supported, model, days))
    return Review(
        plan=plan,
        curves=tuple(curves),
        listened=listened,
        by_hour={} if model is None else model.by_hour(gain_db),
        places=() if model is None else tuple(model.places(gain_db)),
        share=share,
        recorded=None if option is None else recorded_time(option, plan.survey.site, supported),
        mitigations=tuple(measures),
        walked=walked,
        warnings=tuple(_warnings(plan, share, model, doubts, masked=masked or silent)),
    )


def _masking(
    plan: SitePlan, analyses: Sequence[SpeechAnalysis]
) -> tuple[BandLevels, tuple[str, ...]]:
    """The noise that may be taken for the site's, of all recordings, and why the rest is not."""
    top_hz = bandwidth_hz(plan.survey.measurements)
    found, causes = [], set[str]()
    for one in analyses:
        bands = one.bands
        if top_hz is not None:
            # a codec or a filter stores less speech than the sampling rate could hold
            bands = replace(bands, usable=bands.usable & carried_bands(top_hz))
        kept, why = lasting(bands)
        found.append(kept)
        causes.update(why)
    # histograms add, so the quiet moments are those of all recordings together
    return reduce(BandLevels.with_other, found), tuple(sorted(causes))


def _supported(share: SpeechShare | None, plan: SitePlan, listened: Listened) -> SpeechShare | None:
    """The share of speech where the sample supports minutes of it, else None."""
    # a few minutes may meet one talk or none; and when it is on nobody may have listened
    long_enough = plan.survey.duration_s >= SHORT_S - 1
    return share if long_enough and listened.everywhen else None


def _model(
    plan: SitePlan, bands: BandLevels, full_scale_db: float, listened: Listened
) -> ListeningModel:
    measurements = plan.survey.measurements
    rates = [one.sample_rate_hz for one in measurements if one.sample_rate_hz is not None]
    return ListeningModel(
        bands,
        plan.survey.site,
        full_scale_db,
        format_floor_db=max(one.format_floor_db for one in measurements),
        rate_hz=min(rates),
        # one hour of several stands for the active ones only where all of them were heard
        active_hours=listened.hours if listened.everywhen else (),
        unknown=Unknowns(
            quieter_db=_quieter(plan.survey.site, listened),
            louder_db=TALKER_DB + 2 * plan.survey.site.calibration_spread_db,
        ),
    )


def _quieter(site: Site, listened: Listened) -> Interval:
    """By how much the site may be quieter than heard; a gain that turned raises what is quiet."""
    found, untested = listened.quieter_db, site.microphone.gain_control == "not tested"
    return replace(found, high=found.high + (UNTESTED_GAIN_DB if untested else 0.0))


def _warnings(
    plan: SitePlan,
    share: SpeechShare | None,
    model: ListeningModel | None,
    doubts: Sequence[str],
    *,
    masked: bool,
) -> list[Notice]:
    notices = list(plan.warnings)
    if not masked:
        causes = doubts or ("talk",)
        notices += [notice("noise not known", one) for one in causes]
    else:
        notices += [notice("noise left out", one) for one in doubts]
    if model is not None and plan.survey.site.microphone.gain_control == "not tested":
        notices.append(notice("gain untested", wider_db=UNTESTED_GAIN_DB))
    if model is None and plan.survey.scale.spl_at_full_scale_db is None:
        uncalibrated = notice("uncalibrated", "no radius")
        notices = [uncalibrated if one.code == "uncalibrated" else one for one in notices]
    elif plan.survey.site.calibration_assumed:
        full_scale_db = plan.survey.scale.spl_at_full_scale_db
        notices.append(notice("assumed calibration", spl_at_full_scale_db=full_scale_db))
    # of silence it is said already
    if share is None and not any(one.code == "silent" for one in notices):
        notices.append(notice("speech not judged"))
    # the top band ends at 8.9 kHz, which takes a rate of 19.8 kHz
    if model is not None and not model.bands.usable[-1]:
        top_hz = float(BANDS_HZ[model.bands.usable][-1])
        notices.append(notice("narrow band", top_hz=top_hz))
    return notices
