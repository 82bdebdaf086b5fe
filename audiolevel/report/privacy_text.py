"""The review sheet for whoever decides whether audio may be switched on, section by section.

One review, said once in sentences and tables (`report.sheet` writes them).

Entry point: `review_sheet`.
"""

from math import isinf

from audiolevel.intervals import Interval
from audiolevel.planning.storage import card_life_of
from audiolevel.privacy.audibility import (
    FARTHEST_M,
    QUIETER_DB,
    TALKER_DB,
    UNDERSTOOD_INDEX,
    understanding,
)
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.mitigation import Mitigation
from audiolevel.privacy.review import Review
from audiolevel.privacy.speech_detection import MEASURED
from audiolevel.report.sheet import Section, Sheet, Table
from audiolevel.report.text import count, gain, setting
from audiolevel.report.wording import (
    card_text,
    mitigation_cost,
    mitigation_text,
    notice_text,
    span,
)
from audiolevel.site import setting_name
from audiolevel.version import __version__

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
    sections = [
        _in_short(review),
        _basis(review, date),
        _purpose(review),
        _radius(review),
        _by_hour(review),
        _by_gain(review),
        _places(review),
        _speech(review),
        _minutes(review),
        _retention(review),
        Section("What would capture less", points=tuple(map(_mitigation, review.mitigations))),
        _taken(review),
        Section("Questions for the reviewer", points=_QUESTIONS),
        _cautions(review),
        Section("Decision", points=("Reviewer:", "Date:", "Decision and conditions:")),
    ]
    return Sheet(
        f"Review of sound recording: {name}",
        tuple(one for one in sections if one.paragraphs or one.table or one.points),
    )


# --- sections ------------------------------------------------------------------------------------


def _in_short(review: Review) -> Section:
    points = []
    # empty without a calibration, and then no distance is said
    radius = {one.effort: one.radius_m.best for one in review.at_gain(review.gain_db)}
    if radius:
        points.append(
            f"in quiet moments talk is understood up to {_metres(radius['normal'])} away, a "
            f"raised voice up to {_metres(radius['raised'])}, a shout {_metres(radius['shout'])}"
        )
    if review.recorded is not None:
        points.append(f"recorded: {_of_minutes(review.recorded.recorded)}")
        if review.recorded.speech is not None:
            points.append(f"with audible speech in it: {_of_minutes(review.recorded.speech)}")
    if not review.plan.reliable:
        points.append("the sample does not support a reliable plan yet: see the cautions")
    return Section("In short", points=tuple(points))


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


def _metres(value: float | None) -> str:
    assert value is not None  # a radius always has a best estimate, be it infinite
    if isinf(value):
        return f"over {FARTHEST_M:g} m"
    # would show as 0.0 m
    if value < 0.05:
        return "none"
    # 9.95 would round to 10.0 and claim a decimal that 10 m does not
    return f"{value:.1f} m" if value < 9.95 else f"{value:.0f} m"


def _radius(review: Review) -> Section:
    title = "From how far talk could be understood"
    if not review.curves:
        return Section(
            title,
            (
                "Cannot be said: without a calibration the site's noise is not known in dB SPL, "
                "nor how far a voice rises above it.",
                NO_PROOF,
            ),
        )
    rows = []
    for one in review.at_gain(review.gain_db):
        between = f"{_metres(one.radius_m.low)} to {_metres(one.radius_m.high)}"
        rows.append(
            (
                one.effort,
                _metres(one.radius_m.best),
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


def _by_hour(review: Review) -> Section:
    rows = [
        (f"{hour:02d}:00", *(_metres(radius[effort]) for effort in EFFORTS))
        for hour, radius in sorted(review.by_hour.items())
    ]
    if not rows:
        return Section("By hour of the day")
    text = "In the quiet moments of the hours heard; an hour that was not heard may be quieter."
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
        rows.append((name, *(_metres(effort.radius_m.best) for effort in efforts), _metres(cut)))
    text = (
        "Radius in quiet moments. At a low gain the converter's own noise covers distant talk. A "
        "voice so near that the input clips is distorted, not hidden: "
        "clipped speech is still understood (Licklider and Pollack 1948)."
    )
    if review.plan.survey.site.microphone.converter_noise_dbfs is None:
        text += " The converter's noise is not entered, so only the recording's format counts."
    head = ("gain", *EFFORTS, "shout clips within")
    return Section("By gain", (text,), Table(head, tuple(rows)))


def _places(review: Review) -> Section:
    if not review.places:
        text = "No place is entered. Add [[place]] with a name and distance_m to the site file."
        return Section("Who could be overheard", (text,))
    rows = []
    for place in review.places:
        cells = tuple(
            f"{understanding(place.quiet[e]).value} {place.quiet[e]:.2f}" for e in EFFORTS
        )
        rows.append((place.name, f"{place.distance_m:g} m", *cells))
    text = (
        "How much would be understood in quiet moments, with the index. All: 90 % of the words of "
        "connected speech and more; most: from 60 %; some: from 20 %; few: from an index of 0.05."
    )
    head = ("place", "off", *EFFORTS)
    return Section("Who could be overheard", (text,), Table(head, tuple(rows)))


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
    text = f"Recorded: {_of_minutes(recorded.recorded)}, in clips of {recorded.clip_s:g} s."
    lines = [text]
    if recorded.speech is not None:
        lines.append(
            f"With audible speech in them: {_of_minutes(recorded.speech)}. People are taken to "
            "talk as often during a clip as at other times; a trigger that fires on their own "
            "shouts records more."
        )
    return Section(title, tuple(lines))


def _retention(review: Review) -> Section:
    days = review.plan.survey.site.limits.days_kept
    text = (
        f"The plan is asked to keep recordings for at least {days:g} days. They stay on the card "
        "until it is full and the oldest is overwritten, unless the camera deletes them earlier: "
        "set that where it can."
    )
    option = review.plan.recommended
    card = None
    if option is not None:
        card = card_life_of(review.plan.survey.site, option.curve.prediction, option.row)
    held = () if card is None else (f"The card holds {card_text(card)}.",)
    return Section("Retention", (text, *held))


def _mitigation(one: Mitigation) -> str:
    parts = []
    if one.speech is not None:
        parts.append(f"speech {_of_minutes(one.speech)}")
    if one.radius_m:
        parts.append(f"radius {_metres(one.radius_m)} (normal voice)")
    if one.detection is not None:
        parts.append(f"least caught wanted sound {_percent(one.detection)}")
    if one.radius_m == 0 and one.speech is not None and one.speech.high > 0:
        parts.append(f"index below {UNDERSTOOD_INDEX:.2f} at any distance (normal voice)")
    cost = mitigation_cost(one)
    said = f"{mitigation_text(one)}: {'; '.join(parts) or 'not known'}"
    return f"{said}. Cost: {cost}" if cost else said


def _taken(review: Review) -> Section:
    site, option = review.plan.survey.site, review.plan.recommended
    points = []
    if site.schedule.active:
        points.append(f"active hours: {', '.join(site.schedule.active)}")
    if option is not None and option.gain_db < 0:
        points.append(f"the gain is {-option.gain_db:g} dB lower than while recording the sample")
    points.append("to be filled in: notices, hours, access, deletion, training of who listens")
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
