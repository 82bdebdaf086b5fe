"""Where the limit and the wanted sounds cannot both be had: what would change that, computed.

Entry points: `trade_advice`, `out_of_reach`.
"""

import math
from collections.abc import Iterable, Sequence

from audiolevel.counting.predicted import SAFE_SHARE
from audiolevel.counting.schedule import HOURS
from audiolevel.ground.notices import Notice, notice
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.choice import TELLS_APART, Choice
from audiolevel.planning.curves import curve_at
from audiolevel.planning.detection_range import Carried
from audiolevel.planning.option import Option, options_of, without
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.prediction import settings_to_try
from audiolevel.planning.survey import Survey


def trade_advice(
    choice: Choice, survey: Survey, gains: Sequence[GainMargins], ceiling_db: float
) -> list[Notice]:
    """What would let both be had: nearer, another mode, another limit, fewer hours, fewer wishes.

    Parameters
    ----------
    choice : Choice
    survey : Survey
    gains : sequence of GainMargins
        Every gain that was simulated.
    ceiling_db : float
        LAF in dB FS from which on the input clips.

    Returns
    -------
    list of Notice
        Empty where both can be had.
    """
    if not choice.is_trade:
        return []
    within = choice.by_mode[0]
    enough = choice.alternatives[-1] if choice.alternatives else None
    advice = [
        *_nearer(within, survey),
        *_other_modes(within, survey, gains, ceiling_db),
        *([] if enough is None else _other_limits(enough, survey)),
        *_fewer_wishes(within, survey, ceiling_db),
    ]
    return advice or [notice("elsewhere")]


def out_of_reach(choice: Choice, survey: Survey) -> list[Notice]:
    """The wanted sounds that no setting catches, and within what distance one would be.

    Parameters
    ----------
    choice : Choice
    survey : Survey
    """
    if not choice.by_mode:
        return []
    option, share = choice.by_mode[0], survey.site.limits.detection
    aside = {i: one for i, one in _placed(option) if one.out_of_reach}
    within_m = _within_m(option, survey, aside)
    return [
        notice(
            "out of reach",
            sound=one.sound,
            distance_m=one.distance_m,
            within_m=within_m[index],
            share=share,
        )
        for index, one in aside.items()
    ]


def _placed(option: Option) -> list[tuple[int, DetectionCurve]]:
    """The sounds of the site file, each with its place there."""
    return list(enumerate(one for one in option.curve.detections if one.distance_m is not None))


def _within_m(option: Option, survey: Survey, places: Iterable[int]) -> dict[int, float | None]:
    """How near each of some sounds would have to be to be caught at a setting, by its place."""
    wanted = list(places)
    # the ground that all of them are placed on is made once, and not for none
    tried = [(option.trigger, [option.trigger.at_db])]
    carried = Carried(survey, option.gain_db, tried) if wanted else None
    share = survey.site.limits.detection
    return {} if carried is None else {i: carried.caught_within_m(i, share) for i in wanted}


def _nearer(within: Option, survey: Survey) -> list[Notice]:
    """How near each sound would have to be to be caught at the setting within the limit."""
    least = within.least_detected
    if least is not None and least.distance_m is None:
        return _louder(within, least)
    share = survey.site.limits.detection
    lost = {
        i: one
        for i, one in _placed(within)
        if one in within.curve.required and one.probability[within.row] < share
    }
    within_m = _within_m(within, survey, lost)
    near = [f"{m:.2g} m of {lost[i].sound}" for i, m in within_m.items() if m is not None]
    cause = "some" if len(near) < len(lost) else ""
    return [notice("nearer", cause, within=", ".join(near))] if near else []


def _louder(within: Option, least: DetectionCurve) -> list[Notice]:
    """Of a marked sound no distance is known: how much louder it would have to arrive."""
    lacking_db = within.margin_db
    # −∞, where no setting catches it, says nothing
    if lacking_db is None or not math.isfinite(lacking_db):
        return []
    return [notice("nearer", "marked", sound=least.sound, lacking_db=-lacking_db)]


def _other_modes(
    within: Option, survey: Survey, gains: Sequence[GainMargins], ceiling_db: float
) -> list[Notice]:
    """The modes that the site file does not list, tried at the same gain."""
    index = next(i for i, one in enumerate(gains) if one is within.gain)
    found = []
    for mode in survey.tellable:
        if mode in survey.modes:
            continue
        settings = settings_to_try(survey, mode, within.gain_db)
        curve = curve_at(survey, index, within.gain_db, mode, settings)
        found += options_of([curve], gains, ceiling_db, survey.site)
    least = within.least_detected
    caught = 0.0 if least is None else float(least.probability[within.row])
    better = [
        (float(one.least_detected.probability[one.row]), one)
        for one in found
        if one.keeps_limit and one.least_detected is not None
    ]
    if not better:
        return []
    share, best = max(better, key=lambda pair: pair[0])
    # a mode that catches hardly more is no way out
    if share < caught + TELLS_APART:
        return []
    trigger = best.trigger
    return [notice("another mode", mode=trigger.mode, at_db=trigger.at_db, share=share)]


def _other_limits(enough: Option, survey: Survey) -> list[Notice]:
    """The limit with which what catches enough could be set, and the hours that keep this one."""
    if not enough.catches_enough:
        return []
    limit_per_day = survey.site.limits.false_triggers_per_day
    prediction, advice = enough.curve.prediction, []
    safe = float(prediction.day_rate_quantiles(SAFE_SHARE)[enough.row])
    if math.isfinite(safe) and safe > limit_per_day:
        advice.append(notice("another limit", per_day=safe))
    by_hour = prediction.by_hour
    if by_hour is None:
        return advice
    begin, hours = _longest_run(by_hour[enough.row].tolist(), limit_per_day)
    if hours:
        advice.append(notice("fewer hours", begin=begin, end=(begin + hours) % HOURS, hours=hours))
    return advice


def _longest_run(by_hour: Sequence[float], limit_per_day: float) -> tuple[int, int]:
    """First hour and length of the longest run of hours whose firings together keep the limit."""
    best = (0, 0)
    for begin in range(HOURS):
        total, hours = 0.0, 0
        # hours that are not active have no firings, and must not lengthen a run
        while hours < HOURS and 0 < by_hour[(begin + hours) % HOURS] <= limit_per_day - total:
            total += by_hour[(begin + hours) % HOURS]
            hours += 1
        best = max(best, (begin, hours), key=lambda run: run[1])
    return best


def _fewer_wishes(within: Option, survey: Survey, ceiling_db: float) -> list[Notice]:
    """Sounds without which both could be had."""
    names = sorted({one.sound for one in within.curve.required})
    advice = []
    # leaving out the only wanted sound would be no advice
    for name in names if len(names) > 1 else ():
        best = without(within, name, ceiling_db, survey.site)
        if best is not None and best.keeps_limit and best.catches_enough:
            advice.append(notice("leave out", sound=name))
    return advice
