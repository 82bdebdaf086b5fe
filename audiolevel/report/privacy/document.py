"""The review sheet for whoever decides whether audio may be switched on, section by section.

Entry point: `review_document`.
"""

from dataclasses import replace
from math import isnan

from audiolevel.metering.quality import SHORT_S
from audiolevel.privacy.audibility import Caught
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.mitigation import DELETED_AFTER_DAYS, Mitigation, MitigationKind
from audiolevel.privacy.review import Review
from audiolevel.report.document import (
    WHOLE,
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
)
from audiolevel.report.plan.document import set_words
from audiolevel.report.privacy.annex import annex_of
from audiolevel.report.words.decisions import mitigation_cost, mitigation_text
from audiolevel.report.words.quantities import (
    counted,
    metres,
    minutes_a_day,
    most_minutes,
    percent,
    short,
    up_to,
)
from audiolevel.report.words.settings import card_text

_RINGS = (
    "Within a ring a voice of that effort may be caught while the camera is on, at the farther end "
    "of what is not known, in the open; the scale is logarithmic, and directions mean nothing."
)
NO_ADVICE = (
    "This sheet informs; it is no legal advice. Whether sound may be recorded, with whose consent "
    "and what notice, differs by place: the responsible officer or counsel decides by its law."
)


# of a setting that no plan was given for
ANEW = "planned anew from these recordings (--plan PLAN.json)"


def review_document(review: Review, name: str, date: str, whose: str = ANEW) -> Document:
    """The review as a document.

    Parameters
    ----------
    review : Review
    name : str
        Of the site.
    date : str
        As it should stand on the sheet.
    whose : str
        Where its setting comes from, in words.
    """
    # what somebody who decides must know stands first, on one screen
    decision = [
        Section("In short", _in_short(review), lead=True),
        Section("Purpose and what is captured", _purpose(review)),
        Section("Who could be overheard", _places(review)),
        Section("Minutes a day", (*_minutes(review), Shown("chart")), "set"),
        Section("What another setting would record", (Shown("explore"),), "explore"),
        Section("Retention", _retention(review)),
        Section("What would capture less", _less(review)),
        cautions(review.warnings, Paragraph(NO_ADVICE), rank=WHOLE),
    ]
    annex = [
        replace(one, title=f"Annex: {one.title}", folded=True) for one in annex_of(review, date)
    ]
    under = f"{date}; the setting is {whose}"
    return document(f"Review of sound recording: {name}", under, [*decision, *annex])


# --- sections ------------------------------------------------------------------------------------


def _in_short(review: Review) -> tuple[Block, ...]:
    """Five sentences and a table: a test holds them to 120 words and 10 numbers."""
    facts: list[Block] = []
    if any(one.verdict == "farther" for one in review.walked):
        said = "more was understood than computed; all distances are scaled by it"
        facts.append(Fact("WALK TEST", said, 0))
    efforts = [one for one in review.at_gain(review.gain_db) if one.effort in _SHOWN]
    said = "from how far talk is caught is not known: take it that everybody is heard"
    if efforts:
        said = "while the camera is on, a word may be caught this far off"
    facts.append(Fact("heard", said, 0))
    if efforts:
        rows = [(e.effort, metres(e.farthest.words_m), metres(e.active.words_m)) for e in efforts]
        facts.append(Table(("voice", "at most", "best estimate"), tuple(rows), 0))
    if review.recorded is not None:
        most = f"{most_minutes(review.recorded.most)} of a day, whoever is heard"
        facts.append(Fact("recorded", f"at most {most}", 0))
    best = [f"{mitigation_text(one)} (cost: {_cost(one)})" for one in _best(review)]
    facts += [Fact("do", "; or ".join(best), 0)] if best else []
    facts += [Fact("not known", "; ".join(_not_known(review)), 0)]
    within = [short(one.name, 24) for one in review.places if one.within]
    if len(within) > 3:
        within = [*within[:2], f"{len(within) - 2} more places"]
    whom = f", {', '.join(within)} included" if within else ""
    asked = (
        "counsel, whether the law allows it (this is no legal advice); everyone within reach"
        f"{whom}, whether they agree"
    )
    return (*facts, Fact("ask", asked, 0))


# what takes of the wanted sounds what nobody has worked out
_WEAKENING = (MitigationKind.LOW_PASS, MitigationKind.TURNED_AWAY)
# a whisper to a shout would be more than one screen
_SHOWN = ("normal", "raised", "shout")


def _cost(one: Mitigation) -> str:
    return mitigation_cost(one) or "none"


def _best(review: Review) -> list[Mitigation]:
    """What stores no sound, and of the others what captures least and loses no wanted sound."""
    if not review.mitigations:
        return []
    now, *others = review.mitigations

    def left(one: Mitigation) -> float:
        """What is left of the minutes, or of the distance."""
        parts = [1.0]
        if one.radii is not None and now.radii is not None:
            parts.append(one.radii.words_m / max(now.radii.words_m, 0.1))
        if one.recorded is not None and now.recorded is not None:
            parts.append(one.recorded.high / max(now.recorded.high, 1e-9))
        return min(part for part in parts if not isnan(part))

    harmless = [
        one
        for one in others[1:]
        if one.kind not in _WEAKENING and (one.detection or 0.0) >= 0.9 * (now.detection or 0.0)
    ]
    return [*others[:1], *sorted(harmless, key=left)[:1]]


def _not_known(review: Review) -> list[str]:
    said = []
    if not review.listened.everywhen:
        said.append("how quiet the hours are that nobody heard")
    if any(one.code == "gain untested" for one in review.warnings):
        said.append("gain control")
    if not review.walked:
        said.append("a walk test")
    if not review.plan.reliable:
        said.append("a reliable plan")
    return said or ["who talks there, and how loud"]


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
        of_talk = "louder voices" if place.share is None else percent(place.share)
        rows.append((place.name, f"{place.distance_m:g} m", *cells, of_talk))
    text = (
        "What a recording may hold of talk there, in the quietest moments the camera is on: "
        "sentences, words, or beyond where a word is caught; last, how much of the talk there that "
        "is, at most, by the voices the site file names (raised_share, shout_share)."
    )
    return Paragraph(text), Table(("place", "off", *EFFORTS, "of talk"), tuple(rows), 6), rings


def _minutes(review: Review) -> tuple[Block, ...]:
    recorded = review.recorded
    if recorded is None:
        return (Paragraph("No setting can be planned yet, so no minutes can be given."),)
    lines = (
        f"Recorded, whoever is heard in it: {minutes_a_day(recorded.recorded)}, at most "
        f"{most_minutes(recorded.most)} of a single day, in clips of {recorded.clip_s:g} s. No "
        "more speech than that is kept, whatever people do.",
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
    card = None if option is None else review.plan.card_life(option)
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
    return Paragraph(text), Points(said[:1]), Points(said[1:])


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
