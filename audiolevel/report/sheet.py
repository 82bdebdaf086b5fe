"""What does the person read who decides whether audio may be switched on?

One review, told once as sections of sentences and tables, and written in three ways: text of 80
columns, Markdown for the file, and JSON for programs.

Entry points: `sheet`, `as_text`, `as_markdown`, `reviewed` (the JSON object).
"""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, isinf
from typing import Any

from audiolevel import __version__
from audiolevel.captured import Minutes
from audiolevel.intelligibility import EFFORTS
from audiolevel.lessening import Measure
from audiolevel.overhearing import (
    DISTANCES_M,
    FARTHEST_M,
    QUIETER_DB,
    TALKER_DB,
    UNDERSTOOD_INDEX,
    understood,
)
from audiolevel.privacy import Review
from audiolevel.report.objects import number, significant, warnings_of
from audiolevel.report.text import WIDTH, bullets, count, gain, setting, span
from audiolevel.speech import MEASURED

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


@dataclass(frozen=True)
class Table:
    """Columns and rows of text."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Section:
    """A title, then paragraphs, a table and points, as far as there are any."""

    title: str
    paragraphs: tuple[str, ...] = ()
    table: Table | None = None
    points: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """A titled list of sections."""

    title: str
    sections: tuple[Section, ...]


def sheet(found: Review, name: str, date: str) -> Sheet:
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
    names = ", ".join(one.path.name for one in plan.survey.heard)
    full_db = plan.scale.spl_at_full_scale_db
    scale = "not calibrated: levels are relative to full scale, and no distance can be given"
    if full_db is not None:
        how = "assumed" if found.assumed else "as calibrated"
        scale = f"a sine of {full_db:g} dB SPL just fills the scale ({how})"
    return Section(
        "Made",
        points=(
            f"{date}, with audiolevel {__version__}",
            f"from {span(plan.heard_s)} of sound: {names}",
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
    what = setting(option.trigger, option.gain_db, plan.scale)
    caught = (
        f"Captured: at {gain(option.gain_db, option.gain_setting)}, {what}, each firing keeps all "
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
    for room, value in zip(found.plan.rooms, found.plan.settings, strict=True):
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
        f"Measured on recorded and synthetic voices in street noise: it finds "
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
    return Section("Retention", (text,))


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
    points = [f"{one.code}: {one.text}" for one in found.warnings]
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


# --- three ways to write it ----------------------------------------------------------------------


def as_text(made: Sheet) -> str:
    """Lines of at most 80 columns."""
    lines = [made.title, "=" * min(WIDTH, len(made.title))]
    for i, section in enumerate(made.sections, 1):
        lines += ["", f"{i}. {section.title}"]
        for paragraph in section.paragraphs:
            lines += textwrap.wrap(
                paragraph,
                WIDTH,
                initial_indent="   ",
                subsequent_indent="   ",
                break_on_hyphens=False,
            )
        if section.table is not None:
            lines += _columns(section.table)
        lines += bullets("-", section.points)
    return "\n".join(lines)


def _columns(table: Table) -> list[str]:
    """A table for the terminal; too wide cells of the first column are cut to fit."""
    rows = [table.head, *table.rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(table.head))]
    spare = WIDTH - 3 - 2 * (len(widths) - 1) - sum(widths[1:])
    widths[0] = min(widths[0], max(spare, 8))
    out = []
    for row in rows:
        first = row[0] if len(row[0]) <= widths[0] else row[0][: widths[0] - 1] + "…"
        cells = [first, *row[1:]]
        padded = [f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)]
        out.append(("   " + "  ".join(padded)).rstrip())
    return out


def as_markdown(made: Sheet, picture: str | None = None, alternative: str = "") -> str:
    """Markdown, with the picture's file after the radius where there is one."""
    lines = [f"# {made.title}", ""]
    for section in made.sections:
        lines += [f"## {section.title}", ""]
        for paragraph in section.paragraphs:
            lines += [_escaped(paragraph), ""]
        if section.table is not None:
            lines += _pipes(section.table)
        if section.points:
            lines += [f"- {_escaped(point)}" for point in section.points] + [""]
        if picture is not None and section.title.startswith("From how far"):
            lines += [f"![{alternative}]({picture})", ""]
    return "\n".join(lines).rstrip() + "\n"


def _pipes(table: Table) -> list[str]:
    rows = [table.head, tuple("---" for _ in table.head), *table.rows]
    return ["| " + " | ".join(_escaped(cell) for cell in row) + " |" for row in rows] + [""]


def _escaped(text: str) -> str:
    """Text whose brackets and bars are not taken for links and columns."""
    for sign in "\\[]|<":
        text = text.replace(sign, "\\" + sign)
    return text


def reviewed(found: Review, made: Sheet) -> dict[str, Any]:
    """The object of `privacy`."""
    share, captured = found.share, found.captured
    radii = found.at_gain(found.gain_db)
    return {
        "audiolevel": __version__,
        "reference": found.plan.scale.unit,
        "calibration_assumed": found.assumed,
        "heard_s": number(found.plan.heard_s, 3),
        "intelligibility": [
            {
                "gain_db": number(one.gain_db),
                "effort": one.effort,
                "distance_m": distance,
                "sii": number(one.quiet[i], 4),
                "sii_typical": number(one.typical[i], 4),
                "sii_loud": number(one.loud[i], 4),
            }
            for one in found.carried
            for i, distance in enumerate(DISTANCES_M)
        ],
        "radius_index": UNDERSTOOD_INDEX,
        "radius_gain_db": number(found.gain_db),
        "radius_beyond_m": FARTHEST_M,
        "radius_m": {one.effort: _metres_of(one.radius_m) for one in radii},
        "radius_low_m": {one.effort: _metres_of(one.radius_low_m) for one in radii},
        "radius_high_m": {one.effort: _metres_of(one.radius_high_m) for one in radii},
        "radius_typical_m": {one.effort: _metres_of(one.radius_typical_m) for one in radii},
        "radius_10_db_quieter_m": {one.effort: _metres_of(one.radius_quieter_m) for one in radii},
        "radius_by_hour_m": [
            {"hour": hour, **{effort: _metres_of(value) for effort, value in radius.items()}}
            for hour, radius in sorted(found.by_hour.items())
        ],
        "places": [
            {
                "name": place.name,
                "distance_m": place.distance_m,
                "sii": {effort: number(value, 4) for effort, value in place.index.items()},
                "sii_typical": {e: number(value, 4) for e, value in place.typical.items()},
            }
            for place in found.places
        ],
        "speech_share": None if share is None else number(share.best, 4),
        "speech_share_low": None if share is None else number(share.low, 4),
        "speech_share_high": None if share is None else number(share.high, 4),
        "speech_found_share": None if share is None else number(share.found_share, 4),
        "speech_error_rates": {
            "hits_at_10_db": MEASURED.hits_at_10_db,
            "hits_at_0_db": MEASURED.hits_at_0_db,
            "hits_at_minus_10_db": MEASURED.hits_at_minus_10_db,
            "false_alarms": MEASURED.false_alarms,
            "false_alarms_worst": MEASURED.false_alarms_worst,
        },
        "captured": None
        if captured is None
        else {
            "clip_s": number(captured.clip_s),
            **_minutes_of("recorded", captured.recorded),
            **_minutes_of("speech", captured.speech),
        },
        "measures": [
            {
                "text": measure.text,
                "cost": measure.cost,
                **_minutes_of("speech", measure.speech),
                "detection": number(measure.detection, 4),
                "radius_m": None if measure.radius_m is None else _metres_of(measure.radius_m),
            }
            for measure in found.measures
        ],
        "warnings": warnings_of(found.warnings),
        "sheet": {
            "title": made.title,
            "sections": [
                {
                    "title": one.title,
                    "paragraphs": list(one.paragraphs),
                    "table": None
                    if one.table is None
                    else {"head": list(one.table.head), "rows": [list(r) for r in one.table.rows]},
                    "points": list(one.points),
                }
                for one in made.sections
            ],
        },
    }


def _metres_of(value: float) -> float | None:
    """Metres for JSON; null where it lies beyond what is claimed."""
    return number(value, 2) if isfinite(value) else None


def _minutes_of(what: str, minutes: Minutes | None) -> dict[str, float | None]:
    values: Sequence[float | None] = (None, None, None)
    if minutes is not None:
        values = (minutes.best, minutes.low, minutes.high)
    names = (f"{what}_min_per_day", f"{what}_low_min_per_day", f"{what}_high_min_per_day")
    return {name: significant(value) for name, value in zip(names, values, strict=True)}
