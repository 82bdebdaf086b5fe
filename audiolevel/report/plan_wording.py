"""The sentences of a plan: why this setting, what is given up, and what would help."""

from collections.abc import Sequence

import numpy as np

from audiolevel.counting.day_parts import ByPart
from audiolevel.notices import Notice
from audiolevel.planning.choice import Option
from audiolevel.report.wording import Sentences, sentence, span
from audiolevel.site import Site

_AS_GOOD_AS_ALWAYS = 0.995


def reason(option: Option | None, site: Site) -> str:
    """Two sentences: why this setting, and what is given up."""
    if option is None:
        return "no setting can be defended from this recording"
    return f"{_why(option, site)}. {_given_up(option, site)}"


def _why(option: Option, site: Site) -> str:
    limit = f"{site.limits.false_triggers_per_day:g} a day"
    kept = {
        "safe": f"It keeps {limit} with 90 % certainty",
        "best": f"It keeps {limit} by the best estimate, not yet with 90 % certainty",
        "reach": (
            "It is the highest setting this recording says anything about"
            if option.trigger.mode == "threshold"
            else "It never occurred in this recording"
        )
        + f"; that it keeps {limit} cannot be promised",
    }[option.basis]
    if option.highest_catching_db is None:
        return f"{kept}, and is the lowest that does" if option.basis != "reach" else kept
    share = f"{100 * site.limits.detection:g} %"
    if option.catches_enough:
        spare = f" with {option.margin_db:.1f} dB to spare" if option.margin_db is not None else ""
        return f"{kept}, and catches each wanted sound at least {share} of the time{spare}"
    return f"{kept}, but it does not catch each wanted sound {share} of the time"


def _given_up(option: Option, site: Site) -> str:
    least = option.least_detected
    if least is None:
        return (
            f"No wanted sound is named, so nothing is said of what it misses; the gain leaves "
            f"{option.gain.headroom_db:.0f} dB above the highest sample"
        )
    share = float(least.probability[option.row])
    if option.catches_enough and share >= _AS_GOOD_AS_ALWAYS:
        below = "stays below this level" if option.trigger.mode == "threshold" else "comes slower"
        return f"Given up: whatever {below}, wanted or not"
    where = "marked in the recording" if least.distance_m is None else f"{least.distance_m:g} m off"
    said = f"Given up: {least.sound} ({where}) is caught {100 * share:.0f} % of the time"
    if option.catches_enough or option.margin_db is None:
        return said
    if not np.isfinite(option.margin_db):
        return f"{said}, and at no setting of this mode often enough"
    return f"{said}; {_what_it_lacks(option, least.distance_m)}"


def _what_it_lacks(option: Option, distance_m: float | None) -> str:
    """By how much a wanted sound is too weak, as decibels, distance and setting."""
    lack_db = -(option.margin_db or 0.0)
    # free field: 6 dB for each halving of the distance
    nearer = "" if distance_m is None else f", or {distance_m / 10 ** (lack_db / 20):.1f} m off"
    step = "level" if option.trigger.mode == "threshold" else "step"
    return (
        f"it would have to be {lack_db:.1f} dB louder{nearer}, or the {step} {lack_db:.1f} dB "
        "lower, at more false firings"
    )


def by_part_lines(by_part: ByPart, unit: str) -> list[str]:
    """The settings by part of the day, with what they gain; one line a part."""
    lines = []
    for one in by_part.parts:
        side = "lower" if one.gain_db >= 0 else "higher"
        lines.append(
            f"{one.part}: {one.best_db:.1f} {unit} ({one.low_db:.1f} to {one.high_db:.1f}), "
            f"{abs(one.gain_db):.1f} dB {side} than {by_part.common_db:.1f} for all day, which "
            f"would fire {one.per_day_at_common:.2g} of {one.limit_per_day:.2g} times there"
        )
    return lines


def hours_not_heard(hours: Sequence[int]) -> str:
    """Which hours are carried over from the traffic."""
    runs: list[list[int]] = []
    for hour in hours:
        if runs and hour == runs[-1][-1] + 1:
            runs[-1].append(hour)
        else:
            runs.append([hour])
    named = ", ".join(f"{run[0]:02d}-{run[-1] + 1:02d}" for run in runs)
    return f"{named} h not heard: carried over from the traffic, with wider intervals"


# --- advice --------------------------------------------------------------------------------------

_BLOCKS = {
    "morning": "the morning (7 to 12 h)",
    "afternoon": "the afternoon (12 to 16 h)",
    "evening peak": "the evening peak (16 to 19 h)",
    "night": "the night (22 to 5 h)",
}
_ADVICE: Sentences = {
    ("a day like the sample", ""): lambda: (
        "a day is taken as 24 hours like the sample's: a sample from a busy hour overstates "
        "the day, one from a quiet hour understates it"
    ),
    ("more visits", ""): lambda: (
        "three to five visits of ten minutes on different days and hours beat one long one"
    ),
    ("hours not heard", ""): lambda blocks: (
        f"not heard yet, and worth a visit: {', '.join(_BLOCKS[b] for b in blocks.split(';'))}"
    ),
    ("listen longer", ""): lambda limit_per_day, more_s: (
        f"to show by counting alone that a setting keeps {limit_per_day:g} a day, listen "
        f"{span(more_s, whole_hours=True)} more"
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
    ("follow up", ""): lambda: "after a day or two compare the camera's log: audiolevel followup",
}


def advice_text(advice: Notice) -> str:
    """What would help, in words."""
    return sentence(_ADVICE, advice)
