"""The commissioning record: one page that stays with whoever is responsible for the camera.

Entry points: `record_page`, `record_content`.
"""

from datetime import date

from audiolevel.pages.document import document, facts
from audiolevel.pages.html import Content, Html, named, tag
from audiolevel.pages.option_facts import does_facts, set_facts
from audiolevel.planning.choice import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.report.plan_wording import advice_text
from audiolevel.report.wording import counted, span

# what narrows a plan, in the order in which a next visit would be planned
_NEXT = ("narrows most", "hours not heard", "follow up")
# of people's speech, to be decided by whoever is responsible
_MEASURES = (
    "notice put up",
    "privacy review signed (audiolevel privacy)",
    "recordings deleted after ____ days",
    "who may listen: ________________",
)


def record_page(plan: SitePlan, name: str) -> str:
    """The commissioning record as one HTML file of one page."""
    return document(
        f"Commissioning record: {name}",
        tag("section", record_content(plan, name), class_="record"),
        command="plan",
        class_="only-record",
    )


def record_content(plan: SitePlan, name: str) -> Html:
    """What was set, what is expected of it and what is missed, with room for a signature."""
    option = plan.recommended
    rows: list[tuple[str, Content]] = [("Site", named(name)), ("Recorded", _recorded(plan))]
    rows += [("Calibration", _calibration(plan)), ("Date set", _blank()), ("Set by", _blank())]
    body: list[Content] = [facts(rows, "facts record-head")]
    if option is None:
        body.append(tag("p", "Nothing could be recommended, so nothing is recorded as set."))
    else:
        body += [tag("h3", "Set"), set_facts(option, plan)]
        body += [tag("p", "Set otherwise, and why: ", _blank())]
        body += [tag("h3", "Expected"), does_facts(option, plan)]
        body += [tag("h3", "Missed"), _missed(option)]
    measures = [tag("li", f"☐ {one}") for one in _MEASURES]
    body += [tag("h3", "People's speech"), tag("ul", measures, class_="ticks")]
    body += [tag("h3", "Next visit"), tag("ul", [tag("li", one) for one in _next(plan)])]
    body.append(tag("p", "Date and signature ", _blank(), class_="signature"))
    button = tag("button", "Print the record", type="button", id="record-print")
    return tag("div", tag("p", button, class_="script-only"), *body)


def _blank() -> Html:
    return tag("span", " ", class_="blank")


def _recorded(plan: SitePlan) -> str:
    starts = sorted(one.start for one in plan.survey.measurements if one.start is not None)
    recordings = counted(len(plan.survey.measurements), "recording")
    heard = f"{span(plan.survey.duration_s)} in {recordings}"
    if not starts:
        return f"{heard}; when is not known"
    first, last = (f"{one:%Y-%m-%d %H:%M}" for one in (starts[0], starts[-1]))
    return f"{heard}, {first}" if first == last else f"{heard}, {first} to {last}"


def _calibration(plan: SitePlan) -> str:
    microphone = plan.survey.site.microphone
    if microphone.spl_at_full_scale_db is None:
        return "none: levels are dB FS, and nothing is said in sound pressure"
    within = microphone.calibration_within_db
    sure = "" if within is None else f" ± {within:g} dB"
    said = f"{microphone.spl_at_full_scale_db:g} dB SPL at full scale{sure}"
    return f"{said}, {_age(microphone.calibrated_on, plan)}"


def _age(calibrated_on: date | None, plan: SitePlan) -> str:
    if calibrated_on is None:
        return "on which day is not known (microphone.calibrated_on)"
    starts = [one.start for one in plan.survey.measurements if one.start is not None]
    if not starts:
        return f"of {calibrated_on:%Y-%m-%d}"
    # by the last recording, not by the day on which this page is made: it must not change
    old = (max(starts).date() - calibrated_on).days
    if old < 0:
        return f"of {calibrated_on:%Y-%m-%d}, {counted(-old, 'day')} after the recording"
    return f"of {calibrated_on:%Y-%m-%d}, {counted(old, 'day')} old when the site was recorded"


def _missed(option: Option) -> Html:
    placed = [one for one in option.curve.detections if one.distance_m is not None]
    if not placed:
        return tag("p", "No wanted sound is named, so what is missed is not known.")
    said = []
    for one in placed:
        # what is not caught; the ends change places
        best, low, high = (
            100 * (1 - float(part[option.row])) for part in (one.probability, one.high, one.low)
        )
        where = f"{one.sound} at {one.distance_m:g} m"
        said.append(tag("li", named(where), f": {best:.0f} of 100 ({low:.0f} to {high:.0f})"))
    return tag("ul", said)


def _next(plan: SitePlan) -> list[str]:
    found = [one for code in _NEXT for one in plan.advice if one.code == code]
    return [advice_text(one) for one in found] or ["after a day or two, with the camera's log"]
