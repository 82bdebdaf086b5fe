"""What a follow-up has to say: what to set now, what the log shows, by date and hour.

Entry points: `followup_document`, `read_as`.
"""

from collections.abc import Sequence
from datetime import datetime

from audiolevel.followup.comparison import LogComparison, PeriodComparison
from audiolevel.followup.event_log import Log
from audiolevel.followup.time_forms import ORDERS
from audiolevel.followup.verdict import Followup, Verdict
from audiolevel.report.document import (
    Block,
    Document,
    Fact,
    Paragraph,
    Section,
    Shown,
    Table,
    cautions,
    document,
)
from audiolevel.report.words.decisions import decision_text, fault_text
from audiolevel.report.words.quantities import between, count, counted, often
from audiolevel.report.words.settings import gain_words, on_camera

FORMS = {
    "": "",
    "named": "",
    **{order: f"dates {words}" for order, words in ORDERS.items()},
    "epoch": "seconds since 1970, UTC",
    "name": "times from file names",
}
_MEANING = {
    Verdict.AS_EXPECTED: "as {known} expected",
    Verdict.MORE: "more firings than {known} allows for",
    Verdict.FEWER: "fewer firings than {known} allows for",
    Verdict.CANNOT_TELL: "{known} gave only an upper limit",
}
_TELLS_APART = 0.03
_DATES = "Bars: what was expected; dots: what was seen; a ring marks what chance does not explain."
_LEVELS = "Firings a day at each setting, as they were known before the logs and as they are now."


def followup_document(result: Followup, plan_name: str) -> Document:
    """A follow-up as a document; `plan_name` is of the site, or of the plan's file."""
    names = ", ".join(one.log.name for one in result.comparisons)
    sections = [
        Section("What to do now", (*_decision(result), Shown("chart")), "set", lead=True),
        Section("What another setting would do", (Shown("explore"),), "explore"),
        cautions(result.notices, *_standing_out(result.last)),
        Section(
            "Expected and observed",
            (Shown("followup", _DATES), Shown("levels_known", _LEVELS)),
            "expected",
        ),
        Section("By date", _periods("date", result.last.by_day), "dates", folded=True),
        Section("By hour of the day", _periods("hour", result.last.by_hour), "hours", folded=True),
        Section("The logs that the level rests on", _logs(result), "logs", folded=True),
    ]
    under = f"{names}; levels in {result.expectation.unit}"
    return document(f"Follow-up of {plan_name}", under, sections)


def _decision(result: Followup) -> tuple[Block, ...]:
    last, decision = result.last, result.decision
    facts = [
        Fact("SET NOW", set_text(result), 0),
        Fact("VERDICT", verdict_text(result), 0),
        Fact("because", decision_text(decision), 1),
    ]
    # 0 where the whole step was taken
    if decision.short_of_db:
        more = f"{abs(decision.short_of_db):.1f} dB more may follow: no step is larger than 6 dB"
        facts.append(Fact("", f"{more}; follow up again after a day or two", 1))
    changed = catches_text(result)
    facts += [Fact("catches", changed, 1)] if changed else []
    facts += [
        Fact("expected", _expected(last, result.expectation.confidence), 1),
        Fact("observed", _observed(last), 1),
        Fact("limit", limit_text(result), 1),
    ]
    if last.louder_db:
        facts.append(Fact("weather", _weather(last.louder_db), 3))
    facts.append(Fact("chance", p_value_text(last.p_value), 3))
    facts.append(Fact("read as", " ".join(read_as(one.log) for one in result.comparisons), 1))
    return tuple(facts)


def set_text(result: Followup) -> str:
    """What to set now: gain, level, the camera's number, and how far that is from what is set."""
    decision, expectation = result.decision, result.expectation
    option = expectation.option
    level = f"{option.mode} of {decision.set_db:g} dB"
    if option.mode == "threshold":
        number = on_camera(*(result.shown or (None, None)))
        level = f"threshold at {decision.set_db:g} {expectation.unit}{number}"
    at_gain = gain_words(option.gain_db, option.gain_setting)
    if decision.keep:
        return f"nothing: keep {at_gain}; {level}"
    change = f"{decision.set_db - result.last.at_db:+z.1f} dB from {result.last.at_db:g}"
    return f"{at_gain}; {level} ({change})"


def verdict_text(result: Followup) -> str:
    """What the last log says of the plan."""
    if result.fault is not None:
        return f"the detector looks stuck: it {fault_text(result.fault)}; look at the camera first"
    limit = f"the limit of {result.expectation.limit_per_day:g} a day"
    if result.limit_kept is not None:
        said = f"{limit} is {'kept' if result.limit_kept else 'passed'}"
    elif result.last.observed_per_day > result.expectation.limit_per_day:
        said = f"{limit} was passed in this log, by no more than chance may bring"
    else:
        said = f"whether {limit} is kept cannot be told yet"
    if result.last.count == 0:
        return f"{said}; no firing in the active hours"
    known = "the plan with the logs before" if len(result.comparisons) > 1 else "the plan"
    return f"{said}; {_MEANING[result.verdict].format(known=known)}"


def catches_text(result: Followup) -> str:
    """What the new setting catches more or less of; empty where it is kept, or nothing differs."""
    told = []
    for one in result.caught:
        # to whole per cents; chances are known no better than to some
        if abs(one.now - one.before) >= _TELLS_APART:
            where = "marked" if one.distance_m is None else f"at {one.distance_m:g} m"
            chances = f"{100 * one.now:.0f} % instead of {100 * one.before:.0f}"
            told.append(f"{one.sound} {where} {chances}")
    return "; ".join(told)


def limit_text(result: Followup) -> str:
    """At which level the limit is reached, and on which days: other weeks may differ."""
    decision, unit = result.decision, result.expectation.unit
    level = decision.level
    return (
        f"on days like those logged {result.expectation.limit_per_day:g} a day come at "
        f"{level.best:z.1f} {unit} by the best estimate ({100 * result.expectation.confidence:g} % "
        f"sure: {level.low:z.1f} to {level.high:z.1f}), and no more than that with 90 % certainty "
        f"from {decision.safe_db:z.1f}"
    )


def _expected(one: LogComparison, confidence: float) -> str:
    """Firings a day that were expected, with the interval of so long a time."""
    found, sure = one.expected_per_day, f"{100 * confidence:g} %"
    if found.best is None:
        high = count(found.high)
        return f"at most {high} a day in so long a time ({sure} sure); no best estimate"
    ends = between(found.low, found.high)
    return f"{often(found.best)}; {sure} sure: {ends} in so long a time"


def _observed(one: LogComparison) -> str:
    long = f"{one.days:.1f} days" if one.days >= 1 else f"{24 * one.days:.1f} h"
    fired = counted(one.count, "firing")
    often_s = often(one.observed_per_day) if one.count else "none"
    return f"{often_s}: {fired} in {long} of active time"


def _weather(louder_db: float) -> str:
    road, than = ("wet", "louder") if louder_db > 0 else ("dry", "quieter")
    return f"the road was {road}: {abs(louder_db):.1f} dB {than} than the mean day, allowed for"


def p_value_text(p_value: float) -> str:
    """What a p-value says: in how many cases chance alone makes so large a difference."""
    if p_value >= 0.95:
        cases = "nearly every case"
    elif p_value < 0.001:
        cases = "less than one of 1000 cases"
    else:
        # one figure, of as many cases as it takes to have one
        of = next(of for of in (10, 100, 1000) if p_value * of >= 0.95)
        cases = f"{p_value * of:.0f} of {of} cases"
    return f"such a difference comes about by chance alone in {cases}"


def read_as(log: Log) -> str:
    """What a log was taken to mean, for the reader to check."""
    if log.rows_s is None:
        # a log without rows, or one whose moments are not to be told
        rows = counted(log.fired_s.size, "firing") if log.fired_s.size else "no rows"
        return f"{log.name}: {rows}; is that right?"
    first, last = (datetime.fromtimestamp(at_s, log.zone) for at_s in log.rows_s)
    how = FORMS[log.form]
    return (
        f"{log.name}: {_moment(first)} to {_moment(last)}, {counted(log.fired_s.size, 'firing')}"
        f"{f' ({how})' if how else ''}; is that right?"
    )


def _moment(when: datetime) -> str:
    # %-d is not known everywhere
    return f"{when.day} {when:%b %Y %H:%M}"


def _standing_out(one: LogComparison) -> tuple[Block, ...]:
    hours = [row.name for row in one.by_hour if row.stands_out]
    said = f"hours that stand out against the others of the log: {', '.join(hours)}"
    return (Fact("by hour", said, 3),) if hours else ()


def _periods(label: str, periods: Sequence[PeriodComparison]) -> tuple[Block, ...]:
    rows = []
    for one in periods:
        notes = (("stands out", one.stands_out), ("not heard", one.carried_over))
        best = "" if one.expected.best is None else f"{one.expected.best:.0f}"
        interval = f"{one.expected.low:.0f} to {one.expected.high:.0f}"
        said = ", ".join(note for note, holds in notes if holds)
        rows.append((one.name, f"{one.covered_h:.1f}", best, interval, f"{one.observed}", said))
    head = (label, "hours covered", "expected", "interval", "observed", "note")
    carried = any(one.carried_over for one in periods)
    what = "Not heard: an hour in which nobody listened, expected from its traffic alone."
    after = (Paragraph(what),) if carried else ()
    return (Table(head, tuple(rows), sortable=True), *after)


def _logs(result: Followup) -> tuple[Block, ...]:
    rows, earlier = [], result.expectation.earlier
    # one row a setting: the single days stand in the plan
    for at_db in sorted({day.at_db for day in earlier}):
        days = [day for day in earlier if day.at_db == at_db]
        total, worth = sum(day.count for day in days), sum(day.exposure for day in days)
        rows.append(("before", f"{at_db:g}", f"{total}", f"{worth:.1f}", ""))
    for one in result.comparisons:
        chance = f"{100 * one.p_value:.2g} %" if one.p_value >= 0.001 else "under 0.1 %"
        rows.append((one.log.name, f"{one.at_db:g}", f"{one.count}", f"{one.exposure:.1f}", chance))
    head = ("log", f"setting, {result.expectation.unit}", "firings", "days", "by chance")
    return (Table(head, tuple(rows)),)
