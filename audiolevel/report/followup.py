"""What did the camera do, and what should be set now? As JSON, and in lines of 80 columns."""

from collections.abc import Sequence

from audiolevel import __version__
from audiolevel.followup.comparison import LogComparison, Share
from audiolevel.followup.verdict import Followup
from audiolevel.records import Object, number, significant
from audiolevel.report.json_objects import warnings_of
from audiolevel.report.text import bullets, count, entry, warnings

# --- JSON ----------------------------------------------------------------------------------------


def followed(made: Followup) -> Object:
    """The object of `followup`."""
    best, low, high = made.shift_db
    return {
        "audiolevel": __version__,
        **_checked(made.last),
        "verdict": made.verdict,
        "stuck": made.stuck or None,
        "confidence": made.promise.confidence,
        "unit": made.promise.unit,
        "false_triggers_per_day_limit": made.promise.limit_per_day,
        "shift_db": number(best),
        "shift_low_db": number(low),
        "shift_high_db": number(high),
        "level_for_limit": {
            "best_db": number(made.best_db),
            "safe_db": number(made.safe_db),
            "low_db": number(made.low_db),
            "high_db": number(made.high_db),
        },
        "logs": [_checked(one) for one in made.logs],
        "warnings": warnings_of(made.cautions),
    }


def _checked(one: LogComparison) -> Object:
    recorded_s = one.log.recorded_s
    return {
        "log": one.log.name,
        "setting_db": number(one.at_db),
        "expected_per_day": significant(one.expected_per_day),
        "observed_per_day": significant(one.observed_per_day),
        "observed_days": number(one.days, 4),
        "observed_hours": number(one.covered_s / 3600, 3),
        "exposure_days": number(one.exposure, 4),
        "observed_count": one.count,
        "low_per_day": significant(one.low_per_day),
        "high_per_day": significant(one.high_per_day),
        "p_value": significant(one.p_value),
        "recorded_min_per_day": significant(recorded_s / 60 / one.days),
        "by_day": [_share(row, "date") for row in one.by_day],
        "by_hour": [_share(row, "hour") for row in one.by_hour],
        "hours_standing_out": [int(row.name) for row in one.by_hour if row.stands_out],
    }


def _share(row: Share, name: str) -> Object:
    extra = {"carried_over": row.carried_over} if name == "hour" else {}
    return {
        name: int(row.name) if name == "hour" else row.name,
        "covered_h": number(row.covered_h, 3),
        "expected": significant(row.expected),
        "low": significant(row.low),
        "high": significant(row.high),
        "observed": row.observed,
        "stands_out": row.stands_out,
        **extra,
    }


# --- text ----------------------------------------------------------------------------------------


def told(made: Followup, plan_name: str) -> str:
    """The comparison as a person reads it."""
    promise, last = made.promise, made.last
    names = ", ".join(one.log.name for one in made.logs)
    lines = entry("Follow-up", f"of {plan_name} by {names}; levels in {promise.unit}")
    lines += ["", *entry("VERDICT", _verdict(made))]
    lines += entry("expected", _expected(last, promise.confidence))
    lines += entry("observed", _observed(last))
    lines += entry("chance", in_words(last.p_value))
    lines += _set(made)
    if len(made.logs) > 1 or promise.earlier:
        lines += ["", *_logs(made)]
    lines += ["", *_table("date", last.by_day)]
    lines += ["", *_table("hour", last.by_hour)]
    lines += _standing_out(last)
    lines += warnings(made.cautions)
    return "\n".join(lines)


def in_words(p_value: float) -> str:
    """What a p-value says."""
    if p_value >= 0.2:
        meaning = "chance alone makes such a difference often"
    elif p_value >= 0.05:
        meaning = "chance alone makes such a difference now and then"
    elif p_value >= 0.01:
        meaning = "chance alone would seldom make such a difference"
    else:
        meaning = "chance alone would hardly ever make such a difference"
    shown = f"p = {p_value:.2g}" if p_value >= 0.001 else "p < 0.001"
    return f"{meaning} ({shown})"


def _verdict(made: Followup) -> str:
    meaning = {
        "as expected": "as the plan expected",
        "more": "more firings than the plan allows for",
        "fewer": "fewer firings than the plan allows for",
        "stuck": f"the detector looks stuck: it {made.stuck}; look at the camera first",
        "cannot tell": "cannot tell: too little to compare",
    }
    return meaning[made.verdict]


def _expected(one: LogComparison, confidence: float) -> str:
    low, high = count(one.low_per_day), count(one.high_per_day)
    sure = f"{100 * confidence:g} %"
    if one.expected_per_day != one.expected_per_day:
        return f"at most {high} a day over such a time ({sure}); no best estimate"
    return f"{count(one.expected_per_day)} a day; {sure} for such a time {low} to {high}"


def _observed(one: LogComparison) -> str:
    days = f"{one.days:.1f} days" if one.days >= 1 else f"{24 * one.days:.1f} h"
    return f"{count(one.observed_per_day)} a day: {one.count} firings in {days} of active time"


def _set(made: Followup) -> list[str]:
    best, low, high = made.shift_db
    sure = f"{100 * made.promise.confidence:g} %"
    text = (
        f"{made.best_db:.1f} {made.promise.unit} for {made.promise.limit_per_day:g} a day: "
        f"{best:+.1f} dB from {made.last.at_db:g} ({sure}: {low:+.1f} to {high:+.1f} dB); "
        f"90 % safe {made.safe_db:.1f}"
    )
    if low <= 0 <= high and abs(best) < 0.75:
        text += "; leaving it as it is will do"
    return entry("SET NOW", text)


def _logs(made: Followup) -> list[str]:
    lines = ["what the level rests on                setting   firings      days   p"]
    before = {day.at_db for day in made.promise.earlier}
    for at_db in sorted(before):
        days = [day for day in made.promise.earlier if day.at_db == at_db]
        total, worth = sum(day.count for day in days), sum(day.exposure for day in days)
        lines.append(f"  {'before':<36}{at_db:8g}{total:10d}{worth:10.1f}")
    for one in made.logs:
        name = one.log.name if len(one.log.name) <= 34 else one.log.name[:33] + "…"
        p = f"{one.p_value:.2g}" if one.p_value >= 0.001 else "<0.001"
        lines.append(f"  {name:<36}{one.at_db:8g}{one.count:10d}{one.exposure:10.1f}   {p}")
    return lines


def _table(label: str, rows: Sequence[Share]) -> list[str]:
    lines = [f"{label:<10}covered h expected      interval observed"]
    for row in rows:
        notes = (("<- stands out", row.stands_out), ("carried over", row.carried_over))
        marks = [note for note, holds in notes if holds]
        interval = f"{row.low:.0f} to {row.high:.0f}"
        lines.append(
            f"{row.name:<10}{row.covered_h:9.1f}{row.expected:9.0f}{interval:>14}"
            f"{row.observed:9d}  {', '.join(marks)}".rstrip()
        )
    return lines


def _standing_out(one: LogComparison) -> list[str]:
    hours = [row.name for row in one.by_hour if row.stands_out]
    notes = []
    if hours:
        notes.append(f"hours that stand out against the others of the log: {', '.join(hours)}")
    if any(row.carried_over for row in one.by_hour):
        notes.append("carried over: an hour nobody heard, expected from the traffic alone")
    return bullets("-", notes)
