"""The review sheet for whoever decides whether audio may be switched on, section by section.

One review, said once in sentences and tables (`report.sheet` writes them).

Entry point: `review_sheet`.
"""

from dataclasses import replace
from math import isinf

from audiolevel.intervals import Interval
from audiolevel.metering.quality import SHORT_S
from audiolevel.planning.storage import card_life_of
from audiolevel.privacy.audibility import FARTHEST_M, FOLLOWED_INDEX, TALKER_DB, Caught
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.mitigation import DELETED_AFTER_DAYS, Mitigation, MitigationKind
from audiolevel.privacy.read_aloud import COLUMNS, WORDS
from audiolevel.privacy.review import Review
from audiolevel.privacy.speech_detection import MEASURED
from audiolevel.privacy.speech_security import ENHANCED_DB, WORD_DB
from audiolevel.report.sentences import notice_text
from audiolevel.report.sheet import RADII, RINGS, Section, Sheet, Table
from audiolevel.report.text import count, gain, setting
from audiolevel.report.wording import card_text, mitigation_cost, mitigation_text, span
from audiolevel.site import setting_name
from audiolevel.version import __version__

NO_PROOF = (
    "A low index is no proof of privacy. It describes one listener with normal hearing who hears "
    "it once: a recording can be played again, filtered and amplified, listeners may know the "
    "voice or the subject, and connected speech is about 60 % understood at an index of 0.30 "
    "already."
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
    annex = [
        _basis(review, date),
        _radius(review),
        _as_heard(review),
        _by_hour(review),
        _by_gain(review),
        _speech(review),
        _walk_test(review),
    ]
    sections = [*decision, *(replace(one, title=f"Annex: {one.title}") for one in annex)]
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
            f"while the camera is on a word of normal talk may be caught up to "
            f"{_range(normal.farthest.words_m, normal.active.words_m)} away, of a raised voice "
            f"{_range(raised.farthest.words_m, raised.active.words_m)}, of a shout "
            f"{_range(shout.farthest.words_m, shout.active.words_m)}",
            f"sentences can be followed up to "
            f"{_range(normal.farthest.sentences_m, normal.active.sentences_m)}, "
            f"{_range(raised.farthest.sentences_m, raised.active.sentences_m)} and "
            f"{_range(shout.farthest.sentences_m, shout.active.sentences_m)}; normal talk is not "
            f"private below {_metres(normal.farthest.words_m)}",
        ]
        if not review.listened.everywhen:
            points.append(
                "nobody has listened in all those hours: how quiet they are is taken from real "
                "streets"
            )
    else:
        points.append("from how far talk is caught is not known: take it that everybody is heard")
    if review.recorded is not None:
        minutes = _of_minutes(review.recorded.recorded)
        points.append(f"recorded, whoever is heard in it: {minutes}")
    if not review.plan.reliable:
        points.append("the sample does not support a reliable plan yet: see the cautions")
    return Section("In short", points=tuple(points))


def _range(farthest_m: float, best_m: float) -> str:
    """The farther end first; one number where there is no other."""
    far, best = _metres(farthest_m), _metres(best_m)
    return far if far == best else f"{far} (best estimate {best})"


def _speech_minutes(review: Review) -> str:
    recorded = review.recorded
    if recorded is not None and recorded.speech is not None:
        return _of_minutes(recorded.speech)
    if review.share is None or review.plan.survey.duration_s < SHORT_S - 1:
        return f"not known: the sample is too short to tell ({SHORT_S / 60:.0f} min are needed)"
    return "not known: nobody has listened in all the hours in which the camera is on"


def _basis(review: Review, date: str) -> Section:
    plan = review.plan
    names = ", ".join(one.path.name for one in plan.survey.measurements)
    full_db = plan.survey.scale.spl_at_full_scale_db
    scale = "not calibrated: levels are relative to full scale, and no distance can be given"
    if full_db is not None:
        how = "assumed" if review.calibration_assumed else "as calibrated"
        scale = f"a sine of {full_db:g} dB SPL just fills the scale ({how})"
    return Section(
        "Made",
        points=(
            f"{date}, with audiolevel {__version__}",
            f"from {span(plan.survey.duration_s)} of sound: {names}",
            f"microphone: {scale}",
        ),
    )


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


def _metres(value: float) -> str:
    if isinf(value):
        return f"over {FARTHEST_M:g} m"
    # never "none": beside the microphone somebody is always heard
    if value < 0.1:
        return "0.1 m"
    # 9.95 would round to 10.0 and claim a decimal that 10 m does not
    return f"{value:.1f} m" if value < 9.95 else f"{value:.0f} m"


def _radius(review: Review) -> Section:
    title = "From how far talk is caught while the camera is on"
    if not review.curves:
        return Section(
            title,
            (
                "Not known: without a calibration the site's noise is not known in dB SPL, or "
                "nothing but talk was heard, so nobody can say how far a voice rises above it.",
                NO_PROOF,
            ),
        )
    rows = []
    for one in review.at_gain(review.gain_db):
        far, best = one.farthest, one.active
        cells = (far.words_m, best.words_m, far.sentences_m, best.sentences_m)
        rows.append((one.effort, *map(_metres, cells)))
    words = (
        f"A word may be caught where the uniformly weighted ratio of speech to noise is "
        f"{WORD_DB:g} dB or more (Gover and Bradley 2004; the number from memory); sentences can "
        f"be followed from an index of {FOLLOWED_INDEX:.2f} (ANSI S3.5-1997, one word in five of "
        "connected speech by Sherbecoe and Studebaker 2003). Both allow "
        f"{ENHANCED_DB:g} dB for software that cleans speech, which is our judgement. In the open: "
        "walls and corners carry sound further or shield it."
    )
    when = "Every hour in which the camera is on was heard; the quietest of them is taken."
    quieter = review.listened.quieter_db
    if not review.listened.everywhen:
        when = (
            f"Not every hour in which the camera is on was heard. The quietest of them is reckoned "
            f"{quieter.best:.0f} dB quieter than the quiet moments heard (best estimate), on one "
            f"day in twenty {quieter.high:.0f} dB and more (at most): L90 by hour at four city "
            "streets over a year. Record there at that hour to know."
        )
    head = ("voice", "a word, at most", "best estimate", "sentences, at most", "best estimate")
    return Section(title, (words, when, NO_PROOF), Table(head, tuple(rows)), shown_by=RADII)


def _as_heard(review: Review) -> Section:
    rows = []
    for one in review.at_gain(review.gain_db):
        weaker, stronger = one.weaker, one.stronger
        rows.append(
            (
                one.effort,
                _metres(one.heard.words_m),
                f"{_metres(weaker.words_m)} to {_metres(stronger.words_m)}",
                _metres(one.heard.sentences_m),
                f"{_metres(weaker.sentences_m)} to {_metres(stronger.sentences_m)}",
                _metres(one.usual.words_m),
            )
        )
    if not rows:
        return Section("As it was heard")
    text = (
        "In the quiet moments of the recordings, those in which the noise of each third-octave is "
        f"exceeded 90 % of the time, talk itself left out. People differ from the standard voice "
        f"by some {TALKER_DB:g} dB, and beside traffic they raise it."
    )
    head = ("voice", "a word", "talkers differ", "sentences", "talkers differ", "usually")
    return Section("As it was heard", (text,), Table(head, tuple(rows)))


def _by_hour(review: Review) -> Section:
    rows = [
        (
            f"{hour:02d}:00",
            *(f"{_metres(radii[e].words_m)} / {_metres(radii[e].sentences_m)}" for e in EFFORTS),
        )
        for hour, radii in sorted(review.by_hour.items())
    ]
    if not rows:
        return Section("By hour of the day")
    text = "A word / sentences, in the quiet moments of the hours heard."
    return Section("By hour of the day", (text,), Table(("hour", *EFFORTS), tuple(rows)))


def _by_gain(review: Review) -> Section:
    if not review.curves:
        return Section("By gain")
    rows = []
    for one in review.plan.gains:
        efforts = review.at_gain(one.gain_db)
        setting_of = "" if one.setting is None else f" ({setting_name(one.setting)})"
        name = f"{one.gain_db:+g} dB{setting_of}"
        # the shout is the last of the efforts, and clips from farthest off
        cut = min(efforts[-1].clips_within_m, FARTHEST_M)
        cells = (_metres(effort.farthest.words_m) for effort in efforts)
        rows.append((name, *cells, _metres(cut)))
    text = (
        "A word, at most, while the camera is on. A lower gain protects only where the "
        "converter's own noise covers distant talk. A voice so near that the input clips is "
        "distorted, not hidden: clipped speech is still understood (Licklider and Pollack 1948)."
    )
    if review.plan.survey.site.microphone.converter_noise_dbfs is None:
        text += " The converter's noise is not entered, so only the recording's format counts."
    head = ("gain", *EFFORTS, "shout clips within")
    return Section("By gain", (text,), Table(head, tuple(rows)))


def _places(review: Review) -> Section:
    if not review.places:
        text = "No place is entered. Add [[place]] with a name and distance_m to the site file."
        return Section("Who could be overheard", (text,), shown_by=RINGS)
    reach = {one.effort: one.farthest.words_m for one in review.at_gain(review.gain_db)}
    rows = []
    for place in review.places:
        cells = tuple(
            f"beyond {_metres(reach[e])}"
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


def _walk_test(review: Review) -> Section:
    if not review.curves:
        return Section("Check on site")
    normal = next(one for one in review.at_gain(review.gain_db) if one.effort == "normal")
    radii = (normal.heard.sentences_m, normal.heard.words_m, normal.active.words_m)
    # nobody reads aloud beyond what is claimed
    stations = list(dict.fromkeys(_metres(m) for m in sorted(radii) if not isinf(m)))
    how = (
        "A read-aloud walk test. Ask everyone who can be heard, keep out of the carriageway, and "
        "do it in the hours in which the camera is on. One person stands at "
        f"{', then '.join(stations)} from the microphone and reads 20 words in an order of their "
        "own, one every three seconds, in a normal and in a raised voice; the camera records. "
        "Another, who has not seen the order, listens to the recording by headphones as often as "
        "they like and writes down what they catch. Words: "
        f"{', '.join(WORDS)}. Write a row for each distance and voice ({', '.join(COLUMNS)}) and "
        "give the file to audiolevel privacy --walk-test. Delete the recording."
    )
    if not review.walked:
        return Section("Check on site", (how,))
    rows = []
    for one in review.walked:
        reading, share = one.reading, one.understood
        best = share.best if share.best is not None else share.low
        rows.append(
            (
                f"{reading.distance_m:g} m",
                reading.voice,
                f"{reading.words_understood} of {reading.words_read}",
                f"{100 * best:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f})",
                f"{100 * one.computed.low:.0f} to {100 * one.computed.high:.0f} %",
                one.verdict,
            )
        )
    text = (
        "The walk test against what is computed: from a weaker talker at usual moments to a "
        "stronger one in quiet moments, cleaned by software."
    )
    if any(one.verdict == "farther" for one in review.walked):
        text += " More was understood than computed: take every distance on this sheet as too near."
    head = ("off", "voice", "understood", "share", "computed", "verdict")
    return Section("Check on site", (how, text), Table(head, tuple(rows)))


def _speech(review: Review) -> Section:
    title, share = "Speech in the sample", review.share
    if share is None:
        return Section(title, ("The sample is too short to listen for speech.",))
    sure = f"{100 * share.confidence:g} %"
    text = (
        f"Speech was found in {_percent(share.detected_share)} of the time. Allowing for what the "
        f"detector misses and takes for speech: {_percent(share.share.best)} ({sure} interval "
        f"{_percent(share.share.low)} to {_percent(share.share.high)})."
    )
    errors = (
        f"Measured on recorded voices in street noise: it finds "
        f"{_percent(MEASURED.hits_at_10_db)} of speech 10 dB above the street, "
        f"{_percent(MEASURED.hits_at_0_db)} at its level and "
        f"{_percent(MEASURED.hits_at_minus_10_db)} 10 dB below; it takes "
        f"{_percent(MEASURED.false_alarms)} of other sound for speech, of alarms and beepers "
        f"{_percent(MEASURED.false_alarms_worst)}. Talk 10 dB below the street is mostly not "
        "counted, though a patient listener may follow it. The share is that of the hours heard."
    )
    return Section(title, (text, errors))


def _minutes(review: Review) -> Section:
    title, recorded = "Minutes a day", review.recorded
    if recorded is None:
        return Section(title, ("No setting can be planned yet, so no minutes can be given.",))
    lines = [
        f"Recorded, whoever is heard in it: {_of_minutes(recorded.recorded)}, in clips of "
        f"{recorded.clip_s:g} s. No more speech than that is kept, whatever people do.",
        f"With audible speech in them: {_speech_minutes(review)}. A trigger that fires on people's "
        "own voices, and hours in which many are about, put more speech into those minutes.",
    ]
    return Section(title, tuple(lines))


def _retention(review: Review) -> Section:
    days = review.plan.survey.site.limits.days_kept
    text = (
        f"At least {days:g} days are wanted. Recordings stay on the card until it is full, unless "
        "the camera deletes them earlier."
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
        parts.append(f"recorded {_of_minutes(one.recorded)}")
    if one.speech is not None and (first or one.speech != now.speech):
        parts.append(f"with speech {_of_minutes(one.speech)}")
    if one.radii is not None and (first or one.radii != now.radii):
        reach = f"a word up to {_metres(one.radii.words_m)}, sentences"
        reach += f" {_metres(one.radii.sentences_m)}"
        # said once, with the first
        reach += " (normal voice, at most)" if first else ""
        # a sound that is not kept has no radius
        parts += [] if one.kind is MitigationKind.NO_SOUND else [reach]
    if one.detection is not None and (first or one.detection != now.detection):
        parts.append(f"least caught wanted sound {_percent(one.detection)}")
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


def _percent(share: float | None) -> str:
    assert share is not None  # a share that was judged has a best estimate
    percent = 100 * share
    # a decimal only where whole per cents would hide it
    return f"{percent:.1f} %" if 0 < percent < 10 else f"{percent:.0f} %"


def _of_minutes(minutes: Interval) -> str:
    # only where even the upper end is nothing
    if minutes.high == 0:
        return "none"
    if minutes.best is None:
        return f"fewer than {count(minutes.high)} min a day"
    return f"{count(minutes.best)} min a day ({count(minutes.low)} to {count(minutes.high)})"
