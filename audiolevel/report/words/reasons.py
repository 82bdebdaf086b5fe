"""The sentences of a plan: why this setting, what is given up, what parts of the day ask for."""

from collections.abc import Sequence

import numpy as np

from audiolevel.counting.schedule import read_schedule
from audiolevel.ground.notices import Notice
from audiolevel.planning.detection_range import DISTANCES_M
from audiolevel.planning.evidence import Evidence
from audiolevel.planning.option import Option
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan
from audiolevel.report.words.quantities import chance, short
from audiolevel.report.words.settings import gain_words, trigger_words

# rounds to 100 %
_AS_GOOD_AS_ALWAYS = 0.995
_NAME = 32


def reason(plan: SitePlan) -> str:
    """Why this setting, and what is given up; told from what the order of options looks at."""
    option = plan.recommended
    if option is None:
        return not_both(plan) or "No setting can be defended from this recording"
    return f"{not_both(plan) or why(option, plan)}. {_given_up(option, plan)}"


def not_both(plan: SitePlan) -> str:
    """What cannot be had; empty where both can be had."""
    if not plan.choice.is_trade:
        return ""
    first = plan.choice.by_mode[0]
    limit = f"{plan.limit_per_day:g} a day"
    if not first.keeps_limit and plan.recommended is None:
        return (
            f"Nothing keeps {limit} as far as this recording can tell, and what comes nearest "
            "catches next to nothing of what is wanted"
        )
    if not first.keeps_limit:
        return f"Nothing keeps {limit} as far as this recording can tell"
    named = _required(first)
    share = f"{100 * plan.survey.site.limits.detection:g} % of the time"
    said = f"No setting keeps {limit} and catches {named} {share}"
    if not any(one.catches_enough for one in (*plan.choice.by_mode, *plan.choice.alternatives)):
        said = f"No setting catches {named} {share}, whatever the limit"
    if plan.recommended is not None:
        return said
    return f"{said}; what keeps {limit} catches next to nothing: {set_again(first, plan)}"


def set_again(option: Option, plan: SitePlan) -> str:
    """Gain and trigger, and no more."""
    gain = gain_words(option.gain_db, option.gain.setting)
    return f"{gain}; {trigger_words(option.trigger, option.gain_db, plan.survey.scale)}"


def too_far(sounds: Sequence[Notice]) -> str:
    """What no setting catches, and within what distance the one that keeps the limit would."""
    facts = [one.facts for one in sounds]
    names = [f"{one['sound']} at {one['distance_m']:g} m" for one in facts]
    near = [f"within {one['within_m']:.2g} m of {one['sound']}" for one in facts if one["within_m"]]
    never = [str(one["sound"]) for one in facts if not one["within_m"]]
    # no nearer one was tried
    near += [f"not even at {DISTANCES_M[0]:g} m of {', '.join(never)}"] if never else []
    are, them = ("is", "it") if len(facts) == 1 else ("are", "them")
    return (
        f"{', '.join(names)} {are} put aside, as no setting catches {them} "
        f"{100 * float(facts[0]['share'] or 0):g} % of the time; what keeps the limit does so "
        f"{', '.join(near)}"
    )


_MOVED = {
    "limit": "as recorded no setting keeps the limit",
    "clips": "as recorded the loudest sample clips",
    "scale": "as recorded the level lies where the camera's own scale was not read",
    "higher": "it is the one that allows the highest level",
    "surer": "as recorded the limit is kept less surely",
    "caught": "as recorded too little of what is wanted is caught, even at best",
    "room": "as recorded the sound has too little room above or below",
    "catches": "as recorded less of what is wanted is caught",
    "not usable": "as recorded the gain cannot be used",
}


def why_moved(plan: SitePlan) -> str:
    """Why the gain is not as recorded; empty where it is."""
    return _MOVED.get(plan.gain_moved_by, "")


def _required(option: Option) -> str:
    """What must be caught, without what is out of reach."""
    required = option.curve.required
    if len(required) == 1:
        return named_sound(required[0])
    aside = any(one.out_of_reach for one in option.curve.detections)
    return "each other wanted sound" if aside else "each wanted sound"


def named_sound(curve: DetectionCurve) -> str:
    """A sound and where it is: `breaking glass at 5 m`."""
    where = "marked in the recording" if curve.distance_m is None else f"at {curve.distance_m:g} m"
    return f"{short(curve.sound, _NAME)} {where}"


def why(option: Option, plan: SitePlan) -> str:
    """Which of its conditions a setting meets, and how surely."""
    limit = f"{plan.limit_per_day:g} a day"
    share = f"{100 * plan.survey.site.limits.detection:g} %"
    if not option.keeps_limit:
        highest = (
            "the highest level that the recording can speak of"
            if option.trigger.mode == "threshold"
            else "a change that never occurred in this recording"
        )
        return (
            f"Nothing keeps {limit} as far as this recording can tell; this is {highest}, a place "
            "to start from"
        )
    kept = (
        f"It keeps {limit} with 90 % certainty"
        if option.basis == "safe"
        else f"It keeps {limit} by the best estimate, not yet with 90 % certainty"
    )
    if option.highest_catching_db is None:
        return f"{kept}, and is the lowest that does" if option.basis == "safe" else kept
    if not option.catches_enough:
        return f"{kept}, and catches the wanted sounds less than {share} of the time"
    catches = f"{kept}, and catches {_required(option)} at least {share} of the time"
    if option.caught != "surely":
        # told apart from the other: the sounds may well be quieter than was worked out
        return f"{catches} by the best estimate, though less is possible"
    if option.basis == "safe" and option.margin_db is not None:
        return f"{catches}, even at worst, with {option.margin_db:z.1f} dB to spare"
    return f"{catches}, even at worst"


def nothing_wanted(plan: SitePlan) -> str:
    """Why no wanted sound has a say in a plan."""
    site = plan.survey.site
    if site.wanted and not plan.survey.wanted:
        return "the wanted sounds of the site file have no level here without a calibration"
    if site.wanted:
        return "no wanted sound within reach must be caught"
    return "no wanted sound is named in the site file ([[wanted]]) and none is marked"


def _given_up(option: Option, plan: SitePlan) -> str:
    least = option.least_detected
    if least is None:
        headroom_db = option.gain.headroom_db
        room = (
            "how much room the gain leaves above the highest sample is not known"
            if headroom_db is None
            else f"the gain leaves {headroom_db:z.0f} dB above the highest sample"
        )
        return f"What it misses is not known: {nothing_wanted(plan)}; {room}"
    if option.catches_enough and least.probability[option.row] >= _AS_GOOD_AS_ALWAYS:
        below = "stays below this level" if option.trigger.mode == "threshold" else "comes slower"
        return f"Given up: whatever {below}, wanted or not"
    said = f"Caught least: {chance_text(least, option.row)}"
    # not a matter of this setting: even the lowest would miss it
    if option.highest_catching_db == -np.inf:
        return f"{said}, and at no setting of this mode often enough"
    return said


def chance_text(curve: DetectionCurve, row: int) -> str:
    """How often a sound is caught at a setting, with the interval of it."""
    best, low, high = (float(part[row]) for part in (curve.probability, curve.low, curve.high))
    return f"{named_sound(curve)} {chance(best, low, high)}"


def hours_a_day(windows: Sequence[str]) -> str:
    """Active hours of a day, and on how many days a week where that is not all."""
    schedule = read_schedule(windows)
    hours, days = f"{schedule.hours_active_per_day:.3g} h a day", schedule.days_active_per_week
    if days == 7:
        return hours
    return f"{hours} on {days} days a week" if days > 1 else f"{hours} on one day a week"


def hours_not_heard(hours: Sequence[int]) -> str:
    """Which hours are told from the traffic alone."""
    runs: list[list[int]] = []
    for hour in hours:
        # hours in a row are told as one stretch, 22 to 24 and 0 to 5 apart
        if runs and hour == runs[-1][-1] + 1:
            runs[-1].append(hour)
        else:
            runs.append([hour])
    named = ", ".join(f"{run[0]:02d}-{run[-1] + 1:02d}" for run in runs)
    return f"{named} h not heard: worked out from their traffic, and less sure for it"


def evidence_line(evidence: Evidence) -> str:
    """What marked events of one sound taught of its level."""
    before, after = evidence.before, evidence.after
    alone = ", by the marks alone," if evidence.contradicts else ""
    return (
        f"{evidence.sound}, {len(evidence.offsets_db)} marked: {evidence.median_db:+z.1f} dB "
        f"from the level worked out; its mean level is moved by {after.mean_db:+z.1f} dB"
        f"{alone} and known to ±{2 * after.unknown_db:.1f} dB (without the marks to "
        f"±{2 * before.unknown_db:.1f})"
    )
