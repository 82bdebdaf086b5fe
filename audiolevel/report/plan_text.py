"""A plan in lines of 80 columns: what to set, why, and what it will do.

Entry point: `as_text`.
"""

from math import isnan

from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.choice import Option
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan
from audiolevel.report.plan_wording import (
    advice_text,
    by_part_in_unit,
    by_part_lines,
    chance_text,
    evidence_line,
    hours_a_day,
    hours_not_heard,
    of_ten,
    reason,
    trigger_text,
)
from audiolevel.report.sentences import notice_text
from audiolevel.report.text import bullets, count, entry, expected, gain, heading, setting, warnings
from audiolevel.report.wording import card_text, span
from audiolevel.site.sections import setting_name


def as_text(plan: SitePlan, name: str) -> str:
    """The plan as a person reads it."""
    survey = plan.survey
    heard, unit = span(survey.duration_s), survey.scale.unit
    lines = [*heading(f"Plan for {name}: {heard} heard; levels in {unit}"), ""]
    lines += _recommendation(plan)
    lines += ["", *_gain_table(plan)]
    lines += ["", *_option_table(plan)]
    lines += warnings(plan.warnings)
    if plan.advice:
        lines += ["", "Next", *bullets("-", map(advice_text, plan.advice))]
    return "\n".join(lines)


def in_a_line(plan: SitePlan) -> str:
    """Gain and trigger of the recommended option."""
    option = plan.recommended
    if option is None:
        return "nothing to set yet"
    at_gain = gain(option.gain_db, option.gain.setting)
    return f"{at_gain}; {setting(option.trigger, option.gain_db, plan.survey.scale)}"


def _recommendation(plan: SitePlan) -> list[str]:
    option = plan.recommended
    why = reason(plan)
    if option is None:
        return [*entry("SET", "nothing yet"), *entry("because", why)]
    lines = []
    if plan.choice.case == "neither":
        lines += entry("FIRST", f"nothing keeps the limit of {plan.limit_per_day:g} a day")
    lines += [
        line
        for one in plan.warnings
        if one.code == "other recording"
        for line in entry("FIRST", notice_text(one))
    ]
    lines += entry("SET", _set(option, plan))
    lines += entry("because", why[0].lower() + why[1:])
    lines += _does(option, plan)
    for one in plan.survey.evidence:
        lines += entry("heard", evidence_line(one))
    lines += _limit(plan, option)
    lines += _hours(plan, option)
    lines += _parts(plan, option)
    # before any other setting, or it would be read as said of that
    if not plan.reliable:
        lines += entry("", "Not reliable yet: a place to start from, see below.")
    for other in plan.choice.alternatives:
        lines += ["", *entry("OR INSTEAD", f"{_set(other, plan)}: catches enough")]
        lines += _does(other, plan)
    if plan.asked is not None:
        lines += ["", *entry("ASKED FOR", _set(plan.asked, plan))]
        lines += _does(plan.asked, plan)
    return lines


def _set(option: Option, plan: SitePlan) -> str:
    at_gain = gain(option.gain_db, option.gain.setting)
    return f"{at_gain}; {trigger_text(option, plan, 'see Next')}"


def _does(option: Option, plan: SitePlan) -> list[str]:
    """What an option fires, catches and fills."""
    lines = entry("expect", expected(option.expected))
    lines += _catches(option)
    life = plan.card_life(option)
    return lines + (entry("card", card_text(life)) if life is not None else [])


def _hours(plan: SitePlan, option: Option) -> list[str]:
    """Active hours, and which hours of the day nobody heard."""
    windows = plan.survey.site.schedule.active
    lines = []
    if windows:
        said = f"{'; '.join(windows)}: a day counts these hours, {hours_a_day(windows)}"
        lines = entry("active", said)
    # carried over only where there is traffic to carry by
    prediction = option.curve.prediction
    if prediction.by_hour is not None and prediction.hours_not_heard:
        lines += entry("hours", hours_not_heard(prediction.hours_not_heard))
    return lines


def _parts(plan: SitePlan, option: Option) -> list[str]:
    """Levels by day, evening and night, where that pays."""
    found = by_part_in_unit(plan, option)
    if found is None:
        return []
    return [line for said in by_part_lines(*found) for line in entry("by part", said)]


def _catches(option: Option) -> list[str]:
    """Each wanted sound with its chance and the interval of it."""
    lines = []
    for label, own in (("catches", False), ("marked", True)):
        chances = [
            _chance(one, option.row)
            for one in option.curve.detections
            if (one.distance_m is None) is own
        ]
        # placed sounds are simulated, marked ones were there: never in one line
        lines += entry(label, "; ".join(chances)) if chances else []
    return lines


def _chance(curve: DetectionCurve, row: int) -> str:
    said = chance_text(curve, row, curve.sound)
    # a mark was caught or was not; a chance is of all that may come
    return said if curve.distance_m is None else f"{said}, {of_ten(curve.probability[row])}"


def _limit(plan: SitePlan, option: Option) -> list[str]:
    limit = option.curve.limit_within_scale
    unit = plan.survey.scale.unit if option.trigger.mode == "threshold" else "dB of change"
    asked = f"at most {plan.limit_per_day:g} a day"
    if limit is None:
        return entry("limit", f"which level gives {asked} cannot be said from this recording")

    def shown(level: float | None) -> str:
        if level is None:
            # a level that the input never reads cannot be set
            return "above full scale" if option.trigger.mode == "threshold" else "not known"
        threshold = option.trigger.mode == "threshold"
        return f"{plan.survey.scale.shown(level, option.gain_db) if threshold else level:z.1f}"

    sure = f"{100 * option.curve.prediction.confidence:g} % interval"
    return entry(
        "limit",
        f"{asked}: kept from {shown(limit.best_db)} by the best estimate, from "
        f"{shown(limit.safe_db)} with 90 % certainty; {sure} {shown(limit.low_db)} to "
        f"{shown(limit.high_db)} {unit}",
    )


def _gain_table(plan: SitePlan) -> list[str]:
    lines = ["gain                room above, dB  room below, dB    clipped  usable"]
    lines += ["                    peak  from L10    L90 to noise"]
    for margins in plan.gains:
        notes = []
        if plan.recommended is not None and margins is plan.recommended.gain:
            notes.append("<- set")
        lost = plan.lost_to_clipping(margins)
        if margins.usable and lost:
            # usable for the site, yet so many wanted sounds are heard only up to full scale
            notes.append(f"cuts {len(lost)}")
        lines.append(f"{_gain_row(margins)}  {'; '.join(notes)}".rstrip())
    # whatever the answer, so that nobody takes silence for one
    tested = plan.survey.site.microphone.gain_control
    lines.append(f"gain control: {tested} (audiolevel calibrate --steady)")
    return lines


def _gain_row(margins: GainMargins) -> str:
    name = f"{margins.gain_db:+g} dB" + (
        "" if margins.setting is None else f" ({setting_name(margins.setting)})"
    )
    # estimated from a recording that had clipped itself
    about = "~" if margins.estimated else ""
    # less than 5 samples in ten million would show as a power of ten
    percent = 100 * margins.clipped_share if margins.clipped_share >= 5e-7 else 0
    share = "?" if isnan(margins.clipped_share) else f"{about}{percent:.2g} %"
    headroom = "?" if margins.headroom_db is None else f"{margins.headroom_db:z.0f}"
    usable = "yes" if margins.usable else "no"
    above = f"{headroom:>6} {margins.headroom_l10_db:z9.0f}"
    return f"{name:<18}{above} {margins.footroom_db:15.0f}  {share:>9}  {usable:<3}"


def _option_table(plan: SitePlan) -> list[str]:
    """The best of each mode: the recommended one first, then the runners-up."""
    if not plan.choice.by_mode:
        return []
    asks = bool(plan.choice.by_mode[0].curve.required)
    sure = f"{100 * plan.survey.confidence:g} % sure"
    head = f"{'each mode at its best':<32}{f'a day on average ({sure})':>29}"
    lines = [(head + ("  least caught" if asks else "")).rstrip()]
    for option in plan.choice.by_mode:
        rate = option.expected.rate
        # replaced below wherever there is a best estimate
        figures = f"fewer than {count(rate.high)}"
        if rate.best is not None:
            figures = f"{count(rate.best)} ({count(rate.low)} to {count(rate.high)})"
        what = setting(option.trigger, option.gain_db, plan.survey.scale)
        line = f"  {what:<28}{option.gain_db:+4g} dB  {figures:<22}{_least(option)}"
        lines.append(line.rstrip())
    return lines


def _least(option: Option) -> str:
    """The chance of the sound that is caught least, with its interval."""
    least = option.least_detected
    if least is None:
        return ""
    best, low, high = (
        100 * part[option.row] for part in (least.probability, least.low, least.high)
    )
    return f"{best:3.0f} % ({low:.0f} to {high:.0f})"
