"""The annex of the review sheet: what its figures rest on, and how to check them on site.

Entry point: `annex_of`.
"""

from math import isinf

from audiolevel.privacy.audibility import FARTHEST_M, FOLLOWED_INDEX, TALKER_DB
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.privacy.read_aloud import COLUMNS, WORDS
from audiolevel.privacy.review import UNTESTED_GAIN_DB, Review
from audiolevel.privacy.speech_detection import MEASURED
from audiolevel.privacy.speech_security import ENHANCED_DB, WORD_DB
from audiolevel.report.document import Paragraph, Section, Shown, Table, points
from audiolevel.report.words.quantities import chance, metres, percent, span
from audiolevel.site.sections import setting_name
from audiolevel.version import __version__

CAPTION = (
    "Left: how far off a word and sentences may be caught, the thin line to the farther end; "
    "right: how much of speech is understood in the quiet moments heard, by distance."
)
_NO_PROOF = (
    "A low index is no proof of privacy. It describes one listener with normal hearing who hears "
    "it once: a recording can be played again, filtered and amplified, listeners may know the "
    "voice or the subject, and connected speech is about 60 % understood at an index of 0.30 "
    "already."
)


def annex_of(review: Review, date: str) -> list[Section]:
    """Its sections; those with nothing to say are empty.

    Parameters
    ----------
    review : Review
    date : str
        As it should stand on the sheet.
    """
    return [
        _basis(review, date),
        _radius(review),
        _as_heard(review),
        _by_hour(review),
        _by_gain(review),
        _speech(review),
        _walk_test(review),
    ]


def _basis(review: Review, date: str) -> Section:
    plan = review.plan
    names = ", ".join(one.path.name for one in plan.survey.measurements)
    full_db = plan.survey.scale.spl_at_full_scale_db
    scale = "not calibrated: levels are relative to full scale, and no distance can be given"
    if full_db is not None:
        how = "assumed" if review.calibration_assumed else "as calibrated"
        scale = f"a sine of {full_db:g} dB SPL just fills the scale ({how})"
    made = (
        f"{date}, with audiolevel {__version__}",
        f"from {span(plan.survey.duration_s)} of sound: {names}",
        f"microphone: {scale}",
    )
    return Section("Made", points(made))


def _radius(review: Review) -> Section:
    title = "From how far talk is caught while the camera is on"
    if not review.curves:
        why = (
            "Not known: without a calibration the site's noise is not known in dB SPL, or nothing "
            "but talk was heard, so nobody can say how far a voice rises above it."
        )
        return Section(title, (Paragraph(why), Paragraph(_NO_PROOF)))
    rows = []
    for one in review.at_gain(review.gain_db):
        far, best = one.farthest, one.active
        cells = (far.words_m, best.words_m, far.sentences_m, best.sentences_m)
        rows.append((one.effort, *map(metres, cells)))
    words = (
        f"A word may be caught where the uniformly weighted ratio of speech to noise is "
        f"{WORD_DB:g} dB or more (Gover and Bradley 2004; the number from memory); sentences can "
        f"be followed from an index of {FOLLOWED_INDEX:.2f} (ANSI S3.5-1997, one word in five of "
        "connected speech by Sherbecoe and Studebaker 2003). Both allow "
        f"{ENHANCED_DB:g} dB for software that cleans speech, which is our judgement. In the open: "
        "walls and corners carry sound further or shield it."
    )
    quieter, site = review.listened.quieter_db, review.plan.survey.site
    held = [
        f"the quietest day in twenty ({quieter.high:.0f} dB below the quiet moments heard, best "
        f"estimate {quieter.best:.0f} dB: L90 by hour at four city streets over a year)",
        f"a talker {TALKER_DB:g} dB louder",
        f"the calibration ({2 * site.calibration_spread_db:g} dB)",
    ]
    if site.microphone.gain_control == "not tested":
        held.append(f"a mild gain control that nobody looked for ({UNTESTED_GAIN_DB:g} dB)")
    louder_db = max((one.farther_db for one in review.walked), default=0.0)
    if louder_db:
        held.append(f"what the walk test found more, also in the best estimate ({louder_db:g} dB)")
    when = (
        f"At most adds up {', '.join(held)}. Left out: walls that reflect, wind that carries, a "
        "strong gain control."
    )
    head = ("voice", "a word, at most", "best estimate", "sentences, at most", "best estimate")
    said = (Paragraph(words), Paragraph(when), Paragraph(_NO_PROOF))
    return Section(title, (*said, Table(head, tuple(rows)), Shown("privacy", CAPTION)))


def _as_heard(review: Review) -> Section:
    rows = []
    for one in review.at_gain(review.gain_db):
        weaker, stronger = one.weaker, one.stronger
        rows.append(
            (
                one.effort,
                metres(one.heard.words_m),
                f"{metres(weaker.words_m)} to {metres(stronger.words_m)}",
                metres(one.heard.sentences_m),
                f"{metres(weaker.sentences_m)} to {metres(stronger.sentences_m)}",
                metres(one.usual.words_m),
            )
        )
    if not rows:
        return Section("As it was heard", ())
    text = (
        "In the quiet moments of the recordings, those in which the noise of each third-octave is "
        f"exceeded 90 % of the time, talk itself left out. People differ from the standard voice "
        f"by some {TALKER_DB:g} dB, and beside traffic they raise it."
    )
    head = ("voice", "a word", "talkers differ", "sentences", "talkers differ", "usually")
    return Section("As it was heard", (Paragraph(text), Table(head, tuple(rows))))


def _by_hour(review: Review) -> Section:
    rows = [
        (
            f"{hour:02d}:00",
            *(f"{metres(radii[e].words_m)} / {metres(radii[e].sentences_m)}" for e in EFFORTS),
        )
        for hour, radii in sorted(review.by_hour.items())
    ]
    if not rows:
        return Section("By hour of the day", ())
    text = "A word / sentences, in the quiet moments of the hours heard."
    shown = Table(("hour", *EFFORTS), tuple(rows))
    return Section("By hour of the day", (Paragraph(text), shown))


def _by_gain(review: Review) -> Section:
    if not review.curves:
        return Section("By gain", ())
    rows = []
    for one in review.plan.gains:
        efforts = review.at_gain(one.gain_db)
        setting_of = "" if one.setting is None else f" ({setting_name(one.setting)})"
        name = f"{one.gain_db:+g} dB{setting_of}"
        # the shout is the last of the efforts, and clips from farthest off
        cut = min(efforts[-1].clips_within_m, FARTHEST_M)
        cells = (metres(effort.farthest.words_m) for effort in efforts)
        rows.append((name, *cells, metres(cut)))
    text = (
        "A word, at most, while the camera is on. A lower gain protects only where the "
        "converter's own noise covers distant talk. A voice so near that the input clips is "
        "distorted, not hidden: clipped speech is still understood (Licklider and Pollack 1948)."
    )
    if review.plan.survey.site.microphone.converter_noise_dbfs is None:
        text += " The converter's noise is not entered, so only the recording's format counts."
    head = ("gain", *EFFORTS, "shout clips within")
    return Section("By gain", (Paragraph(text), Table(head, tuple(rows))))


def _speech(review: Review) -> Section:
    title, share = "Speech in the sample", review.share
    if share is None:
        why = "is too short"
        if any(one.code == "silent" for one in review.warnings):
            why = "holds nothing but digital silence"
        return Section(title, (Paragraph(f"Not judged: the sample {why}."),))
    sure = f"{100 * share.confidence:g} %"
    text = (
        f"Speech was found in {percent(share.detected_share)} of the time. Allowing for what the "
        f"detector misses and takes for speech: {percent(share.share.best or 0.0)} ({sure} "
        f"interval {percent(share.share.low)} to {percent(share.share.high)})."
    )
    errors = (
        f"Measured on recorded voices in street noise: it finds "
        f"{percent(MEASURED.hits_at_10_db)} of speech 10 dB above the street, "
        f"{percent(MEASURED.hits_at_0_db)} at its level and "
        f"{percent(MEASURED.hits_at_minus_10_db)} 10 dB below, of four people at once "
        f"{percent(MEASURED.hits_of_several)} at its level, of whispering none; it takes "
        f"{percent(MEASURED.false_alarms)} of other sound for speech, of alarms and beepers "
        f"{percent(MEASURED.false_alarms_worst)}. Talk 10 dB below the street is mostly not "
        "counted, though a patient listener may follow it. The share is that of the hours heard."
    )
    return Section(title, (Paragraph(text), Paragraph(errors)))


def _walk_test(review: Review) -> Section:
    if not review.curves:
        return Section("Check on site", ())
    normal = next(one for one in review.at_gain(review.gain_db) if one.effort == "normal")
    radii = (normal.heard.sentences_m, normal.heard.words_m, normal.active.words_m)
    # nobody reads aloud beyond what is claimed
    stations = list(dict.fromkeys(metres(m) for m in sorted(radii) if not isinf(m)))
    where = f"{', then '.join(stations)} from the microphone"
    if not stations:
        where = "the farthest place where people may talk"
    how = (
        "A read-aloud walk test. Ask everyone who can be heard, keep out of the carriageway, and "
        "do it in the hours in which the camera is on. One person stands at "
        f"{where} and reads 20 words in an order of their own, one every three seconds, in a "
        "normal and in a raised voice; the camera records. "
        "Another, who has not seen the order, listens to the recording by headphones as often as "
        "they like and writes down what they catch. Words: "
        f"{', '.join(WORDS)}. Write a row for each distance and voice ({', '.join(COLUMNS)}; hour, "
        "0 to 23, holds it against the noise of its own hour) and give the file to audiolevel "
        "privacy --walk-test. Delete the recording."
    )
    if not review.walked:
        return Section("Check on site", (Paragraph(how),))
    rows = []
    for one in review.walked:
        reading, share = one.reading, one.understood
        best = share.best if share.best is not None else share.low
        rows.append(
            (
                f"{reading.distance_m:g} m",
                reading.voice,
                f"{reading.words_understood} of {reading.words_read}",
                chance(best, share.low, share.high),
                f"{100 * one.computed.low:.0f} to {100 * one.computed.high:.0f} %",
                one.verdict,
            )
        )
    text = (
        "The walk test against what is computed: from a weaker talker at usual moments to a "
        "stronger one in quiet moments, cleaned by software."
    )
    if any(one.verdict == "farther" for one in review.walked):
        text += " More was understood than computed: every distance on this sheet is scaled by it."
    head = ("off", "voice", "understood", "share", "computed", "verdict")
    shown = Table(head, tuple(rows))
    return Section("Check on site", (Paragraph(how), Paragraph(text), shown))
