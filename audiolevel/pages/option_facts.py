"""One setting on a page: what to set, what it does, what it catches.

Entry points: `set_facts`, `does_facts`, `caught_table`.
"""

from audiolevel.pages.document import facts, table
from audiolevel.pages.html import Content, Html, named, tag
from audiolevel.planning.choice import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.report.plan_wording import of_ten
from audiolevel.report.text import GROUNDS, count
from audiolevel.report.wording import card_text, span
from audiolevel.site.sections import setting_name


def set_facts(option: Option, plan: SitePlan) -> Html:
    """Gain, trigger and level, with the number on the camera's own scale where it is known."""
    trigger, unit = option.trigger, plan.survey.scale.unit
    relative = (
        "as recorded" if option.gain_db == 0 else f"{option.gain_db:+g} dB against the recording"
    )
    setting = option.gain.setting
    gain: Content = relative
    if setting is not None:
        gain = [tag("b", named(setting_name(setting))), f" ({relative})"]
    rows: list[tuple[str, Content]] = [("Gain", gain), ("Trigger", tag("b", trigger.mode))]
    if trigger.mode == "threshold":
        level = plan.survey.scale.shown(trigger.at_db, option.gain_db)
        rows.append(("Level", tag("b", f"{level:g} {unit}")))
        rows.append(("On the camera's own scale", _shown(option, plan)))
    else:
        rows.append(
            ("Change", [tag("b", f"{trigger.at_db:g} dB"), f" within {trigger.window_s:g} s"])
        )
    rows.append(("Re-arm", f"{trigger.rearm_s:g} s after a firing"))
    if trigger.hold_s:
        rows.append(("Hold", f"{trigger.hold_s:g} s"))
    return facts(rows, "facts setting")


def _shown(option: Option, plan: SitePlan) -> Content:
    shown = plan.shown(option)
    if shown is None:
        return "not known yet: two readings of the camera's scale would tell it"
    return [tag("b", f"{shown.value:.3g}"), f" ± {shown.uncertainty:.2g}"]


def does_facts(option: Option, plan: SitePlan) -> Html:
    """Firings per hour and per day with their intervals, and the card."""
    one = option.expected
    sure = f"{100 * one.confidence:g} % sure"
    rows: list[tuple[str, Content]] = []
    if one.rate.best is None:
        rows.append(("A day", [tag("b", f"fewer than {count(one.rate.high)}"), f", {sure}"]))
    else:
        day = f"{count(one.rate.low)} to {count(one.rate.high)} on average"
        single = f"{count(one.count.low)} to {count(one.count.high)} on a single day"
        rows.append(("A day", [tag("b", count(one.rate.best)), f"; {sure}: {day}, {single}"]))
    if one.per_hour.best is None:
        hour: Content = f"fewer than {count(one.per_hour.high)}, {sure}"
    else:
        ends = f"{count(one.per_hour.low)} to {count(one.per_hour.high)}"
        hour = [tag("b", count(one.per_hour.best)), f"; {sure}: {ends}"]
    rows.append(("An hour like the recording's", hour))
    life = plan.card_life(option)
    if life is not None:
        rows.append(("Card", card_text(life)))
    seen = f"{GROUNDS[one.method]}; {one.seen} fired in {span(one.heard_s)} of recording"
    rows.append(("Known how", seen))
    return facts(rows)


def caught_table(option: Option) -> Html | None:
    """Each wanted and marked sound with its chance and the interval of it."""
    if not option.curve.detections:
        return None
    rows: list[list[Content]] = []
    for one in option.curve.detections:
        best, low, high = (float(part[option.row]) for part in (one.probability, one.low, one.high))
        own = one.distance_m is None
        where = "marked in the recording" if own else f"at {one.distance_m:g} m"
        words = "" if own else of_ten(best)
        bar = tag("meter", f"{best:.0%}", value=best, min="0", max="1", aria_hidden="true")
        rows.append(
            [
                [named(one.sound), " ", tag("span", where, class_="dim")],
                [bar, f" {100 * best:.0f} %"],
                f"{100 * low:.0f} to {100 * high:.0f} %",
                words,
            ]
        )
    return table(("sound", "caught", "between", "in words"), rows)
