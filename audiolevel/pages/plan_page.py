"""The page of a plan: decide, listen, hand over.

In the order in which an installer asks: what to set, what will happen, what it catches, what else
could be set, what is wrong with the sample, what would narrow it; then to try other settings and to
listen; then cautions and how it was worked out.

Entry point: `plan_page`.
"""

from collections.abc import Mapping

from audiolevel.pages.document import document, picture, section, table
from audiolevel.pages.exploring import exploring_section
from audiolevel.pages.html import Content, Html, named, tag
from audiolevel.pages.listening import LISTENING, listening_object, listening_section
from audiolevel.pages.option_facts import caught_table, does_facts, set_facts
from audiolevel.pages.record_page import record_content
from audiolevel.planning.plan import SitePlan
from audiolevel.records import Object
from audiolevel.report.cautions import CAUTIONS_ON_SITE
from audiolevel.report.figures import Picture
from audiolevel.report.plan_wording import (
    advice_text,
    by_part_lines,
    evidence_line,
    hours_a_day,
    hours_not_heard,
    reason,
)
from audiolevel.report.sentences import notice_text
from audiolevel.report.text import count
from audiolevel.report.wording import percent, span
from audiolevel.site.sections import setting_name

_SCRIPTS = ("common", *LISTENING, "explore", "record")
_LINKS = (
    ("set", "Set"),
    ("expect", "Expect"),
    ("catches", "Catches"),
    ("fork", "Or instead"),
    ("sample", "The sample"),
    ("narrow", "What would help"),
    ("explore", "Try another"),
    ("listen", "Listen"),
    ("cautions", "Cautions"),
    ("computed", "How"),
    ("record", "Record"),
)


def plan_page(plan: SitePlan, name: str, json: Object, pictures: Mapping[str, Picture]) -> str:
    """A plan as one HTML file.

    Parameters
    ----------
    plan : SitePlan
    name : str
        Of the site, or of its recordings.
    json : object
        The plan's JSON, which the page's script reads.
    pictures : mapping of str to Picture
        "plan", firings and gains, and where there are sounds to place "ranges", the chance of
        detection against distance.
    """
    survey = plan.survey
    # in the order in which they are asked for
    parts: dict[str, Html | None] = {
        "set": _set(plan),
        "expect": _expect(plan),
        "catches": _catches(plan, pictures.get("ranges")),
        "fork": _fork(plan),
        "sample": _sample(plan),
        "narrow": _narrow(plan),
        "explore": exploring_section(plan),
        # without an option nothing fires
        "listen": listening_section(survey) if plan.options else None,
        "cautions": _cautions(),
        "computed": _computed(plan, pictures["plan"]),
        "record": section(
            "record", "Commissioning record", record_content(plan, name), class_="record"
        ),
    }
    links = [tag("a", said, href=f"#{part}") for part, said in _LINKS if parts[part] is not None]
    return document(
        f"Plan for {name}",
        tag("p", f"{span(survey.duration_s)} heard; levels in {survey.scale.unit}", class_="under"),
        tag("nav", links, aria_label="parts of this page"),
        *parts.values(),
        command="plan",
        data={"plan": json, "listening": listening_object(plan)},
        scripts=_SCRIPTS,
    )


def _set(plan: SitePlan) -> Html:
    option, why = plan.recommended, tag("p", f"{reason(plan)}.")
    if option is None:
        return section("set", "Set nothing yet", why, class_="lead")
    first = None
    if plan.choice.case == "neither":
        first = tag("p", f"Nothing keeps the limit of {plan.limit_per_day:g} a day.", class_="warn")
    unsure = None
    if not plan.reliable:
        said = "Not reliable yet: a place to start from. What is wrong with the sample is below."
        unsure = tag("p", said, class_="warn")
    return section("set", "Set this", first, set_facts(option, plan), why, unsure, class_="lead")


def _expect(plan: SitePlan) -> Html | None:
    option = plan.recommended
    if option is None:
        return None
    more: list[Content] = []
    windows = plan.survey.site.schedule.active
    if windows:
        said = f"A day counts the active hours alone: {'; '.join(windows)}"
        more.append(tag("p", f"{said} ({hours_a_day(windows)})."))
    prediction = option.curve.prediction
    if prediction.by_hour is not None and prediction.hours_not_heard:
        more.append(tag("p", f"{hours_not_heard(prediction.hours_not_heard)}."))
    if option.curve.by_part is not None and option.curve.by_part.pays:
        shift, unit = 0.0, "dB of change"
        if option.trigger.mode == "threshold":
            shift, unit = plan.survey.scale.shown(0.0, option.gain_db), plan.survey.scale.unit
        lines = by_part_lines(option.curve.by_part.shifted(shift), unit)
        more += [tag("h3", "By part of the day"), tag("ul", [tag("li", one) for one in lines])]
    return section("expect", "What will happen", does_facts(option, plan), *more)


def _catches(plan: SitePlan, ranges: Picture | None) -> Html | None:
    option = plan.recommended
    if option is None:
        return None
    if not option.curve.detections:
        said = (
            "No wanted sound is named and none is marked, so nothing can be said of what it "
            "catches. Name them in the site file under [[wanted]], or label firings below."
        )
        return section("catches", "What it will catch", tag("p", said))
    shown = None
    if ranges is not None:
        caption = (
            "How often each sound is caught, by its distance. A triangle marks the distance asked "
            "for; a band is what is not known of the sound's level, and chance."
        )
        shown = picture(ranges, "ranges", caption)
    heard = [tag("li", evidence_line(one)) for one in plan.survey.evidence]
    taught = [tag("h3", "What the marked sounds teach"), tag("ul", heard)] if heard else []
    return section("catches", "What it will catch", caught_table(option), shown, *taught)


def _fork(plan: SitePlan) -> Html | None:
    both: list[Content] = []
    for other in plan.choice.alternatives:
        said = (
            "No setting keeps the limit and catches enough. This one catches enough and fires "
            "more often: choose which matters more."
        )
        both += [tag("p", said), set_facts(other, plan)]
        both += [does_facts(other, plan), caught_table(other)]
    if plan.asked is not None:
        both += [tag("h3", "Asked for"), set_facts(plan.asked, plan)]
        both += [does_facts(plan.asked, plan), caught_table(plan.asked)]
    if not both:
        return None
    heading = "Or instead" if plan.choice.alternatives else "Asked for"
    return section("fork", heading, *both)


def _sample(plan: SitePlan) -> Html:
    said = [tag("li", tag("b", one.code), ": ", named(notice_text(one))) for one in plan.warnings]
    content = tag("ul", said, class_="warn") if said else tag("p", "Nothing that was found.")
    return section("sample", "What is wrong with the sample", content)


def _narrow(plan: SitePlan) -> Html | None:
    if not plan.advice:
        return None
    said = [tag("li", named(advice_text(one))) for one in plan.advice]
    return section("narrow", "What would help most", tag("ul", said))


def _cautions() -> Html:
    return section(
        "cautions", "Before you climb", tag("ul", [tag("li", one) for one in CAUTIONS_ON_SITE])
    )


def _computed(plan: SitePlan, drawn: Picture) -> Html:
    shown = None
    if plan.options:
        caption = (
            "Left: firings a day against the setting, with their interval; right: the room that "
            "each gain leaves between the noise and full scale."
        )
        shown = picture(drawn, "firings", caption)
    how = (
        "Levels follow IEC 61672-1 (A-weighting, time weighting F). Every setting is run over the "
        "levels of the recording at every gain; what lies above the loudest sound heard is worked "
        "out from how loud sounds thin out. The intervals hold how few were heard, how hours and "
        "days differ, and wet roads."
    )
    return section(
        "computed",
        "How this was worked out",
        tag("p", how),
        shown,
        tag("h3", "Each gain"),
        _gain_table(plan),
        *_mode_table(plan),
        tag("h3", "What was heard"),
        _heard_table(plan),
    )


def _gain_table(plan: SitePlan) -> Html:
    rows: list[list[Content]] = []
    for gain in plan.gains:
        chosen = plan.recommended is not None and gain is plan.recommended.gain
        setting = "" if gain.setting is None else f"{setting_name(gain.setting)}: "
        peak = "not known" if gain.headroom_db is None else f"{gain.headroom_db:z.0f} dB"
        clipped = (
            "not known" if gain.clipped_share != gain.clipped_share else percent(gain.clipped_share)
        )
        usable = "yes" if gain.usable else "no"
        rows.append(
            [
                named(f"{setting}{gain.gain_db:+g} dB"),
                peak,
                f"{gain.headroom_l10_db:z.0f} dB",
                f"{gain.footroom_db:z.0f} dB",
                clipped,
                f"{usable}, set this" if chosen else usable,
            ]
        )
    head = ("gain", "above the peak", "above L10", "L90 above noise", "clipped", "usable")
    return table(head, rows)


def _mode_table(plan: SitePlan) -> list[Html]:
    if not plan.choice.by_mode:
        return []
    rows: list[list[Content]] = []
    for option in plan.choice.by_mode:
        rate = option.expected.rate
        best = "fewer than" if rate.best is None else f"{count(rate.best)}; "
        between = (
            count(rate.high) if rate.best is None else f"{count(rate.low)} to {count(rate.high)}"
        )
        at_db = option.trigger.at_db
        if option.trigger.mode == "threshold":
            at_db = plan.survey.scale.shown(at_db, option.gain_db)
        least = option.least_detected
        caught = "" if least is None else f"{100 * least.probability[option.row]:.0f} %"
        rows.append(
            [
                option.trigger.mode,
                f"{at_db:g} dB",
                f"{option.gain_db:+g} dB",
                f"{best} {between}",
                caught,
            ]
        )
    sure = f"firings a day ({100 * plan.survey.confidence:g} % of the rate)"
    head = ("mode", "at", "gain", sure, "caught least")
    return [tag("h3", "Each mode at its best"), table(head, rows)]


def _heard_table(plan: SitePlan) -> Html:
    rows: list[list[Content]] = []
    for one in plan.survey.measurements:
        begun = "not known" if one.start is None else one.start.strftime("%Y-%m-%d %H:%M")
        levels = plan.survey.scale.shown
        loudest = f"{levels(one.levels.lafmax_db):z.1f} {plan.survey.scale.unit}"
        l90, l10 = (f"{levels(one.levels.percentiles_db[name]):z.1f}" for name in ("L90", "L10"))
        rows.append([named(one.path.name), begun, span(one.duration_s), loudest, l10, l90])
    return table(("recording", "began", "length", "LAFmax", "L10", "L90"), rows)
