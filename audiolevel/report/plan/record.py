"""The commissioning record: one page that stays with whoever is responsible for the camera.

Entry point: `record_document`.
"""

from datetime import date

from audiolevel.planning.plan import SitePlan
from audiolevel.report.document import Document, Fact, Paragraph, Points, Section, document
from audiolevel.report.plan.document import set_words
from audiolevel.report.words.cautions import advice_text
from audiolevel.report.words.quantities import chance, counted, span
from audiolevel.report.words.settings import card_days, expected

_BLANK = "_" * 24
# what narrows a plan, in the order in which a next visit would be planned
_NEXT = ("narrows most", "hours not heard", "follow up")
# of people's speech, to be decided by whoever is responsible
_MEASURES = (
    "notice put up",
    "privacy review signed (audiolevel privacy)",
    "recordings deleted after ____ days",
    f"who may listen: {_BLANK}",
)


def record_document(plan: SitePlan, name: str) -> Document:
    """What was set, what is expected of it and what is missed, with room for a signature."""
    next_visit = [advice_text(one) for code in _NEXT for one in plan.advice if one.code == code]
    without = (
        "once something has changed: nothing is set yet"
        if plan.recommended is None
        else "after a day or two, with the camera's log"
    )
    site = (
        Fact("Site", name),
        Fact("Recorded", _recorded(plan)),
        Fact("Calibration", _calibration(plan)),
        Fact("Date set, and by", _BLANK),
    )
    sections = [
        Section("The site", site, lead=True),
        Section("What was set", _set(plan)),
        Section("People's speech", (Points(tuple(f"☐ {one}" for one in _MEASURES)),)),
        Section("Next visit", (Points(tuple(next_visit) or (without,)),)),
        Section("Signature", (Fact("Date and signature", _BLANK),)),
    ]
    return document(f"Commissioning record: {name}", "", sections)


def _set(plan: SitePlan) -> tuple[Fact | Paragraph, ...]:
    option = plan.recommended
    if option is None:
        return (Paragraph("Nothing could be recommended, so nothing is recorded as set."),)
    trigger = option.trigger
    hold = f", hold {trigger.hold_s:g} s" if trigger.hold_s else ""
    facts = [
        Fact("Set", set_words(option, plan)),
        Fact("Re-arm", f"{trigger.rearm_s:g} s after a firing{hold}"),
        Fact("Set otherwise, and why", _BLANK),
        Fact("Expected", expected(option.expected)),
    ]
    life = plan.card_life(option)
    facts += [] if life is None else [Fact("Card", card_days(life))]
    missed = []
    for one in option.curve.detections:
        if one.distance_m is not None:
            # what is not caught; the ends change places
            ends = (float(part[option.row]) for part in (one.probability, one.high, one.low))
            missed.append(
                f"{one.sound} at {one.distance_m:g} m {chance(*(1 - end for end in ends))}"
            )
    said = "; ".join(missed) or "not known: no wanted sound is named"
    return (*facts, Fact("Missed", said))


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
