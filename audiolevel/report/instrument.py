"""The part of a page that answers when it is touched: a chart, and controls for what is set.

What it shows comes from curves as the JSON of a plan holds them, in the page's element "plan"; the
scripts look numbers up and work out none (scripts/answers.js, scripts/curve.js).

Entry points: `controls`, `with_answers`, `explored`, `CHART`, `EXPLORING`.
"""

from collections.abc import Iterable, Sequence

from audiolevel.ground.records import Object
from audiolevel.report.html import Html, tag
from audiolevel.site.sections import setting_name

# the scripts, in their order; after those of listening, which follows the setting
EXPLORING = ("curve", "answers", "explore")
CHART = tag("div", id="explore-curve", class_="picture script-only")


def controls(
    gains: Iterable[tuple[float, float | str | None]], modes: Iterable[str], has_display: bool
) -> Html:
    """Controls for gain, mode, level and limit.

    Parameters
    ----------
    gains : iterable of (float, setting)
        In dB from the recording's, with the camera's own name; those alike are one.
    modes : iterable of str
    has_display : bool
        Whether the camera's own scale was read.
    """
    named = [(f"{db:g}", _gain_name(db, name)) for db, name in dict.fromkeys(gains)]
    form = tag(
        "form",
        _choice("Gain", "gain", named),
        _choice("Trigger", "mode", [(mode, mode) for mode in dict.fromkeys(modes)]),
        tag(
            "div",
            tag("label", "Level or change", for_="explore-at"),
            tag("output", id="explore-at-shown", for_="explore-at"),
            tag("input", type="range", id="explore-at", min="0", step="1", name="at"),
            class_="control wide-control",
        ),
        _number("On the camera's own scale", "explore-display", "0.1") if has_display else None,
        _number("Limit, firings a day", "explore-limit", "1"),
        tag("button", "Back to where it began", type="button", id="explore-back"),
        class_="controls",
        id="explore-form",
        autocomplete="off",
    )
    hours = tag("div", id="explore-hours")
    return tag("div", form, hours, class_="script-only", id="explore-part")


def with_answers(form: Html) -> Html:
    """Controls and the place of their answers, where the document itself has none."""
    return Html(f"{form}{tag('div', id='explore-facts')}")


def explored(unit: str, limit_per_day: float, tried: Sequence[tuple[Object, Object]]) -> Object:
    """What the scripts read where there is no plan: as its JSON, of options and their curves.

    The handle begins on the first.
    """
    options, curves = zip(*tried, strict=True)
    return {
        "reference": unit,
        "false_triggers_per_day_limit": limit_per_day,
        "recommended": options[0],
        "alternatives": [],
        "options": options,
        "gains": [],
        "curves": curves,
    }


def _gain_name(gain_db: float, setting: float | str | None) -> Html:
    # whichever way a name is written, it turns nothing beside it round
    relative = f"{gain_db:+g} dB"
    return tag("bdi", relative if setting is None else f"{setting_name(setting)} ({relative})")


def _choice(legend: str, name: str, values: Iterable[tuple[str, Html | str]]) -> Html:
    radios = [
        tag("label", tag("input", type="radio", name=name, value=value), " ", said)
        for value, said in values
    ]
    return tag("fieldset", tag("legend", legend), radios, class_="control")


def _number(label: str, id_: str, step: str) -> Html:
    field = tag("input", type="number", id=id_, step=step, inputmode="decimal")
    said = tag("output", id=f"{id_}-said", class_="refused", for_=id_)
    return tag("div", tag("label", label, for_=id_), field, said, class_="control")
