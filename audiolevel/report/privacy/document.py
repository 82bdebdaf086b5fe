"""The review sheet for whoever decides whether audio may be switched on, section by section.

Entry points: `review_document`, `review_page`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from audiolevel.metering.quality import SHORT_S
from audiolevel.planning.storage import card_life_of
from audiolevel.privacy.audibility import FARTHEST_M, Caught
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.mitigation import DELETED_AFTER_DAYS, Mitigation, MitigationKind
from audiolevel.privacy.review import Review
from audiolevel.report.document import (
    Block,
    Document,
    Fact,
    Paragraph,
    Points,
    Section,
    Shown,
    Table,
    cautions,
    document,
    points,
)
from audiolevel.report.figures import Picture
from audiolevel.report.page import page, pictured
from audiolevel.report.plan.document import set_words
from audiolevel.report.privacy.annex import annex_of
from audiolevel.report.words.decisions import mitigation_cost, mitigation_text
from audiolevel.report.words.quantities import counted, metres, minutes_a_day, percent, up_to
from audiolevel.report.words.settings import card_text

_RINGS = (
    "Within a ring a voice of that effort may be caught while the camera is on, at the farther end "
    "of what is not known, in the open; the scale is logarithmic, and directions mean nothing."
)
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


def review_document(review: Review, name: str, date: str, *, planned: bool = False) -> Document:
    """The review as a document.

    Parameters
    ----------
    review : Review
    name : str
        Of the site.
    date : str
        As it should stand on the sheet.
    planned : bool
        Whether it speaks of a plan that was made before.
    """
    # first what somebody who decides must know, to be read aloud in four minutes
    decision = [
        Section("In short", _in_short(review, planned=planned), lead=True),
        Section("Purpose and what is captured", _purpose(review)),
        Section("Who could be overheard", _places(review)),
        Section("Minutes a day", _minutes(review)),
        Section("Retention", _retention(review)),
        Section("What would capture less", _less(review)),
        Section("Measures taken", _taken(review)),
        cautions(review.warnings, Paragraph(NO_ADVICE, 2)),
        Section("Decision", points(("Reviewer:", "Date:", "Decision and conditions:"))),
        # with room to write
        Section("Questions for the reviewer", points(f"{one} ______" for one in _QUESTIONS)),
    ]
    annex = [replace(one, title=f"Annex: {one.title}") for one in annex_of(review, date)]
    return document(f"Review of sound recording: {name}", date, [*decision, *annex])


def review_page(made: Document, pictures: Mapping[str, Picture]) -> str:
    """A review as one HTML file."""
    return page(made, "privacy", pictured(pictures))


# --- sections ------------------------------------------------------------------------------------


def _in_short(review: Review, *, planned: bool) -> tuple[Block, ...]:
    facts = []
    if any(one.verdict == "farther" for one in review.walked):
        said = "more was understood than computed: take every distance on this sheet as too near"
        facts.append(Fact("WALK TEST", said, 0))
    option = review.plan.recommended
    what = "nothing is set" if option is None else set_words(option, review.plan)
    whose = "of the plan" if planned else "planned anew from these recordings (--plan PLAN.json)"
    facts.append(Fact("for", f"{what}; {whose}", 0))
    # empty without a calibration, and then no distance is said
    efforts = {one.effort: one for one in review.at_gain(review.gain_db)}
    if efforts:
        normal, raised, shout = (efforts[name] for name in ("normal", "raised", "shout"))
        each = [(one.farthest, one.active) for one in (normal, raised, shout)]
        of_word, to_follow = (
            [_range(getattr(far, what), getattr(best, what)) for far, best in each]
            for what in ("words_m", "sentences_m")
        )
        words = (
            f"while the camera is on a word of normal talk may be caught {of_word[0]} away, of a "
            f"raised voice {of_word[1]}, of a shout {of_word[2]}"
        )
        least_m = metres(min(normal.farthest.words_m, FARTHEST_M))
        followed = _each(to_follow)
        sentences = f"can be followed {followed}; normal talk is not private below {least_m}"
        facts += [Fact("a word", words, 0), Fact("sentences", sentences, 1)]
        if not review.listened.everywhen:
            said = (
                "nobody has listened in all those hours: how quiet they are is taken from real "
                "streets"
            )
            facts.append(Fact("but", said, 2))
    else:
        said = "from how far talk is caught is not known: take it that everybody is heard"
        facts.append(Fact("a word", said, 0))
    if review.recorded is not None:
        minutes = minutes_a_day(review.recorded.recorded)
        facts.append(Fact("recorded", f"whoever is heard in it: {minutes}", 1))
    if not review.plan.reliable:
        said = "the sample does not support a reliable plan yet: see the cautions"
        facts.append(Fact("not sure", said, 2))
    return tuple(facts)


def _range(farthest_m: float, best_m: float) -> str:
    """The farther end first; one number where there is no other."""
    far, best = metres(farthest_m), metres(best_m)
    return up_to(farthest_m) + ("" if far == best else f" (best estimate {best})")


def _speech_minutes(review: Review) -> str:
    recorded = review.recorded
    if recorded is not None and recorded.speech is not None:
        return minutes_a_day(recorded.speech)
    if review.share is None or review.plan.survey.duration_s < SHORT_S - 1:
        return f"not known: the sample is too short to tell ({SHORT_S / 60:.0f} min are needed)"
    return "not known: nobody has listened in all the hours in which the camera is on"


def _purpose(review: Review) -> tuple[Block, ...]:
    plan, option = review.plan, review.plan.recommended
    sounds = [wanted.sound or wanted.file for wanted in plan.survey.site.wanted]
    purpose = "Purpose: keep a recording when a sound stands out of the site's own. "
    purpose += f"Wanted: {', '.join(sounds)}." if sounds else "No wanted sound is named yet."
    if option is None:
        return Paragraph(purpose), Paragraph("No setting can be planned yet.")
    storage = plan.survey.site.storage
    caught = (
        f"Captured: at {set_words(option, plan)}, each firing keeps all sound from "
        f"{storage.before_s:g} s before it to {storage.after_s:g} s after it, whoever is heard in "
        "it. To have the seconds before, the camera listens all the time."
    )
    return Paragraph(purpose), Paragraph(caught)


def _places(review: Review) -> tuple[Block, ...]:
    rings = Shown("rings", _RINGS)
    if not review.places:
        named = ", ".join(one.name for one in review.plan.survey.site.place)
        text = "No place is entered. Add [[place]] with a name and distance_m to the site file."
        if named:
            text = f"Not known without distances: take it that everybody is heard ({named})."
        return Paragraph(text), rings
    reach = {one.effort: one.farthest.words_m for one in review.at_gain(review.gain_db)}
    rows = []
    for place in review.places:
        cells = (
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
    return Paragraph(text), Table(("place", "off", *EFFORTS), tuple(rows), 6), rings


def _each(reaches: Sequence[str]) -> str:
    """How far normal talk, a raised voice and a shout reach, said once where it is one."""
    if len(set(reaches)) == 1:
        return f"{reaches[0]}, however loud"
    return "{} as normal talk, {} raised, {} shouted".format(*reaches)


def _minutes(review: Review) -> tuple[Block, ...]:
    recorded = review.recorded
    if recorded is None:
        return (Paragraph("No setting can be planned yet, so no minutes can be given."),)
    lines = (
        f"Recorded, whoever is heard in it: {minutes_a_day(recorded.recorded)}, in clips of "
        f"{recorded.clip_s:g} s. No more speech than that is kept, whatever people do.",
        f"With audible speech in them: {_speech_minutes(review)}. A trigger that fires on people's "
        "own voices, and hours in which many are about, put more speech into those minutes.",
    )
    return tuple(map(Paragraph, lines))


def _retention(review: Review) -> tuple[Block, ...]:
    wanted_days = review.plan.survey.site.limits.days_kept
    text = (
        f"At least {counted(wanted_days, 'day')} {'is' if wanted_days == 1 else 'are'} wanted. "
        "Recordings stay on the card until it is full, unless the camera deletes them earlier."
    )
    option = review.plan.recommended
    card = None
    if option is not None:
        card = card_life_of(review.plan.survey.site, option.curve.prediction, option.row)
    if card is None:
        return (Paragraph(text),)
    held = f"The card holds {card_text(card)}."
    if card.days_kept > DELETED_AFTER_DAYS:
        held += (
            f" Have them deleted after {DELETED_AFTER_DAYS:g} days, or write down why they are "
            "kept longer."
        )
    return Paragraph(text), Paragraph(held)


def _less(review: Review) -> tuple[Block, ...]:
    if not review.mitigations:
        return ()
    now = review.mitigations[0]
    text = "Minutes, radii and what is caught stay where a measure does not name them."
    said = tuple(_mitigation(one, now) for one in review.mitigations)
    return Paragraph(text), Points(said[:1]), Points(said[1:], "less", 4)


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


def _taken(review: Review) -> tuple[Block, ...]:
    active = review.plan.survey.site.schedule.active
    hours = [f"active hours: {', '.join(active)}"] if active else []
    return points([*hours, "to be filled in: notices, access, deletion, training"])
