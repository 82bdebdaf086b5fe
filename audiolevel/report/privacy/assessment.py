"""An assessment of sound recording to fill in: the usual parts, with what the program knows put in.

Its parts are those of published guidance, and it asks; the law is a question to whoever knows it.

Entry point: `assessment`.
"""

from collections.abc import Iterable

from audiolevel.privacy.mitigation import DELETED_AFTER_DAYS
from audiolevel.privacy.review import Review
from audiolevel.report.document import Block, Document, Paragraph, Section, Table, document, points
from audiolevel.report.words.decisions import mitigation_text
from audiolevel.report.words.quantities import minutes_a_day, most_minutes, up_to
from audiolevel.report.words.settings import card_text

ROOM = " ______"
_SOURCES = (
    "The parts follow published guidance: Article 35(7) of Regulation (EU) 2016/679; the criteria "
    "of WP 248 rev.01, annex 2; EDPB Guidelines 3/2019 on video devices (titles and numbers from "
    "memory). It is no legal advice: whoever answers for the site fills it in, and counsel decides "
    "by the law of the place. The program never writes over this file."
)
# part → what is asked in it
_ASKED = {
    "Purpose and necessity": (
        "What is the purpose, in one sentence, and how often did it arise in the last year?",
        "Why does it take sound, and why at this place and in these hours?",
        "How will you tell after three months whether it serves the purpose?",
    ),
    "Alternatives": (
        "To fire on the level and store no sound: why would that not do?",
        "Pictures, light, a lock, someone who passes by: which were looked at, and why not?",
        "Are the seconds before the trigger needed? They record people who did not cause it.",
    ),
    "Who decides, and who was asked": (
        "Who is responsible for the recording (name, function)?",
        "What did the data protection officer, or counsel, advise, and when?",
        "Who of those who can be heard was asked: residents, staff and their representatives, "
        "neighbours? What did they say?",
    ),
    "The law, as questions": (
        "On what lawful basis is sound recorded, and does it hold for sound as well as pictures?",
        "Is recording talk among others an interception, or an offence, where the camera stands?",
        "Whose consent is needed, of one of those who talk or of all?",
        "Do labour law, tenancy or a works agreement say more?",
    ),
    "People and their rights": (
        "About how many people a day are within the farther distance, and who cannot avoid it?",
        "Are there children, patients, advice, prayer or union talk within it?",
        "How does someone ask for what was recorded, for its deletion, or object; who answers, and "
        "within how long?",
        "Is any voice recognised, compared, given a name or written down by a program, ever?",
    ),
    "Retention": (
        "After how many days is a recording deleted, by what, and what justifies each of them? In "
        "most cases a few days are enough (the Guidelines, paragraph 121).",
        "Where are exports and back-ups, and when are they deleted too?",
    ),
    "Access and security": (
        "Who may listen to a recording, on what occasion, and where is each time written down?",
        "Can anybody listen live, and who switches that off?",
        "How are card and camera kept from theft, the line from others (encryption, passwords, "
        "updates), and at what height does the microphone hang?",
        "Do several microphones hear the same place, so that what one loses another keeps?",
    ),
    "Disclosure": (
        "To whom may a recording be given (police, insurer, a court), on whose decision?",
        "Does a maker's cloud or another country hold any of it?",
    ),
    "Signs": (
        "Where are people told before they come within the farther distance, and in which "
        "languages?",
        "Do the signs name sound, the purpose, who is responsible, and where to ask?",
    ),
}
_RISKS = (
    "private talk is recorded of people who did not cause it",
    "somebody listens who should not (colleague, thief, live line)",
    "a recording is used for another purpose",
    "people stay away, or no longer talk freely",
    "sensitive talk, or children's, is among it",
    "it is kept longer than needed",
    "talk is followed from farther off than worked out",
)


def assessment(review: Review, name: str, date: str) -> Document:
    """The assessment as a document; nothing in it but what is computed is answered.

    Parameters
    ----------
    review : Review
    name : str
        Of the site.
    date : str
        As it should stand on it.
    """
    blanks = tuple((one, *(ROOM.strip() for _ in range(4))) for one in _RISKS)
    head = ("risk", "likelihood, 1 to 5", "severity, 1 to 5", "measures", "what is left")
    parts = [Section(part, points(_asked(each))) for part, each in _ASKED.items()]
    decision = ("Decided, with which conditions:", "By whom, on which day:", "To be reviewed on:")
    return document(
        f"Assessment of sound recording: {name}",
        date,
        [
            Section("What this is", (Paragraph(_SOURCES),)),
            Section("What is recorded, as computed", _computed(review)),
            *parts,
            Section("Risks", (Table(head, blanks),)),
            Section("Decision and review", points(_asked(decision))),
        ],
    )


def _asked(questions: Iterable[str]) -> list[str]:
    return [one + ROOM for one in questions]


def _computed(review: Review) -> tuple[Block, ...]:
    said = ["From how far talk is caught is not known: take it that everybody is heard."]
    efforts = review.at_gain(review.gain_db)
    if efforts:
        reach = (f"{one.effort} {up_to(one.farthest.words_m)}" for one in efforts)
        said = [f"A word may be caught, at most: {', '.join(reach)}."]
    within = [f"{one.name} ({one.distance_m:g} m)" for one in review.places if one.within]
    said += [f"Within it: {', '.join(within)}."] if within else []
    option = review.plan.recommended
    if review.recorded is not None and option is not None:
        minutes, most = minutes_a_day(review.recorded.recorded), review.recorded.most
        said.append(
            f"Recorded, whoever is heard: {minutes}, at most {most_minutes(most)} of a single day."
        )
        card = review.plan.card_life(option)
        said += [] if card is None else [f"The card holds {card_text(card)}."]
    less = [mitigation_text(one) for one in review.mitigations[1:]]
    said += [f"What would capture less: {'; '.join(less)}."] if less else []
    said.append(f"Deletion within {DELETED_AFTER_DAYS:g} days is what the Guidelines call usual.")
    return points(said)
