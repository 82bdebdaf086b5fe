"""The text of a follow-up: verdict, what to set now, the log by date and hour, in 80 columns."""

from collections.abc import Sequence
from datetime import datetime

from audiolevel.followup.comparison import LogComparison, PeriodComparison
from audiolevel.followup.event_log import Log
from audiolevel.followup.time_forms import ORDERS
from audiolevel.followup.verdict import Followup, Verdict
from audiolevel.report.text import bullets, count, entry, warnings
from audiolevel.report.wording import decision_text, fault_text, number_of


def as_text(result: Followup, plan_name: str) -> str:
    """The comparison as a person reads it."""
    expectation, last = result.expectation, result.last
    names = ", ".join(one.log.name for one in result.comparisons)
    lines = entry("Follow-up", f"of {plan_name} by {names}; levels in {expectation.unit}")
    for number, one in enumerate(result.comparisons):
        lines += entry("" if number else "read as", read_as(one.log))
    lines += ["", *entry("VERDICT", verdict_text(result))]
    lines += entry("expected", expected_text(last, expectation.confidence))
    lines += entry("observed", observed_text(last))
    if last.louder_db:
        lines += entry("weather", _weather(last.louder_db))
    lines += entry("chance", p_value_text(last.p_value))
    lines += _set(result)
    if len(result.comparisons) > 1 or expectation.earlier:
        lines += ["", *_logs(result)]
    lines += ["", *_table("date", last.by_day)]
    lines += ["", *_table("hour", last.by_hour)]
    lines += _standing_out(last)
    lines += warnings(result.notices)
    return "\n".join(lines)


def read_as(log: Log) -> str:
    """What a log was taken to mean, for the reader to check."""
    if log.rows_s is None:
        return f"{log.name}: no rows; is that right?"
    first, last = (datetime.fromtimestamp(at_s, log.zone) for at_s in log.rows_s)
    how = FORMS[log.form]
    return (
        f"{log.name}: {_moment(first)} to {_moment(last)}, {number_of(log.fired_s.size, 'firing')}"
        f"{f' ({how})' if how else ''}; is that right?"
    )


def _moment(when: datetime) -> str:
    # %-d is not known everywhere
    return f"{when.day} {when:%b %Y %H:%M}"


FORMS = {
    "": "",
    "named": "",
    **{order: f"dates {words}" for order, words in ORDERS.items()},
    "epoch": "seconds since 1970, UTC",
    "name": "times from file names",
}


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


def verdict_text(result: Followup) -> str:
    """What the last log says of the plan."""
    if result.fault is not None:
        said = fault_text(result.fault)
        return f"the detector looks stuck: it {said}; look at the camera first"
    meaning = {
        Verdict.AS_EXPECTED: "as the plan expected",
        Verdict.MORE: "more firings than the plan allows for",
        Verdict.FEWER: "fewer firings than the plan allows for",
        Verdict.CANNOT_TELL: "cannot tell: too little to compare",
    }
    return meaning[result.verdict]


def expected_text(one: LogComparison, confidence: float) -> str:
    """Firings a day that were expected, with the interval of so long a time."""
    low, high = count(one.expected_per_day.low), count(one.expected_per_day.high)
    sure = f"{100 * confidence:g} %"
    if one.expected_per_day.best is None:
        return f"at most {high} a day in so long a time ({sure} sure); no best estimate"
    return (
        f"{count(one.expected_per_day.best)} a day; {sure} sure: {low} to {high} in so long a time"
    )


def observed_text(one: LogComparison) -> str:
    """Firings a day that were seen, and in how long."""
    days = f"{one.days:.1f} days" if one.days >= 1 else f"{24 * one.days:.1f} h"
    firings = number_of(one.count, "firing")
    return f"{count(one.observed_per_day)} a day: {firings} in {days} of active time"


def _weather(louder_db: float) -> str:
    road, than = ("wet", "louder") if louder_db > 0 else ("dry", "quieter")
    return f"the road was {road}: {abs(louder_db):.1f} dB {than} than the mean day, allowed for"


def set_text(result: Followup) -> str:
    """What to set now, and how far that is from what is set."""
    decision, unit = result.decision, result.expectation.unit
    if decision.keep:
        return f"nothing: keep {result.last.at_db:g} {unit}"
    change = f"{decision.set_db - result.last.at_db:+z.1f} dB from {result.last.at_db:g}"
    return f"{decision.set_db:g} {unit} ({change})"


def limit_text(result: Followup) -> str:
    """At which level the limit is reached, and on which days: other weeks may differ."""
    decision, unit = result.decision, result.expectation.unit
    limit = f"{result.expectation.limit_per_day:g} a day"
    sure = f"{100 * result.expectation.confidence:g} %"
    level = decision.level
    return (
        f"on days like those logged {limit} come at {level.best:z.1f} {unit} by the best estimate "
        f"({sure} sure: {level.low:z.1f} to {level.high:z.1f}), and no more than that with 90 % "
        f"certainty from {decision.safe_db:z.1f}"
    )


def _set(result: Followup) -> list[str]:
    decision = result.decision
    lines = entry("SET NOW", set_text(result))
    lines += entry("because", decision_text(decision))
    # 0 where the whole step was taken
    if decision.short_of_db:
        more = f"{abs(decision.short_of_db):.1f} dB more may follow: no step is larger than 6 dB"
        lines += entry("", f"{more}; follow up again after a day or two")
    return lines + entry("limit", limit_text(result))


def _logs(result: Followup) -> list[str]:
    lines = ["what the level rests on                setting   firings      days  by chance"]
    # one line a setting: the single days stand in the plan
    before = {day.at_db for day in result.expectation.earlier}
    for at_db in sorted(before):
        days = [day for day in result.expectation.earlier if day.at_db == at_db]
        total, worth = sum(day.count for day in days), sum(day.exposure for day in days)
        lines.append(f"  {'before':<36}{at_db:8g}{total:10d}{worth:10.1f}")
    for one in result.comparisons:
        # the column of names has 34 places
        name = one.log.name if len(one.log.name) <= 34 else one.log.name[:33] + "…"
        chance = f"{100 * one.p_value:.2g} %" if one.p_value >= 0.001 else "<0.1 %"
        lines.append(f"  {name:<36}{one.at_db:8g}{one.count:10d}{one.exposure:10.1f}{chance:>11}")
    return lines


def _table(label: str, rows: Sequence[PeriodComparison]) -> list[str]:
    lines = [f"{label:<10}covered h expected      interval observed"]
    for row in rows:
        notes = (("<- stands out", row.stands_out), ("not heard", row.carried_over))
        marks = [note for note, holds in notes if holds]
        interval = f"{row.expected.low:.0f} to {row.expected.high:.0f}"
        lines.append(
            f"{row.name:<10}{row.covered_h:9.1f}{row.expected.best:9.0f}{interval:>14}"
            f"{row.observed:9d}  {', '.join(marks)}".rstrip()
        )
    return lines


def _standing_out(one: LogComparison) -> list[str]:
    hours = [row.name for row in one.by_hour if row.stands_out]
    notes = []
    if hours:
        notes.append(f"hours that stand out against the others of the log: {', '.join(hours)}")
    if any(row.carried_over for row in one.by_hour):
        notes.append("not heard: an hour in which nobody listened, expected from its traffic alone")
    return bullets("-", notes)
