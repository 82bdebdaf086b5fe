"""The sentence of every caution and hint, by its code and what caused it.

Domain functions return facts (`notices.Notice`); what they mean, and what to do about it, is said
here, so that text, JSON and pages agree.

Entry points: `notice_text`, `advice_text`, `known_notices`, `ON_SITE`.
"""

from collections.abc import Callable, Iterable, Mapping
from math import ceil

from audiolevel.ground.notices import Notice
from audiolevel.report.words.quantities import card, count, counted, days, percent, span, times

_Sentences = Mapping[tuple[str, str], Callable[..., str]]


def _sentence(sentences: _Sentences, notice: Notice) -> str:
    """The sentence of a notice's code and cause, behind the name of what it is about."""
    said = sentences[notice.code, notice.cause](**notice.facts)
    return f"{notice.source}: {said}" if notice.source else said


def notice_text(notice: Notice) -> str:
    """A caution in words."""
    return _sentence(_SENTENCES, notice)


def advice_text(advice: Notice) -> str:
    """What would help, in words."""
    return _sentence(_ADVICE, advice)


def _levelled(interval_s: float, below_db: float) -> str:
    """What a mean over a row makes of an impulse of `metering.quality.SHORT_SOUND_S`."""
    # a row shorter than F's own time constant averages less than F does
    if below_db <= 0:
        return f"an impulse of 0.2 s reads up to {-below_db:.1f} dB above its LAFmax"
    return (
        f"an impulse of 0.2 s within a row reads {below_db:.1f} dB below its LAFmax, one across "
        "two rows up to 3 dB less still, so a camera that follows LAF fires on short sounds more "
        "often than counted here"
    )


def _clipped(clipped_share: float) -> str:
    return f"{100 * clipped_share:.2g} % of the samples sit at full scale"


_CAUSES = (
    "a narrow bandwidth, automatic gain, another distance, something in between, or a wrong "
    "calibration"
)


_NO_NOISE = (
    "what noise was heard is {}, and may not be there when people talk: no distance is given, take "
    "it that everybody is heard; record again without it"
)
_LEFT_OUT = (
    "part of the noise heard is {}, and may not be there when people talk: it is left out of what "
    "hides talk"
)
_SENTENCES: _Sentences = {
    # of a recording
    ("silent", ""): lambda: "holds only digital silence; check the microphone and record again",
    ("not heard", "recording"): lambda length_s: (
        f"holds only digital silence ({span(length_s)}) and is left out of all that is counted; "
        "check why before the next visit"
    ),
    ("not heard", "stretches"): lambda count, length_s, whole_s, at_s: (
        f"{span(length_s)} of {span(whole_s)} is digital silence, in "
        f"{counted(count, 'stretch', 'stretches')} from {span(at_s)} on: left out of levels and "
        "counts, and no time listened to; look at the recorder or the stream"
    ),
    ("clipped", "some"): lambda clipped_share: (
        f"{_clipped(clipped_share)}: the loudest moments are cut; levels hold below them"
    ),
    ("clipped", "heavy"): lambda clipped_share: (
        f"{_clipped(clipped_share)}: levels and counts near the top are not real; "
        "record at less gain"
    ),
    ("clipped", "at gain"): lambda gain_db, clipped_share: (
        f"at {gain_db:+g} dB {100 * clipped_share:.2g} % of the samples clip: levels near "
        "the top are pressed together, and a rise has no room left"
    ),
    ("low-frequency overload", ""): lambda peak_below_db, crest_db: (
        f"samples peak {peak_below_db:.1f} dB under full scale while the loudest level is "
        f"{crest_db:.0f} dB lower: wind or rumble fills the input; fit a windshield or lower "
        "the gain"
    ),
    ("quiet", ""): lambda footroom_db: (
        f"quiet moments (L90) lie {abs(footroom_db):.0f} dB "
        f"{'below' if footroom_db < 0 else 'above'} the noise floor, so they are noise; "
        "record at more gain"
    ),
    ("short", ""): lambda duration_s, more_s: (
        f"{span(duration_s)} is too short to promise a daily count; "
        f"record {counted(ceil(more_s / 60), 'more minute')} or longer"
    ),
    ("coarse history", ""): lambda interval_s, falls_db: (
        f"a row every {interval_s:g} s, taken as the highest LAF within it (as LAeq only where the "
        f"column's name has eq in it): firings are told to {interval_s:g} s, sounds closer "
        "than that are one, and onsets are not computed (they need rows of 10 to 25 ms). If the "
        "meter wrote the LAF of one moment, a short "
        f"sound falls by up to {falls_db:.0f} dB before it is read, or is missed: counts and "
        "catches are then too low"
    ),
    ("coarse history", "LAeq"): lambda interval_s, below_db: (
        f"a mean (LAeq) every {interval_s:g} s is not what a meter on F shows: "
        f"{_levelled(interval_s, below_db)}. Onsets need rows of 10 to 25 ms and are left out"
    ),
    ("no peaks", ""): lambda: (
        "the level history has no sample_peak_db: room above is not known (?), gains above the "
        "recorded one count as not usable because nobody knows whether they clip, and the level at "
        "which the input clips is taken to be full scale, though peaks reach it earlier; plan from "
        "the recording, or from a history that measure --history made of it"
    ),
    ("truncated", ""): lambda: "the file breaks off before its end; measured as far as it goes",
    ("time gaps", ""): lambda jumps, left_out_s, first_s: (
        f"{counted(jumps, 'gap or jump', 'gaps or jumps')} of its time stamps, the first after "
        f"{span(first_s)}, {span(left_out_s)} left out in all: nothing was put in place of that, "
        "and it is no time listened to"
    ),
    ("start found", "name"): lambda start: (
        f"taken to begin at {start} by its name; --start says otherwise"
    ),
    ("start found", "metadata"): lambda start: (
        f"taken to begin at {start} by its metadata, which cameras often write in UTC; give the "
        "local time by --start if the hours matter"
    ),
    ("channel dead", ""): lambda channel: (
        f"channel {channel} carries no sound of the site; check its cable, or listen to another "
        "(--channel)"
    ),
    ("channel inverted", ""): lambda channel: (
        f"channel {channel} is the mirror of the others; check its wiring"
    ),
    ("bandwidth", ""): lambda top_hz, half_hz: (
        f"carries sound up to {top_hz / 1000:.2g} kHz only, where its sampling rate allows "
        f"{half_hz / 1000:.2g}: a codec, a filter or a conversion took the rest; what is bright "
        "arrives weaker at the trigger, and is placed so"
    ),
    ("irregular", "dropouts"): lambda count, length_s: (
        f"{times(count)} nothing at all is recorded for 20 ms or more, {length_s:.2g} s together: "
        "packets lost or a gate that closes; what fell into them was neither heard nor counted"
    ),
    ("irregular", "repeats"): lambda count: (
        f"{times(count)} the same stretch of samples comes twice in a row: a buffer was played "
        "again in place of what was lost; look at the recorder or the stream"
    ),
    ("irregular", "ceiling"): lambda peak_db: (
        f"the loudest seconds all peak at {peak_db:z.1f} dB FS: a limiter or a gain control "
        "presses them together; test it (audiolevel calibrate --steady)"
    ),
    ("irregular", "floor step"): lambda at_s, by_db: (
        f"what is quietest steps by {by_db:+z.0f} dB at {span(at_s)}: a gain control, a fan or "
        "another source that began or ended; levels before and after may not be of one kind"
    ),
    ("uncalibrated", ""): lambda: (
        "levels are relative to full scale (dB FS), not sound pressure; see audiolevel calibrate"
    ),
    ("gain not told", "steps"): lambda setting, at: (
        f"recorded at gain setting {setting}, calibrated at {at}, and gain.steps do not say by how "
        "much they differ: levels are dB FS"
    ),
    ("gain not told", "recorded at"): lambda setting: (
        f"recorded at gain setting {setting}, and gain.recorded_at does not say which setting the "
        "calibration holds for: levels are dB FS"
    ),
    # of a privacy review
    ("uncalibrated", "no radius"): lambda: (
        "without a calibration no distance can be given; calibrate (audiolevel calibrate), or "
        "assume a full scale with --assume-full-scale-db and read the radius as that assumption"
    ),
    ("assumed calibration", ""): lambda spl_at_full_scale_db: (
        f"every distance rests on an assumed full scale of {spl_at_full_scale_db:g} "
        "dB SPL; 6 dB more or less about halves or doubles a radius"
    ),
    ("noise not known", "talk"): lambda: (
        "hardly anything but talk was heard, so nothing is known of the noise that hides talk: no "
        "distance is given; record the site while nobody talks"
    ),
    ("noise not known", "wind"): lambda: _NO_NOISE.format("wind on the microphone"),
    ("noise not known", "hiss"): lambda: _NO_NOISE.format("rain, or the camera's own noise"),
    ("noise not known", "steady"): lambda: _NO_NOISE.format("steady, as of a machine or of works"),
    ("noise not known", "gain control"): lambda: (
        "the camera turns its own gain: what it lifts looks like noise that hides talk, so no "
        "distance is given; switch that off and record again"
    ),
    ("noise left out", "wind"): lambda: _LEFT_OUT.format("wind on the microphone"),
    ("noise left out", "hiss"): lambda: _LEFT_OUT.format("rain, or the camera's own noise"),
    ("noise left out", "steady"): lambda: _LEFT_OUT.format("steady, as of a machine or of works"),
    ("gain untested", ""): lambda wider_db: (
        f"whether the camera turns its own gain was not tested: distances are wider by "
        f"{wider_db:g} dB at most, as for a mild gain control; a strong one widens them more "
        "(calibrate --steady)"
    ),
    ("speech not judged", ""): lambda: (
        "too short to listen for speech (2.3 s are needed); record ten minutes"
    ),
    ("narrow band", ""): lambda top_hz: (
        f"the recording carries speech up to {top_hz:g} Hz; a camera that records higher lets "
        "more be understood"
    ),
    # of a plan
    ("marks contradict", "level"): lambda sound, count, median_db: (
        f"{count} marked {sound}: {abs(median_db):.0f} dB "
        f"{'louder' if median_db > 0 else 'quieter'} than worked out from its table, distance "
        "and calibration. Likely causes: "
        f"{_CAUSES}. Chances are taken from the marked ones instead"
    ),
    ("marks contradict", "detection"): lambda sound, caught, low, high: (
        f"{sound}: {100 * caught:.0f} % of the marked ones were caught where {100 * low:.0f} to "
        f"{100 * high:.0f} % were worked out. Likely causes: {_CAUSES}; believe the marked ones"
    ),
    ("nonlinear", ""): lambda apart_db: (
        f"a calibrator's two levels are {apart_db:.1f} dB apart where they are 20: gain control, "
        "a limiter or clipping bends levels, so that no full scale holds; switch it off and record "
        "both again"
    ),
    ("gain control", "found"): lambda: (
        "the camera turns its own gain (calibrate --steady found it): levels after a loud sound "
        "are bent, and no count made from them holds; switch it off and record again"
    ),
    ("out of reach", ""): lambda sound, distance_m, within_m, share: (
        f"{sound} at {distance_m:g} m is put aside, as no setting catches it {100 * share:g} % of "
        "the time; what keeps the limit does so "
        + ("not even at 1 m" if within_m is None else f"within {within_m:.2g} m")
    ),
    ("not placed", ""): lambda: (
        "wanted sounds have a sound pressure, so without a calibration none was placed"
    ),
    ("modes not told", ""): lambda modes, window_s, interval_s: (
        f"{modes} not offered: a window of {window_s:g} s holds fewer than four rows of "
        f"{interval_s:g} s; plan from the recording, or from a log with more rows a second"
    ),
    ("history assumed", "rate"): lambda rate_hz: (
        f"a level history does not say its sampling rate: wanted sounds are made for "
        f"{rate_hz / 1000:g} kHz, and one with much above the camera's band arrives quieter there"
    ),
    ("history assumed", "floor"): lambda floor_db: (
        f"a level history does not say its noise floor: that of 16 bit ({floor_db:.0f} dB FS) is "
        "taken, and room below is an upper limit; give microphone.self_noise_dba"
    ),
    ("gains not simulated", ""): lambda gains: (
        f"{gains}: some of the sound would pass full scale there, and how much that clips only "
        "the waveform can show; they count as not usable, where the recording itself may allow "
        "them: plan from it if they matter"
    ),
    ("display range", ""): lambda beyond_db, lowest, highest: (
        f"the camera's own scale was read from {lowest:g} to {highest:g}; the level to set "
        f"lies {beyond_db:.0f} dB outside: read it once there before you rely on the number"
    ),
    ("other recording", ""): lambda other_share, card_gb, other_days: (
        f"something else keeps recording {100 * other_share:.3g} % of the time: "
        f"by itself it fills the {card_gb:g} GB card in {days(other_days)}, "
        "whatever the sound trigger does; look at that first"
    ),
    ("card", "holds fewer"): lambda wanted_days, **held: (
        f"the card holds fewer than the {counted(wanted_days, 'day')} wanted: {card(**held)}"
    ),
    ("card", "may hold fewer"): lambda wanted_days, **held: (
        f"the card may hold fewer than the {counted(wanted_days, 'day')} wanted: {card(**held)}"
    ),
    # of a log's table
    ("unreadable", ""): lambda rows, of_rows: (
        f"{rows} of {counted(of_rows, 'row')} without a readable time; left out"
    ),
    ("unsorted", ""): lambda: "rows were not in order of time; sorted",
    ("duplicates", ""): lambda rows: f"rows that stand there twice: {rows}; counted once",
    ("within re-arm", ""): lambda rows, rearm_s: (
        f"{counted(rows, 'row follows', 'rows follow')} another within the re-arm time of "
        f"{rearm_s:g} s; counted as one firing with it. Is it set so on the camera?"
    ),
    ("outside", ""): lambda firings: (
        f"{counted(firings, 'firing lies', 'firings lie')} outside the time covered; left out"
    ),
    ("kinds", ""): lambda column, kinds: (
        f"column {column} holds {kinds}, all taken as firings; tell them apart with "
        f"--kind-column {column} --kind NAME"
    ),
    ("zone", "offset changes"): lambda: (
        "the rows' offset from UTC changes; hours are those of the first: give --zone"
    ),
    ("zone", "utc"): lambda: (
        "times are in UTC, so hours of the day are too; give --zone for the local clock"
    ),
    ("wrong clock", ""): lambda rows, of_rows: (
        f"left out: {counted(rows, 'row')} of {of_rows}, more than a year from the others; was the "
        "camera's clock set after it lost its power?"
    ),
    ("clock change", "repeated"): lambda rows: (
        f"{counted(rows, 'row')} in the hour that summer time's end repeats; placed by their order"
    ),
    ("clock change", "skipped"): lambda rows: (
        f"{counted(rows, 'row')} in the hour that summer time skips: is the camera's clock changed?"
    ),
    # of a follow-up
    ("not told apart", ""): lambda: (
        "every row is taken as a firing of the sound trigger: if the camera logs other events "
        "too, it fired less often than counted; then a verdict of fewer holds, one of more may be "
        "their doing, and the level to set is no higher than said"
    ),
    ("span", ""): lambda: (
        "taken to cover the time from its first to its last row; if the camera listened "
        "longer, say so with --from and --to"
    ),
    ("gap outside", ""): lambda gap: (
        f"the gap {gap} lies outside the time covered and takes nothing out of it; check its dates"
    ),
    ("inactive", ""): lambda firings: (
        f"{counted(firings, 'firing')} outside the active hours not counted"
    ),
    ("short", "log"): lambda days: (
        f"covers {days:.2g} {'day' if days == 1 else 'days'}: follow up again after a whole day or "
        "more"
    ),
    ("upper limit", ""): lambda: (
        "the plan gave only an upper limit here, so fewer firings cannot surprise it"
    ),
    ("silent", "no firing"): lambda: (
        "no firing: the detector may be dead; make a sound it must catch (mind ears and "
        "neighbours) and look whether it is logged"
    ),
    ("hours alike", ""): lambda: (
        "the plan has no counts by hour, so every active hour is expected to be alike"
    ),
    ("change", ""): lambda: (
        "how counts fall with a change in level is little known: set, and follow up again"
    ),
}


def known_notices() -> Iterable[tuple[str, str]]:
    """Every code and cause that has a sentence."""
    return _SENTENCES.keys()


# --- advice --------------------------------------------------------------------------------------


def _block(block: str) -> str:
    name, begin, end = block.rsplit(" ", 2)
    return f"the {name} ({begin} to {end} h)"


def _narrowed(now_db: float, after_db: float) -> str:
    return (
        f"what would narrow the level to set most, from ±{now_db:.1f} dB to about "
        f"±{after_db:.1f} dB:"
    )


_ADVICE: _Sentences = {
    ("a day like the sample", ""): lambda hours: (
        f"a day is taken as {counted(round(hours), 'hour')} like the sample's: a sample from a "
        "busy hour overstates the day, one from a quiet hour understates it"
    ),
    ("visits differ", ""): lambda apart_db, sure_db: (
        f"the visits' L10 differ by {apart_db:.1f} dB; from visits like these the "
        f"mean day's level is known to ±{sure_db:.1f} dB"
    ),
    ("kind unused", ""): lambda: (
        "site.kind changes nothing any more: one belief holds for all places"
    ),
    ("hours unlike", ""): lambda hour: (
        f"heard at hours unlike the active ones: visit about {hour}:00 too"
    ),
    ("hours unlike", "heard too"): lambda hour: (
        "most of what was heard is of hours unlike the active ones: plan from the active hours "
        "alone (from and to of a [[visit]], or --from and --to)"
    ),
    ("narrows most", "another hour"): lambda hour, now_db, after_db: (
        f"{_narrowed(now_db, after_db)} one more visit, around {hour:02d}:00"
    ),
    ("narrows most", "another day"): lambda hour, now_db, after_db: (
        f"{_narrowed(now_db, after_db)} one more visit on another day, around {hour:02d}:00"
    ),
    ("narrows most", "two days of log"): lambda hour, now_db, after_db: (
        f"{_narrowed(now_db, after_db)} two days of the camera's own log at this setting"
    ),
    ("hours not heard", ""): lambda blocks: (
        f"not heard yet, and worth a visit: {', '.join(map(_block, blocks.split(';')))}"
    ),
    ("listen longer", ""): lambda limit_per_day, more_s: (
        f"to show by counting alone that a setting keeps {limit_per_day:g} a day, listen "
        f"{span(more_s, whole_hours=True)} more"
    ),
    ("nearer", ""): lambda within: f"nearer: with the microphone within {within}, both can be had",
    ("nearer", "some"): lambda within: (
        f"nearer: within {within}, what keeps the limit catches it; the others not even at 1 m"
    ),
    ("nearer", "marked"): lambda sound, lacking_db: (
        f"nearer: {sound} would have to arrive {lacking_db:.1f} dB louder (half the way brings "
        "6 dB)"
    ),
    ("elsewhere", ""): lambda: (
        "as it is, this place cannot have both: bring the microphone to the sound, or want another"
    ),
    ("leave out", ""): lambda sound: (
        f"without {sound} among the wanted sounds, a setting keeps the limit and catches the rest"
    ),
    ("another mode", ""): lambda mode, at_db, share: (
        f"another mode: a {mode} of {at_db:g} dB keeps the limit and catches {percent(share)}, if "
        "the camera has it (trigger.modes)"
    ),
    ("another limit", ""): lambda per_day: (
        f"another limit: with {count(per_day)} firings a day put up with, both can be had"
    ),
    ("fewer hours", ""): lambda begin, end, hours: (
        f"fewer hours: on from {begin:02d} to {end:02d} h only ({hours} h), what catches enough "
        "keeps the limit by the best estimate"
    ),
    ("camera scale", ""): lambda: (
        "what to type into the camera is not known yet: play a steady sound from a phone at two or "
        "three levels, note each time the number the camera shows, record the same minutes, then: "
        "audiolevel calibrate --record FILE --at 0:20=41 --at 1:05=63 (minute:second = number)"
    ),
    ("lower the gain", ""): lambda by_db: (
        f"lower the gain by {by_db:g} dB, record again there and plan again: "
        "what was clipped cannot be counted"
    ),
    ("lower the gain", "below all"): lambda: (
        "lower the gain below every setting considered here and record again"
    ),
    ("record again", ""): lambda: (
        "record again, louder or longer, at a gain that neither clips nor is silent"
    ),
    ("gain test", ""): lambda: (
        "whether the camera turns its own gain is not tested: a minute with a phone's tone and "
        "nine claps shows it (audiolevel calibrate --steady FILE)"
    ),
    ("follow up", ""): lambda: "after a day or two compare the camera's log: audiolevel followup",
}

# What can hurt somebody while a camera is fitted, tried or switched on: common practice; local
# codes, law and licensed practice go before it.
ON_SITE = (
    "A ladder stands on firm ground, is held or tied, and is not for reaching aside; beside "
    "traffic have the lane closed or somebody watch it.",
    "Leave fixed mains wiring to licensed people, and keep clear of overhead lines.",
    "A test sound loud enough to fire a trigger can harm hearing and alarm others: keep it short, "
    "tell whoever is near, protect your own ears.",
    "Recording people may need their consent, a notice or a decision by whoever is responsible: "
    "ask before sound is switched on. The law of the place goes before anything said here.",
)
