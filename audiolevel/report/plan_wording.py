"""The sentences of a plan: why this setting, what is given up, and what would help."""

from collections.abc import Sequence

import numpy as np

from audiolevel.counting.schedule import read_schedule
from audiolevel.notices import Notice
from audiolevel.planning.choice import Option
from audiolevel.planning.day_parts import ByPart
from audiolevel.planning.evidence import Evidence
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan
from audiolevel.report.sentences import Sentences, sentence
from audiolevel.report.text import setting
from audiolevel.report.wording import span
from audiolevel.site.sections import Site

# rounds to 100 %
_AS_GOOD_AS_ALWAYS = 0.995


def reason(plan: SitePlan) -> str:
    """Why this setting, and what is given up; told from what the order of options looks at."""
    option = plan.recommended
    if option is None:
        return "no setting can be defended from this recording"
    return f"{_why(option, plan)}. {_given_up(option, plan.survey.site)}"


def _why(option: Option, plan: SitePlan) -> str:
    limit = f"{plan.limit_per_day:g} a day"
    share = f"{100 * plan.survey.site.limits.detection:g} %"
    if not option.keeps_limit:
        highest = (
            "the highest level that can be set at any usable gain"
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
        return f"{kept}; no setting keeps it and catches each wanted sound {share} of the time too"
    catches = f"{kept}, and catches each wanted sound at least {share} of the time"
    if option.caught != "surely":
        # told apart from the other: the sounds may well be quieter than was worked out
        return f"{catches} by the best estimate, though less is possible"
    if option.basis == "safe" and option.margin_db is not None:
        return f"{catches}, even at worst, with {option.margin_db:z.1f} dB to spare"
    return f"{catches}, even at worst"


def _given_up(option: Option, site: Site) -> str:
    least = option.least_detected
    if least is None:
        headroom_db = option.gain.headroom_db
        room = (
            "how much room the gain leaves above the highest sample is not known"
            if headroom_db is None
            else f"the gain leaves {headroom_db:z.0f} dB above the highest sample"
        )
        return f"No wanted sound is named, so nothing is said of what it misses; {room}"
    row = option.row
    share, low, high = (float(part[row]) for part in (least.probability, least.low, least.high))
    if option.catches_enough and share >= _AS_GOOD_AS_ALWAYS:
        below = "stays below this level" if option.trigger.mode == "threshold" else "comes slower"
        return f"Given up: whatever {below}, wanted or not"
    where = "marked in the recording" if least.distance_m is None else f"{least.distance_m:g} m off"
    said = (
        f"Given up: {least.sound} ({where}) is caught {100 * share:.0f} % of the time "
        f"({100 * low:.0f} to {100 * high:.0f})"
    )
    # not a matter of this setting: even the lowest would miss it
    if option.highest_catching_db == -np.inf:
        return f"{said}, and at no setting of this mode often enough"
    return said


def trigger_text(option: Option, plan: SitePlan, how: str) -> str:
    """A trigger, with its number on the camera's own scale; `how` to get one if that is unknown."""
    said = setting(option.trigger, option.gain_db, plan.survey.scale)
    if option.trigger.mode != "threshold":
        return said
    shown = plan.shown(option)
    if shown is None:
        return f"{said} (the camera's own scale is not known: {how})"
    # without the number a person at the camera would have nothing to type
    return f"{said} (the camera's own scale: {shown.value:.3g} ± {shown.uncertainty:.2g})"


def chance_text(curve: DetectionCurve, row: int, sound: str) -> str:
    """How often a sound is caught at a setting, with the interval of it."""
    where = "" if curve.distance_m is None else f" at {curve.distance_m:g} m"
    best, low, high = (100 * part[row] for part in (curve.probability, curve.low, curve.high))
    return f"{sound}{where} {best:.0f} % ({low:.0f} to {high:.0f})"


def by_part_in_unit(plan: SitePlan, option: Option) -> tuple[ByPart, str] | None:
    """Levels by day, evening and night in the unit shown; None where they do not pay."""
    by_part = option.curve.by_part
    if by_part is None or not by_part.pays:
        return None
    if option.trigger.mode != "threshold":
        return by_part, "dB of change"
    scale = plan.survey.scale
    return by_part.shifted(scale.shown(0.0, option.gain_db)), scale.unit


def parts_in_a_line(plan: SitePlan, option: Option) -> str:
    """The levels by part of the day, each with its interval; "" where they do not pay."""
    found = by_part_in_unit(plan, option)
    if found is None:
        return ""
    by_part, unit = found
    levels = "; ".join(
        f"{one.part} {one.best_db:z.1f} ({one.low_db:z.1f} to {one.high_db:z.1f})"
        for one in by_part.parts
    )
    return f"better than one level for all day, in {unit}: {levels}"


def by_part_lines(by_part: ByPart, unit: str) -> list[str]:
    """The settings by part of the day, with what they gain; one line a part."""
    lines = []
    for one in by_part.parts:
        side = "lower" if one.gain_db >= 0 else "higher"
        lines.append(
            f"{one.part}: {one.best_db:z.1f} {unit} ({one.low_db:z.1f} to {one.high_db:z.1f}), "
            f"{abs(one.gain_db):.1f} dB {side} than {by_part.common_db:z.1f} for all day, which "
            f"would fire {one.per_day_at_common:.2g} of {one.limit_per_day:.2g} times there"
        )
    return lines


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


def of_ten(share: float) -> str:
    """A chance as people count: nearly all, about six of ten, hardly any."""
    if share >= 0.975:
        return "nearly all"
    if share < 0.025:
        return "hardly any"
    if share >= 0.925:
        return "about 19 of 20"
    if share < 0.075:
        return "about one of 20"
    numbers = ["none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    return f"about {numbers[round(10 * share)]} of ten"


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


# --- advice --------------------------------------------------------------------------------------


def _block(block: str) -> str:
    name, begin, end = block.rsplit(" ", 2)
    return f"the {name} ({begin} to {end} h)"


def _narrowed(now_db: float, after_db: float) -> str:
    return (
        f"what would narrow the level to set most, from ±{now_db:.1f} dB to about "
        f"±{after_db:.1f} dB:"
    )


_ADVICE: Sentences = {
    ("a day like the sample", ""): lambda hours: (
        f"a day is taken as {hours:.0f} hours like the sample's: a sample from a busy hour "
        "overstates the day, one from a quiet hour understates it"
    ),
    ("visits differ", ""): lambda apart_db, sure_db: (
        f"the visits' L10 differ by {apart_db:.1f} dB; from visits like these the "
        f"mean day's level is known to ±{sure_db:.1f} dB"
    ),
    ("kind unused", ""): lambda: (
        "site.kind changes nothing any more: one belief holds for all places"
    ),
    ("hours unlike", ""): lambda hour: (
        "the hours heard are too unlike the active ones, so no level is called safe; visit once "
        f"about {hour}:00"
    ),
    ("narrows most", "another hour"): lambda hour, now_db, after_db: (
        f"{_narrowed(now_db, after_db)} one more visit, around {hour:02d}:00"
    ),
    ("narrows most", "another day"): lambda hour, now_db, after_db: (
        f"{_narrowed(now_db, after_db)} one more visit on another day, around {hour:02d}:00"
    ),
    ("narrows most", "two days of log"): lambda hour, now_db, after_db: (
        f"{_narrowed(now_db, after_db)} two days of the camera's own log at this setting"
    ),
    ("hours not heard", ""): lambda blocks: (
        f"not heard yet, and worth a visit: {', '.join(map(_block, blocks.split(';')))}"
    ),
    ("listen longer", ""): lambda limit_per_day, more_s: (
        f"to show by counting alone that a setting keeps {limit_per_day:g} a day, listen "
        f"{span(more_s, whole_hours=True)} more"
    ),
    ("nearer", ""): lambda sound, lacking_db, distance_m: (
        f"to keep the limit and catch enough: {sound} would have to arrive {lacking_db:.1f} dB "
        "louder"
        + ("" if distance_m is None else f", as from {distance_m:.2g} m")
        + "; a microphone nearer to it, or a place less loud"
    ),
    ("leave out", ""): lambda sound: (
        f"without {sound} among the wanted sounds, a setting keeps the limit and catches the rest"
    ),
    ("another mode", ""): lambda modes: (
        f"not tried, because the site file does not list it: {modes} (trigger.modes)"
    ),
    ("camera scale", ""): lambda: (
        "what to type into the camera is not known yet: play a steady sound from a phone at two or "
        "three levels, note each time the number the camera shows, record the same minutes, then: "
        "audiolevel calibrate --record FILE --at 0:20=41 --at 1:05=63 (minute:second = number)"
    ),
    ("lower the gain", ""): lambda by_db: (
        f"lower the gain by {by_db:g} dB, record again there and plan again: "
        "what was clipped cannot be counted"
    ),
    ("lower the gain", "below all"): lambda: (
        "lower the gain below every setting considered here and record again"
    ),
    ("record again", ""): lambda: (
        "record again, louder or longer, at a gain that neither clips nor is silent"
    ),
    ("gain test", ""): lambda: (
        "whether the camera turns its own gain is not tested: a minute with a phone's tone and "
        "nine claps shows it (audiolevel calibrate --steady FILE)"
    ),
    ("follow up", ""): lambda: "after a day or two compare the camera's log: audiolevel followup",
}


def advice_text(advice: Notice) -> str:
    """What would help, in words."""
    return sentence(_ADVICE, advice)
