"""What does the person read who decides whether audio may be switched on?

One review, told once as sections of sentences and tables (`report.sheet` writes them).

Entry point: `review_sheet`.
"""

from math import isinf

from audiolevel import __version__
from audiolevel.planning.storage import card_life_of
from audiolevel.privacy.audibility import (
    FARTHEST_M,
    QUIETER_DB,
    TALKER_DB,
    UNDERSTOOD_INDEX,
    understood,
)
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.mitigation import Measure
from audiolevel.privacy.recorded_time import Minutes
from audiolevel.privacy.review import Review
from audiolevel.privacy.speech_detection import MEASURED
from audiolevel.report.sheet import Section, Sheet, Table
from audiolevel.report.text import count, gain, setting
from audiolevel.report.wording import card_text, notice_text, span

NO_PROOF = (
    "A low index is no proof of privacy. It describes one listener with normal hearing who hears "
    "it once: a recording can be played again, filtered and amplified, listeners may know the "
    "voice or the subject, and connected speech is about 60 % understood at an index of 0.30 "
    "already."
)
NO_ADVICE = (
    "This sheet informs; it is no legal advice. Whether sound may be recorded, whose consent is "
    "needed and what notice must be given differs by country, state and place: the responsible "
    "officer or counsel decides by the law of the place."
)
_QUESTIONS = (
    "Would a camera without sound, or a trigger that stores no sound, serve the purpose? Functions "
    "that are not needed should be absent or switched off, sound recording among them (EDPB "
    "Guidelines 3/2019 on video devices, paragraph 129).",
    "Who may listen to a recording, on what occasion, and where is that written down?",
    "How are people told before they come within the radius, and in which languages?",
    "Can anyone within the radius not avoid the place: staff, residents, people who wait?",
    "After how many days is a recording deleted, and what justifies each of them? In most cases a "
    "few days are enough (the same Guidelines, paragraph 121).",
    "Are the seconds before the trigger needed? They record people who did not cause it.",
    "Was the sample taken at the quietest hour that people are there?",
)


def review_sheet(found: Review, name: str, date: str) -> Sheet:
    """The review as a sheet.

    Parameters
    ----------
    found : Review
    name : str
        Of the site.
    date : str
        As it should stand on the sheet.
    """
    sections = [
        _in_short(found),
        _made(found, date),
        _purpose(found),
        _radius(found),
        _by_hour(found),
        _by_gain(found),
        _places(found),
        _speech(found),
        _minutes(found),
        _retention(found),
        Section("What would capture less", points=tuple(map(_measure, found.measures))),
        _taken(found),
        Section("Questions for the reviewer", points=_QUESTIONS),
        _cautions(found),
        Section("Decision", points=("Reviewer:", "Date:", "Decision and conditions:")),
    ]
    return Sheet(
        f"Review of sound recording: {name}",
        tuple(one for one in sections if one.paragraphs or one.table or one.points),
    )


# --- sections ------------------------------------------------------------------------------------


def _in_short(found: Review) -> Section:
    points = []
    radius = {one.effort: one.radius_m for one in found.at_gain(found.gain_db)}
    if radius:
        points.append(
            f"in quiet moments talk is understood up to {_metres(radius['normal'])} away, a "
            f"raised voice up to {_metres(radius['raised'])}, a shout {_metres(radius['shout'])}"
        )
    if found.captured is not None:
        points.append(f"recorded: {_of_minutes(found.captured.recorded)}")
        if found.captured.speech is not None:
            points.append(f"with audible speech in it: {_of_minutes(found.captured.speech)}")
    if not found.plan.reliable:
        points.append("the sample does not support a reliable plan yet: see the cautions")
    return Section("In short", points=tuple(points))


def _made(found: Review, date: str) -> Section:
    plan = found.plan
    names = ", ".join(one.path.name for one in plan.survey.measurements)
    full_db = plan.survey.scale.spl_at_full_scale_db
    scale = "not calibrated: levels are relative to full scale, and no distance can be given"
    if full_db is not None:
        how = "assumed" if found.assumed else "as calibrated"
        scale = f"a sine of {full_db:g} dB SPL just fills the scale ({how})"
    return Section(
        "Made",
        points=(
            f"{date}, with audiolevel {__version__}",
            f"from {span(plan.survey.duration_s)} of sound: {names}",
            f"microphone: {scale}",
        ),
    )


def _purpose(found: Review) -> Section:
    plan, option = found.plan, found.plan.recommended
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
    if value < 0.05:
        return "none"
    return f"{value:.1f} m" if value < 9.95 else f"{value:.0f} m"


def _radius(found: Review) -> Section:
    title = "From how far talk could be understood"
    if not found.carried:
        return Section(
            title,
            (
                "Cannot be said: without a calibration the site's noise is not known in dB SPL, "
                "nor how far a voice rises above it.",
                NO_PROOF,
            ),
        )
    rows = []
    for one in found.at_gain(found.gain_db):
        between = f"{_metres(one.radius_low_m)} to {_metres(one.radius_high_m)}"
        rows.append(
            (
                one.effort,
                _metres(one.radius_m),
                between,
                _metres(one.radius_typical_m),
                _metres(one.radius_quieter_m),
            )
        )
    text = (
        f"The radius within which at least one word in five of connected speech is understood in "
        f"the recording (index {UNDERSTOOD_INDEX:.2f} and more; ANSI S3.5-1997, words by Sherbecoe "
        "and Studebaker 2003). Quiet moments are those in which the noise of each third-octave is "
        "exceeded 90 % of the time, usual ones 50 %. In the open: walls and corners carry sound "
        f"further or shield it. People differ from the standard voice by some "
        f"{TALKER_DB:g} dB, and beside traffic they raise it."
    )
    head = ("voice", "quiet", "talkers differ", "usual", f"{QUIETER_DB:g} dB quieter")
    return Section(title, (text, NO_PROOF), Table(head, tuple(rows)))


def _by_hour(found: Review) -> Section:
    rows = [
        (f"{hour:02d}:00", *(_metres(radius[effort]) for effort in EFFORTS))
        for hour, radius in sorted(found.by_hour.items())
    ]
    if not rows:
        return Section("By hour of the day")
    text = "In the quiet moments of the hours heard; an hour that was not heard may be quieter."
    return Section("By hour of the day", (text,), Table(("hour", *EFFORTS), tuple(rows)))


def _by_gain(found: Review) -> Section:
    if not found.carried:
        return Section("By gain")
    rows = []
    for room, value in ((one, one.setting) for one in found.plan.gains):
        efforts = found.at_gain(room.gain_db)
        name = f"{room.gain_db:+g} dB" + ("" if value is None else f" ({value:g})")
        cut = min(efforts[-1].clips_within_m, FARTHEST_M)
        rows.append((name, *(_metres(one.radius_m) for one in efforts), _metres(cut)))
    text = (
        "Radius in quiet moments. At a low gain the microphone's and the recorder's own noise "
        "covers distant talk. A voice so near that the input clips is distorted, not hidden: "
        "clipped speech is still understood (Licklider and Pollack 1948)."
    )
    if found.plan.survey.site.microphone.self_noise_dba is None:
        text += " The microphone's own noise is not entered, so only the recording's format counts."
    head = ("gain", *EFFORTS, "shout clips within")
    return Section("By gain", (text,), Table(head, tuple(rows)))


def _places(found: Review) -> Section:
    if not found.places:
        text = "No place is entered. Add [[place]] with a name and distance_m to the site file."
        return Section("Who could be overheard", (text,))
    rows = []
    for place in found.places:
        cells = tuple(f"{understood(place.index[e])} {place.index[e]:.2f}" for e in EFFORTS)
        rows.append((place.name, f"{place.distance_m:g} m", *cells))
    text = (
        "How much would be understood in quiet moments, with the index. All: 90 % of the words of "
        "connected speech and more; most: from 60 %; some: from 20 %; few: from an index of 0.05."
    )
    head = ("place", "off", *EFFORTS)
    return Section("Who could be overheard", (text,), Table(head, tuple(rows)))


def _speech(found: Review) -> Section:
    title, share = "Speech in the sample", found.share
    if share is None:
        return Section(title, ("The sample is too short to listen for speech.",))
    sure = f"{100 * share.confidence:g} %"
    text = (
        f"Speech was found in {_percent(share.found_share)} of the time. Allowing for what the "
        f"detector misses and takes for speech: {_percent(share.best)} ({sure} interval "
        f"{_percent(share.low)} to {_percent(share.high)})."
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


def _minutes(found: Review) -> Section:
    title, captured = "Minutes a day", found.captured
    if captured is None:
        return Section(title, ("No setting can be planned yet, so no minutes can be given.",))
    text = f"Recorded: {_of_minutes(captured.recorded)}, in clips of {captured.clip_s:g} s."
    lines = [text]
    if captured.speech is not None:
        lines.append(
            f"With audible speech in them: {_of_minutes(captured.speech)}. People are taken to "
            "talk as often during a clip as at other times; a trigger that fires on their own "
            "shouts records more."
        )
    return Section(title, tuple(lines))


def _retention(found: Review) -> Section:
    days = found.plan.survey.site.limits.days_kept
    text = (
        f"The plan is asked to keep recordings for at least {days:g} days. They stay on the card "
        "until it is full and the oldest is overwritten, unless the camera deletes them earlier: "
        "set that where it can."
    )
    option = found.plan.recommended
    card = None
    if option is not None:
        card = card_life_of(found.plan.survey.site, option.curve.prediction, option.row)
    held = () if card is None else (f"The card holds {card_text(card)}.",)
    return Section("Retention", (text, *held))


def _measure(measure: Measure) -> str:
    parts = []
    if measure.speech is not None:
        parts.append(f"speech {_of_minutes(measure.speech)}")
    if measure.radius_m:
        parts.append(f"radius {_metres(measure.radius_m)} (normal voice)")
    if measure.detection is not None:
        parts.append(f"least caught wanted sound {_percent(measure.detection)}")
    if measure.radius_m == 0 and measure.speech is not None and measure.speech.high > 0:
        parts.append(f"index below {UNDERSTOOD_INDEX:.2f} at any distance (normal voice)")
    cost = f". Cost: {measure.cost}" if measure.cost else ""
    return f"{measure.text}: {'; '.join(parts) or 'not known'}{cost}"


def _taken(found: Review) -> Section:
    site, option = found.plan.survey.site, found.plan.recommended
    points = []
    if site.schedule.active:
        points.append(f"active hours: {', '.join(site.schedule.active)}")
    if option is not None and option.gain_db < 0:
        points.append(f"the gain is {-option.gain_db:g} dB lower than while recording the sample")
    points.append("to be filled in: notices, hours, access, deletion, training of who listens")
    return Section("Measures taken", points=tuple(points))


def _cautions(found: Review) -> Section:
    points = [f"{one.code}: {notice_text(one)}" for one in found.warnings]
    return Section("Cautions", (NO_ADVICE,), points=tuple(points))


def _percent(share: float) -> str:
    percent = 100 * share
    return f"{percent:.1f} %" if 0 < percent < 10 else f"{percent:.0f} %"


def _of_minutes(minutes: Minutes) -> str:
    if minutes.high == 0:
        return "none"
    if minutes.best is None:
        return f"fewer than {count(minutes.high)} min a day"
    return f"{count(minutes.best)} min a day ({count(minutes.low)} to {count(minutes.high)})"
