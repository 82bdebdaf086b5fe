"""What a plan has to say: what to set, what it will do, what else there is, and how that is known.

Entry points: `plan_document`, `set_words`.
"""

from collections.abc import Sequence
from math import isnan

from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.option import Option
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan
from audiolevel.report.document import (
    WHOLE,
    Block,
    Document,
    Fact,
    Paragraph,
    Section,
    Shown,
    Table,
    cautions,
    document,
    points,
)
from audiolevel.report.words.cautions import ON_SITE, advice_text, notice_text
from audiolevel.report.words.quantities import chance, percent, span
from audiolevel.report.words.reasons import (
    chance_text,
    evidence_line,
    hours_a_day,
    hours_not_heard,
    not_both,
    nothing_wanted,
    reason,
    set_again,
    too_far,
    why,
    why_moved,
)
from audiolevel.report.words.settings import (
    card_days,
    card_text,
    expected,
    rate,
    to_set,
    trigger_words,
)
from audiolevel.site.sections import setting_name

# a damaged recording is mended before anything is narrowed
_FIRST_STEPS = (
    *("lower the gain", "record again", "nearer", "another mode", "another limit", "fewer hours"),
    *("leave out", "hours unlike", "hours not heard", "narrows most", "listen longer"),
)
_LAST_STEPS = ("kind unused",)
_TOO_FAR = "out of reach"
_HOW = (
    "Levels follow IEC 61672-1 (A-weighting, time weighting F). Every setting is run over the "
    "levels of the recording at every gain; what lies above the loudest sound heard is worked out "
    "from how loud sounds thin out. The intervals hold how few were heard, how hours and days "
    "differ, and wet roads."
)
_FIRINGS = (
    "Left: firings a day against the setting, with their interval; right: the room that each gain "
    "leaves between the noise and full scale."
)
_RANGES = (
    "How often each sound is caught, by its distance. A triangle marks the distance asked for; a "
    "band is what is not known of the sound's level, and chance."
)


def plan_document(plan: SitePlan, name: str) -> Document:
    """A plan as a document; `name` is of the site, or of its recordings."""
    option = plan.recommended
    rank = {code: i for i, code in enumerate(_FIRST_STEPS)}
    steps = sorted(
        plan.advice, key=lambda one: (one.code in _LAST_STEPS, rank.get(one.code, len(rank)))
    )
    # where a choice is left to the reader, what would do away with it goes before all else
    first = 1 if plan.choice.is_trade else 3
    title = "Choose one" if plan.choice.is_trade else "Set this" if option else "Set nothing yet"
    sections = [
        Section(title, _decision(plan), "set", lead=True),
        _what_it_does(plan),
        Section("How far it hears", _ranges(plan), "catches"),
        Section("Listen to what fires", (Shown("listen"),), "listen"),
        Section("What would help", points(map(advice_text, steps), "next", first), "narrow"),
        cautions(one for one in plan.warnings if one.code not in ("other recording", _TOO_FAR)),
        Section("Each gain", _gains(plan), "gains", folded=True),
        Section("Each mode at its best", _modes(plan), "modes", folded=True),
        Section("How this was worked out", _worked_out(plan), "computed", folded=True),
        Section("Before you climb", points(ON_SITE), "cautions"),
        Section("Commissioning record", (Shown("record"),), "record", folded=True),
    ]
    under = f"{span(plan.survey.duration_s)} heard; levels in {plan.survey.scale.unit}"
    return document(f"Plan for {name}", under, sections)


def set_words(option: Option, plan: SitePlan) -> str:
    """What to set at the camera for an option."""
    return to_set(
        option.trigger, option.gain_db, option.gain.setting, plan.survey.scale, plan.display
    )


def _decision(plan: SitePlan) -> tuple[Block, ...]:
    option, cannot = plan.recommended, not_both(plan)
    facts = [
        Fact("FIRST", notice_text(one), 0) for one in plan.warnings if one.code == "other recording"
    ]
    if cannot:
        facts.append(Fact("NOT BOTH", f"{cannot}.", 0))
    far = [one for one in plan.warnings if one.code == _TOO_FAR]
    facts += [Fact("TOO FAR", too_far(far), 0)] if far else []
    if option is None:
        take = "take one of these, or " if plan.choice.alternatives else ""
        nothing = f"nothing: {take}change something (next)"
        facts.append(Fact("SET", nothing if cannot else f"nothing yet: {_lower(reason(plan))}", 0))
    else:
        bought = Fact("SET", set_words(option, plan), 0)
        facts.append(_bought("SET", option, plan) if cannot else bought)
    facts += [_bought("OR", one, plan) for one in plan.choice.alternatives]
    if plan.asked is not None:
        facts.append(_bought("ASKED FOR", plan.asked, plan))
    if option is not None and not cannot:
        facts.append(Fact("because", _lower(reason(plan)), 2, f"{_lower(why(option, plan))}."))
    moved = why_moved(plan)
    if moved:
        facts.append(Fact("gain", f"moved: {moved}", 3))
    if option is not None and not plan.reliable:
        short = any(one.code == "short" for one in plan.warnings)
        heard = f"only {span(plan.survey.duration_s)} heard; " if short else ""
        facts.append(Fact("", f"Not reliable yet: {heard}a place to start from.", 1))
    return tuple(facts)


def _lower(said: str) -> str:
    return said[0].lower() + said[1:]


def _bought(name: str, option: Option, plan: SitePlan) -> Fact:
    """A setting with what it costs and catches, to be held against others."""
    # without its number on the camera: how to get that is said once
    again = name != "SET" and plan.display is None
    what = set_again(option, plan) if again else set_words(option, plan)
    said = f"{what}: {rate(option.expected)}"
    whole, brief = said, said
    shown = [one for one in option.curve.detections if one in option.curve.required]
    if shown:
        whole += "; catches " + "; ".join(chance_text(one, option.row) for one in shown)
        least = sorted(shown, key=lambda one: float(one.probability[option.row]))[:3]
        brief += "; catches " + ", ".join(
            f"{one.sound} {100 * one.probability[option.row]:.0f} %" for one in least
        )
    life = plan.card_life(option)
    if life is not None:
        whole += f"; card {card_days(life)}"
    return Fact(name, whole, 0, brief)


# --- what a setting does -------------------------------------------------------------------------


def _what_it_does(plan: SitePlan) -> Section:
    """Of what is recommended; of what catches enough, or most, where that is nothing."""
    choice = plan.choice
    option, title = choice.recommended, "What it will do"
    if option is None and choice.by_mode:
        option = (*choice.by_mode[:1], *choice.alternatives)[-1]
        title = f"What would be, with {set_again(option, plan)}"
    return Section(title, () if option is None else _does(plan, option), "explore")


def _does(plan: SitePlan, option: Option) -> tuple[Block, ...]:
    """Firings, catches, card and hours of a setting."""
    # the lead says the same of every setting to choose from, and the short form has no heading that
    # tells of which of them the rest is
    later = WHOLE if plan.recommended is None else 10 if plan.choice.is_trade else 0
    facts = [Fact("expect", expected(option.expected), 1 + later)]
    placed = [one for one in option.curve.detections if one.distance_m is not None]
    marked = [one for one in option.curve.detections if one.distance_m is None]
    # placed sounds are simulated, marked ones were there: never in one line
    facts += _caught("catches", placed, option.row, 2 + later)
    facts += _caught("marked", marked, option.row, 7 + later)
    if plan.survey.site.wanted and not plan.survey.wanted:
        unplaced = "not known: no calibration to place the wanted sounds by"
        facts.append(Fact("catches", f"not known: {nothing_wanted(plan)}", 2, unplaced))
    elif not option.curve.detections:
        facts.append(Fact("catches", f"not known: {nothing_wanted(plan)}", 6))
    life = plan.card_life(option)
    if life is not None:
        facts.append(Fact("card", card_text(life), 4 + later, card_days(life)))
    facts += [Fact("limit", _limit(plan, option))]
    windows = plan.survey.site.schedule.active
    if windows:
        hours = hours_a_day(windows)
        said = f"{'; '.join(windows)}: a day counts these hours, {hours}"
        facts.append(Fact("active", said, 6, f"{hours}; counts of a day are of these"))
    # carried over only where there is traffic to carry by
    prediction = option.curve.prediction
    if prediction.by_hour is not None and prediction.hours_not_heard:
        facts.append(Fact("hours", hours_not_heard(prediction.hours_not_heard)))
    return (*facts, Shown("explore"))


def _caught(name: str, curves: Sequence[DetectionCurve], row: int, rank: int) -> list[Fact]:
    """Sounds with their chances; where there is little room those caught least."""
    if not curves:
        return []
    # all that stand here were marked: said once, by the name
    said = [chance_text(one, row).replace(" marked in the recording", "") for one in curves]
    seldom = sorted(range(len(curves)), key=lambda i: float(curves[i].probability[row]))[:3]
    least = [said[i] for i in seldom]
    if len(curves) > len(least):
        least.append(f"{len(curves) - len(least)} more, each at least as often")
    return [Fact(name, "; ".join(said), rank, "; ".join(least))]


def _limit(plan: SitePlan, option: Option) -> str:
    limit, is_level = option.curve.limit_within_scale, option.trigger.mode == "threshold"
    unit = plan.survey.scale.unit if is_level else "dB of change"
    asked = f"at most {plan.limit_per_day:g} a day"
    if limit is None:
        return f"which level gives {asked} cannot be said from this recording"
    shift = plan.survey.shift_db(option.trigger.mode, option.gain_db)

    def kept(level: float | None) -> str:
        # a level that the input never reads cannot be set
        return "by no known setting" if level is None else f"from {level + shift:z.1f}"

    ends = f"{kept(limit.low_db)} {unit} on"
    if limit.low_db is not None and limit.high_db is not None:
        ends = f"{limit.low_db + shift:z.1f} to {limit.high_db + shift:z.1f} {unit}"
    return (
        f"{asked}: kept {kept(limit.best_db)} by the best estimate, {kept(limit.safe_db)} with "
        f"90 % certainty; {100 * option.curve.prediction.confidence:g} % interval {ends}"
    )


# --- what it rests on ----------------------------------------------------------------------------


def _ranges(plan: SitePlan) -> tuple[Block, ...]:
    return (Shown("ranges", _RANGES),) if plan.recommended and plan.survey.wanted else ()


def _gains(plan: SitePlan) -> tuple[Block, ...]:
    head = ("gain", "to peak", "to L10", "L90 to noise", "clipped", "usable")
    rows = tuple(_gain(one, plan) for one in plan.gains)
    # whatever the answer, so that nobody takes silence for one
    tested = f"Gain control: {plan.survey.site.microphone.gain_control}"
    room = "Room from the highest sample and from L10 up to full scale, and from L90 to the noise."
    return Table(head, rows), Paragraph(f"{room} {tested} (audiolevel calibrate --steady).")


def _gain(gain: GainMargins, plan: SitePlan) -> tuple[str, ...]:
    name = f"{gain.gain_db:+g} dB"
    if gain.setting is not None:
        name += f" ({setting_name(gain.setting)})"
    usable, lost = "yes" if gain.usable else "no", plan.lost_to_clipping(gain)
    if gain.usable and lost:
        # usable for the site, yet so many wanted sounds are heard only up to full scale
        usable += f", cuts {len(lost)}"
    if plan.recommended is not None and gain is plan.recommended.gain:
        usable += ", set this"
    # estimated from a recording that had clipped itself
    about = "~" if gain.estimated else ""
    return (
        name,
        "?" if gain.headroom_db is None else f"{gain.headroom_db:z.0f} dB",
        f"{gain.headroom_l10_db:z.0f} dB",
        f"{gain.footroom_db:.0f} dB",
        "?" if isnan(gain.clipped_share) else f"{about}{percent(gain.clipped_share)}",
        usable,
    )


def _modes(plan: SitePlan) -> tuple[Block, ...]:
    rows = []
    for option in plan.choice.by_mode:
        least, caught = option.least_detected, ""
        if least is not None:
            parts = (least.probability, least.low, least.high)
            caught = chance(*(float(part[option.row]) for part in parts))
        what = trigger_words(option.trigger, option.gain_db, plan.survey.scale)
        rows.append((what, f"{option.gain_db:+g} dB", rate(option.expected), caught))
    sure = f"firings ({100 * plan.survey.confidence:g} % sure)"
    return (Table(("mode", "gain", sure, "caught least"), tuple(rows)),) if rows else ()


def _worked_out(plan: SitePlan) -> tuple[Block, ...]:
    drawn = (Shown("plan", _FIRINGS),) if plan.options else ()
    rows, levels = [], plan.survey.scale.shown
    for one in plan.survey.measurements:
        begun = "not known" if one.start is None else one.start.strftime("%Y-%m-%d %H:%M")
        told = (one.levels.lafmax_db, *(one.levels.percentiles_db[name] for name in ("L10", "L90")))
        shown = (f"{levels(level):z.1f}" for level in told)
        rows.append((one.path.name, begun, span(one.duration_s), *shown))
    head = ("recording", "began", "length", f"LAFmax, {plan.survey.scale.unit}", "L10", "L90")
    taught = points(map(evidence_line, plan.survey.evidence))
    return Paragraph(_HOW), *drawn, Table(head, tuple(rows)), *taught
