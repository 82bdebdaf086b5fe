"""The page of a plan: its document, with other settings to try, firings to hear, a record to print.

Every number that is tried comes from the plan's JSON, which the page holds; the script looks them
up and works out none (scripts/explore.js).

Entry points: `plan_page`, `record_page`.
"""

from collections.abc import Mapping
from dataclasses import replace

from audiolevel.planning.choice import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.records import Object
from audiolevel.report.document import Block, Document, Fact, Shown
from audiolevel.report.figures import Picture
from audiolevel.report.html import Html, sections, tag
from audiolevel.report.listening import LISTENING, listening_object, listening_part
from audiolevel.report.page import page, pictured
from audiolevel.report.plan.document import plan_document, set_words
from audiolevel.report.plan.record import record_document
from audiolevel.site.sections import setting_name

_SCRIPTS = ("common", *LISTENING, "curve", "explore", "record")


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
        "plan", firings and gains, and where there are sounds to place "ranges".
    """
    button = tag("button", "Print the record", type="button", id="record-print")
    # on paper only: on the screen it would say the same once more
    record = tag("div", sections(record_document(plan, name), {}), class_="record")
    shown = {**pictured(pictures), "record": tag("div", tag("p", button), record)}
    # without an option nothing fires, and nothing can be tried
    heard = listening_part(plan.survey) if plan.options else None
    if heard is not None:
        shown["listen"] = heard
    if plan.options:
        shown["explore"] = _exploring(plan)
        shown["chart"] = tag("div", id="explore-curve", class_="picture script-only")
    made, shown["choices"] = _choices(plan_document(plan, name), plan)
    return page(
        made,
        "plan",
        shown,
        data={"plan": json, "listening": listening_object(plan)},
        scripts=_SCRIPTS,
    )


def _choices(made: Document, plan: SitePlan) -> tuple[Document, Html]:
    """The document with its settings to be taken by a touch: what each does follows the handle."""
    first, *others = made.sections
    options = [plan.recommended, *plan.choice.alternatives, plan.asked]
    left = [one for one in options if one is not None]
    buttons: list[Html] = []
    blocks: list[Block] = []
    for one in first.blocks:
        # with nothing to set the fact says so, and is none to take
        nothing = plan.recommended is None and isinstance(one, Fact) and one.name == "SET"
        if nothing or not isinstance(one, Fact) or one.name not in ("SET", "OR", "ASKED FOR"):
            blocks.append(one)
            continue
        if not buttons:
            blocks += [Shown("choices"), Shown("chart")]
        buttons.append(_choice_of(left.pop(0), one, plan))
    if not buttons:
        blocks.append(Shown("chart"))
    made = replace(made, sections=(replace(first, blocks=tuple(blocks)), *others))
    return made, tag("div", buttons, class_="choices") if buttons else Html("")


def _choice_of(option: Option, fact: Fact, plan: SitePlan) -> Html:
    what = set_words(option, plan)
    is_level = option.trigger.mode == "threshold"
    at_db = option.trigger.at_db
    button = tag(
        "button",
        tag("b", fact.name),
        f" {what}",
        type="button",
        class_="choice",
        data_gain=f"{option.gain_db:g}",
        data_mode=option.trigger.mode,
        data_at=plan.survey.scale.shown(at_db, option.gain_db) if is_level else at_db,
    )
    rest = (fact.brief or fact.said).removeprefix(what)
    return tag("div", button, tag("span", rest, class_="without-script"))


def record_page(plan: SitePlan, name: str) -> str:
    """The commissioning record as one HTML file of one page."""
    return page(record_document(plan, name), "plan", {}, class_="only-record")


def _exploring(plan: SitePlan) -> Html:
    """Controls for gain, mode, level and limit."""
    gains = list(dict.fromkeys((one.gain_db, one.gain.setting) for one in plan.options))
    modes = list(dict.fromkeys(one.trigger.mode for one in plan.options))
    form = tag(
        "form",
        _choice("Gain", "gain", [(f"{db:g}", _gain_name(db, name)) for db, name in gains]),
        _choice("Trigger", "mode", [(mode, mode) for mode in modes]),
        tag(
            "div",
            tag("label", "Level or change", for_="explore-at"),
            tag("output", id="explore-at-shown", for_="explore-at"),
            tag("input", type="range", id="explore-at", min="0", step="1", name="at"),
            class_="control wide-control",
        ),
        _number("On the camera's own scale", "explore-display", "0.1") if plan.display else None,
        _number("Limit, firings a day", "explore-limit", "1"),
        tag("button", "Back to what is recommended", type="button", id="explore-back"),
        class_="controls",
        id="explore-form",
        autocomplete="off",
    )
    return tag("div", form, class_="script-only", id="explore-part")


def _gain_name(gain_db: float, setting: float | str | None) -> Html:
    # whichever way a name is written, it turns nothing beside it round
    relative = f"{gain_db:+g} dB"
    return tag("bdi", relative if setting is None else f"{setting_name(setting)} ({relative})")


def _choice(legend: str, name: str, values: list[tuple[str, Html | str]]) -> Html:
    radios = [
        tag("label", tag("input", type="radio", name=name, value=value), " ", said)
        for value, said in values
    ]
    return tag("fieldset", tag("legend", legend), radios, class_="control")


def _number(label: str, id_: str, step: str) -> Html:
    field = tag("input", type="number", id=id_, step=step, inputmode="decimal")
    said = tag("output", id=f"{id_}-said", class_="refused", for_=id_)
    return tag("div", tag("label", label, for_=id_), field, said, class_="control")
