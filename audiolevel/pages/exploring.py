"""The part of a plan's page in which other settings are tried.

Every number comes from the plan's JSON, which the page holds; the script looks them up and works
out none (explore.js).

Entry point: `exploring_section`.
"""

from audiolevel.pages.document import section
from audiolevel.pages.html import Html, named, tag
from audiolevel.planning.plan import SitePlan
from audiolevel.site.sections import setting_name


def exploring_section(plan: SitePlan) -> Html | None:
    """Controls for gain, mode, level and limit, and where the answers appear.

    Returns
    -------
    Html or None
        None where the plan has no option to try.
    """
    if not plan.options:
        return None
    gains = list(dict.fromkeys((one.gain_db, one.gain.setting) for one in plan.options))
    modes = list(dict.fromkeys(one.trigger.mode for one in plan.options))
    shown = plan.display is not None
    return section(
        "explore",
        "Try another setting",
        tag("p", "This needs the page's script, which is switched off.", class_="without-script"),
        tag(
            "form",
            _choice("Gain", "gain", [(f"{db:g}", _gain_name(db, name)) for db, name in gains]),
            _choice("Trigger", "mode", [(mode, mode) for mode in modes]),
            tag(
                "div",
                tag("label", "Level or change", for_="explore-at"),
                tag("input", type="range", id="explore-at", min="0", step="1", name="at"),
                tag("output", id="explore-at-shown", for_="explore-at"),
                class_="control wide-control",
            ),
            _number("On the camera's own scale", "explore-display", "0.1") if shown else None,
            _number("Limit, firings a day", "explore-limit", "1"),
            tag("button", "Back to what is recommended", type="button", id="explore-back"),
            class_="controls script-only",
            id="explore-form",
            autocomplete="off",
        ),
        tag(
            "div",
            tag("div", id="explore-answers", aria_live="polite"),
            tag("div", id="explore-curve", class_="picture"),
            class_="side-by-side script-only",
        ),
    )


def _gain_name(gain_db: float, setting: float | str | None) -> Html:
    return named(
        f"{gain_db:+g} dB" if setting is None else f"{setting_name(setting)} ({gain_db:+g} dB)"
    )


def _choice(legend: str, name: str, values: list[tuple[str, Html | str]]) -> Html:
    radios = [
        tag("label", tag("input", type="radio", name=name, value=value), " ", said)
        for value, said in values
    ]
    return tag("fieldset", tag("legend", legend), radios, class_="control")


def _number(label: str, id_: str, step: str) -> Html:
    field = tag("input", type="number", id=id_, step=step, inputmode="decimal")
    return tag("div", tag("label", label, for_=id_), field, class_="control")
