"""What a trial has to say: how often the trigger fired at each gain, and what that means a day.

Entry point: `trial_document`.
"""

from collections.abc import Sequence
from itertools import groupby

from audiolevel.ground.notices import Notice
from audiolevel.planning.survey import Survey
from audiolevel.planning.trial import Trial
from audiolevel.report.document import (
    Block,
    Document,
    Fact,
    Section,
    Shown,
    Table,
    cautions,
    document,
)
from audiolevel.report.words.quantities import counted, percent, short, span, times
from audiolevel.report.words.reasons import hours_a_day
from audiolevel.report.words.settings import (
    expected,
    on_camera,
    rate,
    to_set,
    trigger_words,
)
from audiolevel.site.sections import setting_name

_TIMES_LISTED = 12


def trial_document(survey: Survey, trials: Sequence[Trial], notices: Sequence[Notice]) -> Document:
    """Trials as a document, by gain, then by recording."""
    of_gains = [list(of) for _, of in groupby(trials, key=lambda trial: trial.gain.gain_db)]
    first = trials[0]
    what = trigger_words(first.trigger, first.gain.gain_db, survey.scale)
    caption = "The level over time, and the firings at each gain on a rail of their own."
    sections = [
        Section("What fired", (*_fired(survey, of_gains), Shown("chart")), "set", lead=True),
        Section("What it would do", (Shown("explore"),), "explore"),
        Section("Listen to what fires", (Shown("listen"),), "listen"),
        cautions(notices),
        Section("Each recording", (_recordings(survey, trials),)),
        Section("Over time", (Shown("trial", caption),)),
    ]
    heard = span(survey.duration_s)
    return document(f"Trial of a {what}", f"{heard} heard", sections)


def _fired(survey: Survey, of_gains: Sequence[Sequence[Trial]]) -> tuple[Block, ...]:
    """One gain as facts, several as a table."""
    display = survey.site.display.line
    windows = survey.site.schedule.active
    hours: tuple[Block, ...] = ()
    if windows:
        hours = (Fact("active", f"a day counts its active hours: {hours_a_day(windows)}", 3),)
    if len(of_gains) == 1:
        return (*_one_gain(survey, of_gains[0]), *hours)
    rows: dict[tuple[str, ...], list[str]] = {}
    for at_gain in of_gains:
        trigger, gain = at_gain[0].trigger, at_gain[0].gain
        number = []
        if display is not None and trigger.mode == "threshold":
            at_db = trigger.at_db
            said = on_camera(display.shown(at_db), display.uncertainty(at_db))
            number = [said.split("camera ")[1]]
        clipped = max(one.gain.clipped_share for one in at_gain)
        told = (*number, _seen(at_gain), rate(at_gain[0].expected), percent(clipped))
        rows.setdefault(told, []).append(_gain_name(survey, gain.gain_db))
    sure = f"{100 * survey.confidence:g} % sure"
    head = ("gain", *["on the camera"] * len(number), "fired", f"expected ({sure})", "clipped")
    # gains at which all comes out alike are one row
    table = Table(head, tuple((", ".join(names), *told) for told, names in rows.items()), 0)
    return (table, *hours)


def _gain_name(survey: Survey, gain_db: float) -> str:
    """The camera's own name of a gain, beside the dB from the recording's."""
    relative = f"{gain_db:+g} dB" if gain_db else "as recorded"
    setting = survey.site.setting_of(gain_db)
    return relative if setting is None else f"{short(setting_name(setting), 16)} ({relative})"


def _one_gain(survey: Survey, at_gain: Sequence[Trial]) -> tuple[Block, ...]:
    first, site = at_gain[0], survey.site
    gain_db = first.gain.gain_db
    tried = to_set(
        first.trigger, gain_db, site.setting_of(gain_db), survey.scale, site.display.line
    )
    seen = sum(len(one.firings) for one in at_gain)
    marked = _not_counted(sum(sum(one.marked) for one in at_gain))
    clipped = max(one.gain.clipped_share for one in at_gain)
    cut = f"; {percent(clipped)} of the samples clip" if clipped > 0 else ""
    return (
        Fact("tried", tried, 0),
        Fact("fired", f"{times(seen)} in {span(survey.duration_s)}{marked}{cut}", 0),
        # of all recordings together, so it is said once
        Fact("expect", expected(first.expected), 0),
        *([Fact("at (s)", _at(first), 5)] if len(at_gain) == 1 and seen else []),
    )


def _seen(trials: Sequence[Trial]) -> str:
    marked = sum(sum(one.marked) for one in trials)
    return f"{sum(len(one.firings) for one in trials)}{f', {marked} marked' if marked else ''}"


def not_counted(trial: Trial) -> str:
    """How many of its firings are wanted sounds, behind their number; "" where none is."""
    return _not_counted(sum(trial.marked))


def _not_counted(marked: int) -> str:
    where = "a marked stretch" if marked == 1 else "marked stretches"
    return f" ({marked} in {where}, not counted)" if marked else ""


def _recordings(survey: Survey, trials: Sequence[Trial]) -> Table:
    rows = tuple(
        (
            one.measurement.path.name,
            _gain_name(survey, one.gain.gain_db),
            _seen([one]),
            span(one.measurement.duration_s),
            percent(one.gain.clipped_share),
            _at(one),
        )
        for one in trials
    )
    return Table(("recording", "gain", "fired", "in", "clipped", "at (s)"), rows)


def _at(trial: Trial) -> str:
    said = ", ".join(_seconds(time) for time, _ in trial.firings[:_TIMES_LISTED])
    more = len(trial.firings) - _TIMES_LISTED
    return f"{said} and {counted(more, 'more', 'more')}" if more > 0 else said


def _seconds(time: float) -> str:
    """To the hundredth; rows of a coarse log may end between two."""
    return f"{time:.2f}" if round(time, 2) == time else f"{time:.3f}"
