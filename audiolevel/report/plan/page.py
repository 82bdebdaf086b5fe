"""The page of a plan: its document, with other settings to try, firings to hear, a record to print.

Every number that is tried comes from the plan's JSON, which the page holds; the script looks them
up and works out none (scripts/answers.js).

Entry points: `plan_page`, `record_page`.
"""

from collections.abc import Mapping
from dataclasses import replace

from audiolevel.ground.records import Object
from audiolevel.planning.option import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.report.document import Block, Document, Fact, Shown
from audiolevel.report.figures import Picture
from audiolevel.report.html import Html, sections, tag
from audiolevel.report.instrument import CHART, EXPLORING, controls
from audiolevel.report.listening import LISTENING, listening_object, listening_part
from audiolevel.report.page import page, pictured
from audiolevel.report.plan.document import plan_document, set_words
from audiolevel.report.plan.record import record_document

_SCRIPTS = ("common", *LISTENING, *EXPLORING, "record")


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
        gains = ((one.gain_db, one.gain.setting) for one in plan.options)
        modes = (one.trigger.mode for one in plan.options)
        shown |= {"chart": CHART, "explore": controls(gains, modes, plan.display is not None)}
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
    shift = plan.survey.shift_db(option.trigger.mode, option.gain_db)
    button = tag(
        "button",
        tag("b", fact.name),
        f" {what}",
        type="button",
        class_="choice",
        data_gain=f"{option.gain_db:g}",
        data_mode=option.trigger.mode,
        data_at=option.trigger.at_db + shift,
    )
    rest = (fact.brief or fact.said).removeprefix(what)
    return tag("div", button, tag("span", rest, class_="without-script"))


def record_page(plan: SitePlan, name: str) -> str:
    """The commissioning record as one HTML file of one page."""
    return page(record_document(plan, name), "plan", {}, class_="only-record")
