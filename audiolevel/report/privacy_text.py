"""The review sheet for whoever decides whether audio may be switched on, section by section.

One review, said once in sentences and tables (`report.sheet` writes them).

Entry point: `review_sheet`.
"""

from collections.abc import Callable
from dataclasses import replace

from audiolevel.metering.quality import SHORT_S
from audiolevel.planning.storage import card_life_of
from audiolevel.privacy.audibility import FARTHEST_M, Caught
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.mitigation import DELETED_AFTER_DAYS, Mitigation, MitigationKind
from audiolevel.privacy.review import Review
from audiolevel.report.privacy_annex import annex_of
from audiolevel.report.privacy_wording import metres, minutes_a_day, percent, up_to
from audiolevel.report.sentences import notice_text
from audiolevel.report.sheet import RINGS, Section, Sheet, Table
from audiolevel.report.text import gain, setting
from audiolevel.report.wording import card_text, counted, mitigation_cost, mitigation_text

NO_ADVICE = (
    "This sheet informs; it is no legal advice. Whether sound may be recorded, with whose consent "
    "and what notice, differs by place: the responsible officer or counsel decides by its law."
)
_QUESTIONS = (
    "Which ways to the same purpose without sound were looked at (pictures, light, a lock, someone "
    "who passes by), and why do they not do? Functions that are not needed should be absent or "
    "switched off, sound recording among them (EDPB Guidelines 3/2019 on video devices, paragraph "
    "129):",
    "Who may listen to a recording, on what occasion, and where is that written down?",
    "Can anybody listen live, and who switches that off?",
    "Where do exports and back-ups go, who has them, and when are they deleted too?",
    "Is any voice recognised, compared or given a name, by the camera or later?",
    "Is speech written down by a program, in the camera, in a cloud or later?",
    "Are there children, and people who cannot avoid the place: residents, staff, people who wait?",
    "Do several microphones hear the same place, so that what one loses another keeps?",
    "How are people told before they come within the farther radius, and in which languages?",
    "After how many days is a recording deleted, and what justifies each of them? In most cases a "
    "few days are enough (the same Guidelines, paragraph 121):",
    "Are the seconds before the trigger needed? They record people who did not cause it:",
    "Was the sample taken at the quietest hour that the camera is on?",
)


def review_sheet(review: Review, name: str, date: str) -> Sheet:
    """The review as a sheet.

    Parameters
    ----------
    review : Review
    name : str
        Of the site.
    date : str
        As it should stand on the sheet.
    """
    # first what somebody who decides must know, to be read aloud in four minutes
    decision = [
        _in_short(review),
        _purpose(review),
        _places(review),
        _minutes(review),
        _retention(review),
        _less(review),
        _taken(review),
        _cautions(review),
        Section("Decision", points=("Reviewer:", "Date:", "Decision and conditions:")),
        # with room to write
        Section("Questions for the reviewer", points=tuple(f"{one} ______" for one in _QUESTIONS)),
    ]
    sections = [
        *decision,
        *(replace(one, title=f"Annex: {one.title}") for one in annex_of(review, date)),
    ]
    return Sheet(
        f"Review of sound recording: {name}",
        tuple(one for one in sections if one.paragraphs or one.table or one.points),
    )


# --- sections ------------------------------------------------------------------------------------


def _in_short(review: Review) -> Section:
    points = []
    # empty without a calibration, and then no distance is said
    efforts = {one.effort: one for one in review.at_gain(review.gain_db)}
    if efforts:
        normal, raised, shout = (efforts[name] for name in ("normal", "raised", "shout"))
        points += [
            f"while the camera is on a word of normal talk may be caught "
            f"{_range(normal.farthest.words_m, normal.active.words_m, up_to)} away, of a raised "
            f"voice {_range(raised.farthest.words_m, raised.active.words_m)}, of a shout "
            f"{_range(shout.farthest.words_m, shout.active.words_m)}",
            f"sentences can be followed "
            f"{_range(normal.farthest.sentences_m, normal.active.sentences_m, up_to)}, "
            f"{_range(raised.farthest.sentences_m, raised.active.sentences_m)} and "
            f"{_range(shout.farthest.sentences_m, shout.active.sentences_m)}; normal talk is not "
            f"private below {_nearer(normal.farthest.words_m)}",
        ]
        if not review.listened.everywhen:
            points.append(
                "nobody has listened in all those hours: how quiet they are is taken from real "
                "streets"
            )
    else:
        points.append("from how far talk is caught is not known: take it that everybody is heard")
    if review.recorded is not None:
        minutes = minutes_a_day(review.recorded.recorded)
        points.append(f"recorded, whoever is heard in it: {minutes}")
    if not review.plan.reliable:
        points.append("the sample does not support a reliable plan yet: see the cautions")
    return Section("In short", points=tuple(points))


def _nearer(farthest_m: float) -> str:
    """How near one may be heard, where that is known."""
    return metres(min(farthest_m, FARTHEST_M))


def _range(farthest_m: float, best_m: float, said: Callable[[float], str] = metres) -> str:
    """The farther end first; one number where there is no other."""
    far, best = metres(farthest_m), metres(best_m)
    return said(farthest_m) + ("" if far == best else f" (best estimate {best})")


def _speech_minutes(review: Review) -> str:
    recorded = review.recorded
    if recorded is not None and recorded.speech is not None:
        return minutes_a_day(recorded.speech)
    if review.share is None or review.plan.survey.duration_s < SHORT_S - 1:
        return f"not known: the sample is too short to tell ({SHORT_S / 60:.0f} min are needed)"
    return "not known: nobody has listened in all the hours in which the camera is on"


def _purpose(review: Review) -> Section:
    plan, option = review.plan, review.plan.recommended
    sounds = [wanted.sound or wanted.file for wanted in plan.survey.site.wanted]
    purpose = "Purpose: keep a recording when a sound stands out of the site's own. "
    purpose += f"Wanted: {', '.join(sounds)}." if sounds else "No wanted sound is named yet."
    if option is None:
        return Section("Purpose and what is captured", (purpose, "No setting can be planned yet."))
    storage = plan.survey.site.storage
    what = setting(option.trigger, option.gain_db, plan.survey.scale)
    caught = (
        f"Captured: at {gain(option.gain_db, option.gain.setting)}, {what}, each firing keeps all "
        f"sound from {storage.before_s:g} s before it to {storage.after_s:g} s after it, whoever "
        "is heard in it. To have the seconds before, the camera listens all the time."
    )
    return Section("Purpose and what is captured", (purpose, caught))


def _places(review: Review) -> Section:
    if not review.places:
        named = ", ".join(one.name for one in review.plan.survey.site.place)
        text = "No place is entered. Add [[place]] with a name and distance_m to the site file."
        if named:
            text = f"Not known without distances: take it that everybody is heard ({named})."
        return Section("Who could be overheard", (text,), shown_by=RINGS)
    reach = {one.effort: one.farthest.words_m for one in review.at_gain(review.gain_db)}
    rows = []
    for place in review.places:
        cells = tuple(
            f"beyond {metres(reach[e])}"
            if place.caught[e] is Caught.BEYOND
            else str(place.caught[e].value)
            for e in EFFORTS
        )
        rows.append((place.name, f"{place.distance_m:g} m", *cells))
    text = (
        "What a recording may hold of talk there, in the quietest moments the camera is on: "
        "sentences, words, or beyond where a word is caught."
    )
    head = ("place", "off", *EFFORTS)
    return Section("Who could be overheard", (text,), Table(head, tuple(rows)), shown_by=RINGS)


def _minutes(review: Review) -> Section:
    title, recorded = "Minutes a day", review.recorded
    if recorded is None:
        return Section(title, ("No setting can be planned yet, so no minutes can be given.",))
    lines = [
        f"Recorded, whoever is heard in it: {minutes_a_day(recorded.recorded)}, in clips of "
        f"{recorded.clip_s:g} s. No more speech than that is kept, whatever people do.",
        f"With audible speech in them: {_speech_minutes(review)}. A trigger that fires on people's "
        "own voices, and hours in which many are about, put more speech into those minutes.",
    ]
    return Section(title, tuple(lines))


def _retention(review: Review) -> Section:
    days = review.plan.survey.site.limits.days_kept
    text = (
        f"At least {counted(days, 'day')} {'is' if days == 1 else 'are'} wanted. Recordings stay "
        "on the card until it is full, unless the camera deletes them earlier."
    )
    option = review.plan.recommended
    card = None
    if option is not None:
        card = card_life_of(review.plan.survey.site, option.curve.prediction, option.row)
    if card is None:
        return Section("Retention", (text,))
    held = f"The card holds {card_text(card)}."
    if card.days_kept > DELETED_AFTER_DAYS:
        held += (
            f" Have them deleted after {DELETED_AFTER_DAYS:g} days, or write down why they are "
            "kept longer."
        )
    return Section("Retention", (text, held))


def _less(review: Review) -> Section:
    title = "What would capture less"
    if not review.mitigations:
        return Section(title)
    now = review.mitigations[0]
    text = "Minutes, radii and what is caught stay where a measure does not name them."
    return Section(
        title, (text,), points=tuple(_mitigation(one, now) for one in review.mitigations)
    )


def _mitigation(one: Mitigation, now: Mitigation) -> str:
    """A measure with all that it changes."""
    first, parts = one is now, []
    if one.recorded is not None and (first or one.recorded != now.recorded):
        parts.append(f"recorded {minutes_a_day(one.recorded)}")
    if one.speech is not None and (first or one.speech != now.speech):
        parts.append(f"with speech {minutes_a_day(one.speech)}")
    if one.radii is not None and (first or one.radii != now.radii):
        reach = f"a word {up_to(one.radii.words_m)}, sentences"
        reach += f" {metres(one.radii.sentences_m)}"
        # said once, with the first
        reach += " (normal voice, at most)" if first else ""
        # a sound that is not kept has no radius
        parts += [] if one.kind is MitigationKind.NO_SOUND else [reach]
    if one.detection is not None and (first or one.detection != now.detection):
        parts.append(f"least caught wanted sound {percent(one.detection)}")
    changes = "; ".join(parts)
    said = mitigation_text(one) + (f": {changes}" if changes else "")
    cost = mitigation_cost(one)
    return f"{said}. Cost: {cost}" if cost else said


def _taken(review: Review) -> Section:
    site = review.plan.survey.site
    points = []
    if site.schedule.active:
        points.append(f"active hours: {', '.join(site.schedule.active)}")
    points.append("to be filled in: notices, access, deletion, training")
    return Section("Measures taken", points=tuple(points))


def _cautions(review: Review) -> Section:
    points = [f"{one.code}: {notice_text(one)}" for one in review.warnings]
    return Section("Cautions", (NO_ADVICE,), points=tuple(points))
