"""The plan of a site: which gain and which trigger to set, and how far that can be relied on.

Every gain is judged for its room above and below the sound (`metering.headroom`), every mode is
swept at each usable gain for what it fires on and what it catches (`curves`), and one setting is
chosen (`choice`).

Entry points: `plan_of`, `SitePlan`, `survey_notices`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from audiolevel.counting.expected import Expected
from audiolevel.ground.intervals import Interval
from audiolevel.ground.notices import Notice, notice
from audiolevel.metering.calibration import DisplayLine
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.headroom import (
    FOOTROOM_NEEDED_DB,
    GainMargins,
    amplitude_tail,
    gain_margins,
)
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.quality import quality_notices
from audiolevel.planning.advice import narrowing_advice, prediction_advice
from audiolevel.planning.asked import Asked, asked_option, planned_option
from audiolevel.planning.choice import Choice, beyond_readings_db, case_of, choose, moved_by
from audiolevel.planning.curves import Curve, curves_of
from audiolevel.planning.detection_range import RangeCurve, range_curves
from audiolevel.planning.heard import is_silent, silence_notices
from audiolevel.planning.option import Option, options_of, with_aside, within_reach
from audiolevel.planning.plan_record import ExpectedRecord, PlanRecord
from audiolevel.planning.storage import CardLife, card_life_of, storage_notices
from audiolevel.planning.survey import Survey
from audiolevel.planning.trade import out_of_reach, trade_advice
from audiolevel.site.sections import Site, setting_name
from audiolevel.sounds.arrival import WantedSound
from audiolevel.triggers.trigger import MODES


@dataclass(frozen=True, eq=False)
class SitePlan:
    """What to set, and the whole of what it was chosen from.

    Attributes
    ----------
    survey : Survey
        What it was made from.
    choice : Choice
        What to set, and the other prong of a fork.
    options : tuple of Option
        The best setting of every mode at every usable gain.
    gains : tuple of GainMargins
        Every gain considered.
    curves : tuple of Curve
    ceiling_db : float
        LAF in dB FS, at any gain, from which on the input clips.
    reliable : bool
        Whether the recordings support what is recommended.
    warnings, advice : tuple of Notice
    asked : Option or None
        A setting that was insisted on.
    """

    survey: Survey
    choice: Choice
    options: tuple[Option, ...]
    gains: tuple[GainMargins, ...]
    curves: tuple[Curve, ...]
    ceiling_db: float
    reliable: bool
    warnings: tuple[Notice, ...]
    advice: tuple[Notice, ...]
    asked: Option | None = None

    @property
    def recommended(self) -> Option | None:
        """What to set; None if there is nothing to set."""
        return self.choice.recommended

    @property
    def gain_moved_by(self) -> str:
        """What the recommended gain was moved for (`choice.MOVES`); empty where it was not."""
        if self.recommended is None:
            return ""
        return moved_by(self.recommended, self.options, self.ceiling_db, self.survey.site)

    @property
    def display(self) -> DisplayLine | None:
        """The camera's own scale, where it was read."""
        return self.survey.site.display.line

    @property
    def limit_per_day(self) -> float:
        """False firings a day that are put up with."""
        return self.survey.site.limits.false_triggers_per_day

    def lost_to_clipping(self, gain: GainMargins) -> list[WantedSound]:
        """The wanted sounds that are heard only up to full scale at this gain."""
        return [wanted for wanted in self.survey.wanted if wanted.clips_at(gain.gain_db)]

    @cached_property
    def ranges(self) -> list[tuple[Curve, list[list[RangeCurve]]]]:
        """The curves at the recommended gain, each with how far its settings catch each sound.

        By wanted sound and setting; empty where there is no setting, sound or calibration. Other
        gains hear the same of a sound as long as they do not clip it. With nothing recommended it
        is the gain of what catches enough.
        """
        usual = [self.recommended, *reversed(self.choice.alternatives)]
        option = next((one for one in usual if one is not None), None)
        if option is None:
            return []
        options = self.beside(option)
        found = range_curves(self.survey, options)
        return [(one.curve, curves) for one, curves in zip(options, found, strict=False)]

    def beside(self, option: Option) -> list[Option]:
        """An option, which may be of an earlier plan, and those of the other modes at its gain."""
        mode, gain_db = option.trigger.mode, option.gain_db
        others = (one for one in self.options if one.gain_db == gain_db)
        return [option, *(one for one in others if one.trigger.mode != mode)]

    def speaking_of(self, planned: PlanRecord) -> "SitePlan":
        """The same with the setting of an earlier plan, and its rates where logs have taught them.

        Raises
        ------
        SettingError
            As `planned_option`.
        """
        option, options = planned_option(self.survey, self.gains, planned), self.options
        by_mode = self.choice.by_mode
        if option is not None:
            option = with_aside(option, self.curves, self.survey.site)
            if planned.followed is not None and planned.recommended is not None:
                # a louder site is louder at every setting
                mean, day = _taught(option.expected, planned.recommended.expected)
                option = _times(option, mean, day)
                options, by_mode = (
                    tuple(_times(one, mean, day) for one in each) for each in (options, by_mode)
                )
        reliable = _reliable(option, self.warnings)
        choice = Choice(case_of(option), option, (), by_mode)
        return replace(self, choice=choice, options=options, reliable=reliable)

    def card_life(self, option: Option) -> CardLife | None:
        """How long the card lasts with an option."""
        return card_life_of(self.survey.site, option.curve.prediction, option.row)


def plan_of(survey: Survey, asked: Asked | None = None) -> SitePlan:
    """Plan from one or more recordings of a site.

    Parameters
    ----------
    survey : Survey
    asked : Asked, optional
        A setting that is insisted on, to be told beside the recommended one.

    Returns
    -------
    SitePlan
    """
    measurements, site = survey.measurements, survey.site
    gains = _gains(survey)
    ceiling_db = _ceiling_db(measurements)
    # digital silence, whose level is a floor and no measurement
    curves = [] if all(map(is_silent, measurements)) else curves_of(survey, gains)
    curves = within_reach(curves, gains, ceiling_db, site.limits.detection)
    options = options_of(curves, gains, ceiling_db, site)
    choice = choose(options, ceiling_db, site)
    recommended = choice.recommended
    card = None
    if recommended is not None:
        card = card_life_of(site, recommended.curve.prediction, recommended.row)
    insisted = None
    if asked is not None:
        insisted = with_aside(asked_option(survey, gains, asked), curves, site)
    gain_control = site.microphone.gain_control
    warnings = [
        # another recording than the trigger's comes first: it fills the card whatever is set
        *storage_notices(card, site.storage, site.limits.days_kept),
        *survey_notices(survey),
        *out_of_reach(choice, survey),
        *([notice("not placed")] if site.wanted and not survey.wanted else []),
        *([notice("gain control", "found")] if gain_control == "found" else []),
        *_evidence_notices(survey, recommended),
        *_display_notices(recommended, site),
        *_history_notices(survey, gains),
    ]
    return SitePlan(
        survey=survey,
        choice=choice,
        options=tuple(options),
        gains=tuple(gains),
        curves=tuple(curves),
        ceiling_db=ceiling_db,
        reliable=_reliable(recommended, warnings),
        warnings=tuple(warnings),
        advice=tuple(_advice(choice, gains, survey, ceiling_db)),
        asked=insisted,
    )


def _taught(sample: Expected, logged: ExpectedRecord) -> tuple[Interval, Interval]:
    """How many times as often as the sample says it fires by the logs: on average, on a day."""

    def times(now: float | None, before: float | None) -> float:
        return now / before if now is not None and before else 1.0

    mean = Interval(
        times(logged.per_day, sample.rate.best),
        times(logged.rate_low_per_day, sample.rate.low),
        times(logged.rate_high_per_day, sample.rate.high),
    )
    low, high = (logged.low_per_day, sample.count.low), (logged.high_per_day, sample.count.high)
    return mean, Interval(None, times(*low), times(*high))


def _times(option: Option, mean: Interval, day: Interval) -> Option:
    curve = replace(option.curve, prediction=option.curve.prediction.times(mean, day))
    return replace(option, curve=curve)


def survey_notices(survey: Survey) -> list[Notice]:
    """Cautions of all recordings of a survey; a length is judged of all together."""
    # with one recording its name would say nothing
    several = len(survey.measurements) + len(survey.left_out) > 1
    notices: dict[tuple[str, str, str], Notice] = {}
    for one in survey.measurements:
        # five visits of ten minutes are not short together
        judged = replace(one, levels=replace(one.levels, duration_s=survey.duration_s))
        for about in quality_notices(judged, survey.scale, survey.site.own_noise):
            # said of all recordings alike: once, and without a file's name
            general = about.code in ("uncalibrated", "short") or not several
            named = about if general else about.of(one.path.name)
            # the same caution of several recordings is said once
            notices.setdefault((named.code, named.cause, named.source), named)
    return [*silence_notices(survey.left_out, survey.measurements), *notices.values()]


def _gains(survey: Survey) -> list[GainMargins]:
    """Room above and below the sound at every gain of the site."""
    measurements, levels, site = survey.measurements, survey.levels, survey.site
    # where the converter's is not stated the coarsest sample format sets the floor
    noise = site.own_noise(max(one.format_floor_db for one in measurements))
    tail = None
    if levels.clipping.verdict == "heavy":
        # two shares, over half and over full scale, fix the tail that clipping cut off
        half = float(np.mean([one.half_scale_share for one in measurements]))
        tail = amplitude_tail(levels.clipping.clipped_share, half)
    # a share of all samples: longer recordings have more of them
    weights = np.array([one.heard_s for one in measurements])
    gains = []
    for i, (setting, gain_db) in enumerate(site.gains_db()):
        # a history without peaks tells no share (nan); then no gain above the recorded is usable
        shares = np.nan_to_num([one.gains[i].clipped_share for one in measurements])
        simulated = float(shares @ weights / weights.sum())
        # what clipped while recording is clipped at every gain from there on
        as_recorded = levels.clipping.clipped_share if gain_db >= 0 else 0.0
        gains.append(
            gain_margins(
                gain_db,
                setting=setting,
                clipped_share=max(simulated, as_recorded),
                sample_peak_db=levels.sample_peak_db if survey.has_peaks else None,
                percentiles_db=levels.percentiles_db,
                noise=noise,
                clipped_share_limit=site.limits.clipped_share,
                tail=tail,
            )
        )
    return gains


def _ceiling_db(measurements: Sequence[Measurement]) -> float:
    """LAF in dB FS, at any gain, at which the samples of this site's loud sounds reach full scale.

    The distance between the highest sample and LAF in the loudest tenth of the seconds, where
    sounds that fire a trigger are; rumble makes it large and the ceiling low.
    """
    known = [one for one in measurements if one.has_peaks]
    if not known:
        return 0.0
    peak = np.concatenate([one.second_peak_db for one in known])
    lafmax = np.concatenate([one.second_lafmax_db for one in known])
    # silence: 0 dB FS, the highest that can be
    heard = peak > SILENCE_DB
    if not heard.any():
        return 0.0
    peak, lafmax = peak[heard], lafmax[heard]
    # the median of the loudest tenth: one gust does not decide it
    loud = lafmax >= np.quantile(lafmax, 0.9)
    return -float(np.median(peak[loud] - lafmax[loud]))


def _reliable(option: Option | None, warnings: Sequence[Notice]) -> bool:
    # levels of a clipped recording are estimates, and an estimate is not relied on
    if option is None or option.gain.estimated or not option.keeps_limit:
        return False
    spoilt = {"short", "silent", "low-frequency overload", "gain control"}
    return not any(one.code in spoilt for one in warnings)


def _history_notices(survey: Survey, gains: Sequence[GainMargins]) -> list[Notice]:
    """What a plan from level histories had to leave out that one from the sound would look at."""
    notices = []
    left_out = [mode for mode in MODES if mode in survey.site.trigger.modes]
    left_out = [mode for mode in left_out if mode not in survey.modes]
    if left_out:
        window_s = survey.site.trigger.window_s
        notices.append(
            notice(
                "modes not told",
                modes=", ".join(left_out),
                window_s=window_s,
                interval_s=survey.row_s,
            )
        )
    all_histories = [one for one in survey.measurements if one.sample_rate_hz is None]
    if all_histories and survey.wanted:
        notices.append(notice("history assumed", "rate", rate_hz=survey.wanted[0].rate_hz))
    if all_histories and survey.site.microphone.converter_noise_dbfs is None:
        floor_db = all_histories[0].format_floor_db
        notices.append(notice("history assumed", "floor", floor_db=floor_db))
    histories = [one for one in all_histories if one.has_peaks]
    not_simulated = [
        setting_name(gain.setting) if gain.setting is not None else f"{gain.gain_db:+g} dB"
        for i, gain in enumerate(gains)
        if gain.footroom_db >= FOOTROOM_NEEDED_DB
        and any(one.gains[i].given_up for one in histories)
    ]
    if not_simulated:
        notices.append(notice("gains not simulated", gains=", ".join(not_simulated)))
    return notices


def _evidence_notices(survey: Survey, option: Option | None) -> list[Notice]:
    """Where marked sounds contradict what was worked out for them."""
    notices = []
    for one in survey.evidence:
        if one.contradicts:
            notices.append(
                notice(
                    "marks contradict",
                    "level",
                    sound=one.sound,
                    count=len(one.offsets_db),
                    median_db=one.median_db,
                )
            )
    if option is None:
        return notices
    row, curve = option.row, option.curve
    placed = {one.sound: one for one in curve.detections if one.distance_m is not None}
    for heard in curve.comparable:
        computed = placed.get(heard.sound)
        # two intervals that have nothing in common
        if computed is None or not (
            heard.high[row] < computed.low[row] or heard.low[row] > computed.high[row]
        ):
            continue
        notices.append(
            notice(
                "marks contradict",
                "detection",
                sound=heard.sound,
                caught=float(heard.probability[row]),
                low=float(computed.low[row]),
                high=float(computed.high[row]),
            )
        )
    return notices


def _display_notices(option: Option | None, site: Site) -> list[Notice]:
    """The camera's own scale was not read anywhere near the level to set."""
    beyond_db = 0.0 if option is None else beyond_readings_db(option, site)
    if beyond_db == 0:
        return []
    # what was read, and not what the line through it says of the same levels
    read = [shown for shown, _ in site.display.readings]
    return [notice("display range", beyond_db=beyond_db, lowest=min(read), highest=max(read))]


def _advice(
    choice: Choice,
    gains: Sequence[GainMargins],
    survey: Survey,
    ceiling_db: float,
) -> list[Notice]:
    option, site = choice.recommended, survey.site
    advice = []
    if survey.levels.clipping.verdict == "heavy":
        advice.append(_lower_gain(option, gains))
    elif not choice.by_mode:
        advice.append(notice("record again"))
    advice += trade_advice(choice, survey, gains, ceiling_db)
    if option is not None:
        advice += narrowing_advice(survey, option)
        limit_per_day = site.limits.false_triggers_per_day
        prediction = option.curve.prediction
        shown = option.basis == "safe" and prediction.method[option.row] == "counted"
        advice += prediction_advice(prediction, limit_per_day, shown=shown)
        if site.site.kind is not None:
            advice.append(notice("kind unused"))
        if option.trigger.mode == "threshold" and not site.display.readings:
            advice.append(notice("camera scale"))
        if site.microphone.gain_control == "not tested":
            advice.append(notice("gain test"))
        advice.append(notice("follow up"))
    return advice


def _lower_gain(option: Option | None, gains: Sequence[GainMargins]) -> Notice:
    """By how much to lower the gain where the recording itself clipped."""
    # the highest usable gain below the recorded one costs least above the noise
    good = [gain.gain_db for gain in gains if gain.usable and gain.gain_db < 0]
    if not good:
        return notice("lower the gain", "below all")
    by_db = -max(good)
    # at least down to the gain that is recommended
    if option is not None:
        by_db = max(by_db, -option.gain_db)
    return notice("lower the gain", by_db=by_db)
