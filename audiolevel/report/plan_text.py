"""What does a person read of a plan: what to set, why, and what it will do?

Entry point: `told`.
"""

from collections.abc import Sequence

import numpy as np

from audiolevel.counting import day_parts as dayparts
from audiolevel.metering.gain import GainMargins
from audiolevel.planning import storage
from audiolevel.planning.choice import Option
from audiolevel.planning.curves import DetectionCurve
from audiolevel.planning.plan import Plan
from audiolevel.report.text import bullets, count, entry, expected, gain, setting, span, warnings
from audiolevel.report.wording import card_life, notice_text


def told(plan: Plan, name: str) -> str:
    """The plan as a person reads it."""
    lines = [f"Plan for {name}: {span(plan.heard_s)} heard; levels in {plan.scale.unit}", ""]
    lines += _recommendation(plan)
    lines += ["", *_gain_table(plan)]
    lines += ["", *_option_table(plan)]
    lines += warnings(plan.warnings)
    if plan.advice:
        lines += ["", "Next", *bullets("-", plan.advice)]
    return "\n".join(lines)


def _recommendation(plan: Plan) -> list[str]:
    option = plan.recommended
    if option is None:
        return [*entry("SET", "nothing yet"), *entry("because", plan.reason)]
    shows = ""
    if option.display_level is not None:
        shows = f" (the camera's own scale: {option.display_level:.0f})"
    where = setting(option.trigger, option.gain_db, plan.scale) + shows
    site = plan.survey.site
    held = storage.of_setting(site, option.curve.prediction, option.row)
    first = [one for one in plan.warnings if one.code == "other recording"]
    lines = entry("FIRST", notice_text(first[0])) if first else []
    lines += entry("SET", f"{gain(option.gain_db, option.gain_setting)}; {where}")
    lines += entry("because", plan.reason[0].lower() + plan.reason[1:])
    lines += entry("expect", expected(option.curve.prediction, option.row))
    lines += _limit(plan, option)
    lines += _catches(option)
    lines += _hours(plan, option)
    lines += _parts(plan, option)
    lines += entry("card", card_life(held)) if held is not None else []
    row = option.other_side_row
    if row is not None:
        other = option.trigger.at(float(option.curve.prediction.settings_db[row]))
        what = setting(other, option.gain_db, plan.scale)
        lines += entry(
            "or instead",
            f"{what} catches enough, but fires {expected(option.curve.prediction, row)}",
        )
    if not plan.reliable:
        lines += entry("", "Not reliable yet: a place to start from, see below.")
    return lines


def _hours(plan: Plan, option: Option) -> list[str]:
    """Active hours, and which hours of the day nobody heard."""
    windows = plan.survey.site.schedule.active
    lines = entry("active", f"{'; '.join(windows)}: a day counts these hours") if windows else []
    by_hour, heard = option.curve.prediction.by_hour, option.curve.prediction.hours_heard
    if by_hour is not None and heard is not None and not heard.all():
        lines += entry("hours", _hours_not_heard(np.flatnonzero(heard == 0).tolist()))
    return lines


def _parts(plan: Plan, option: Option) -> list[str]:
    """Levels by day, evening and night, where that pays."""
    by_part = option.curve.by_part
    if by_part is None or not by_part.pays:
        return []
    unit, shift = "dB of change", 0.0
    if option.trigger.mode == "threshold":
        unit, shift = plan.scale.unit, plan.scale.shown(0.0, option.gain_db)
    shown = dayparts.told(by_part.moved(shift), unit)
    return [line for said in shown for line in entry("by part", said)]


def _hours_not_heard(hours: Sequence[int]) -> str:
    """Which hours are carried over from the traffic, in words."""
    runs: list[list[int]] = []
    for hour in hours:
        if runs and hour == runs[-1][-1] + 1:
            runs[-1].append(hour)
        else:
            runs.append([hour])
    said = ", ".join(f"{run[0]:02d}-{run[-1] + 1:02d}" for run in runs)
    return f"{said} h not heard: carried over from the traffic, with wider intervals"


def _catches(option: Option) -> list[str]:
    """Each wanted sound with its chance and the interval of it."""
    lines = []
    for label, own in (("catches", False), ("marked", True)):
        chances = [
            _chance(catch, option.row)
            for catch in option.curve.catches
            if (catch.distance_m is None) is own
        ]
        lines += entry(label, "; ".join(chances)) if chances else []
    return lines


def _chance(catch: DetectionCurve, row: int) -> str:
    where = "" if catch.distance_m is None else f" at {catch.distance_m:g} m"
    best, low, high = (100 * part[row] for part in (catch.probability, catch.low, catch.high))
    return f"{catch.sound}{where} {best:.0f} % ({low:.0f} to {high:.0f})"


def _limit(plan: Plan, option: Option) -> list[str]:
    limit = option.curve.limit
    unit = plan.scale.unit if option.trigger.mode == "threshold" else "dB of change"
    asked = f"at most {plan.limit_per_day:g} a day"
    if limit is None:
        return entry("limit", f"which level gives {asked} cannot be said from this recording")

    def shown(level: float) -> str:
        threshold = option.trigger.mode == "threshold"
        return f"{plan.scale.shown(level, option.gain_db) if threshold else level:.1f}"

    safe = "not known" if limit.safe_db is None else shown(limit.safe_db)
    high = "?" if limit.high_db is None else shown(limit.high_db)
    return entry(
        "limit",
        f"{asked}: best {shown(limit.best_db)}, 90 % safe {safe}, "
        f"{100 * option.curve.prediction.confidence:g} % interval {shown(limit.low_db)} to {high} "
        f"{unit}; the setting above is the {option.basis} one",
    )


def _gain_table(plan: Plan) -> list[str]:
    lines = ["gain            room above, dB      room below, dB   clipped   usable"]
    lines += ["                peak   from L10     L90 to noise"]
    for room, value in zip(plan.rooms, plan.settings, strict=True):
        notes = []
        if plan.recommended is not None and room is plan.recommended.room:
            notes.append("<- set")
        lost = plan.lost_to_clipping(room)
        if room.usable and lost:
            notes.append(f"cuts {len(lost)} wanted")
        lines.append(f"{_gain_row(room, value)}  {', '.join(notes)}".rstrip())
    return lines


def _gain_row(room: GainMargins, value: float | None) -> str:
    name = f"{room.gain_db:+g} dB" + ("" if value is None else f" ({value:g})")
    about = "~" if room.estimated else ""
    percent = 100 * room.clipped_share if room.clipped_share >= 5e-7 else 0
    share = f"{about}{percent:.2g} %"
    usable = "yes" if room.usable else "no"
    return (
        f"{name:<14}{room.headroom_db:6.0f} {room.headroom_l10_db:10.0f} {room.footroom_db:16.0f}"
        f"   {share:>9}   {usable:<3}"
    )


def _option_table(plan: Plan) -> list[str]:
    """The best of each mode: the recommended one first, then the runners-up."""
    if not plan.by_mode:
        return []
    asks = bool(plan.by_mode[0].curve.asked)
    head = "each mode at its best                   firings a day (95 % of the rate)"
    lines = [head.replace("95", f"{100 * plan.survey.confidence:g}") + ("  caught" if asks else "")]
    for option in plan.by_mode:
        prediction, row = option.curve.prediction, option.row
        high = count(prediction.rate_high_per_day[row])
        if prediction.method[row] == "upper limit":
            figures = f"fewer than {high}"
        else:
            best, low = prediction.per_day[row], prediction.rate_low_per_day[row]
            figures = f"{count(best)} ({count(low)} to {high})"
        what = setting(option.trigger, option.gain_db, plan.scale)
        least = option.least_caught
        caught = "" if least is None else f"{100 * least.probability[row]:6.0f} %"
        line = f"  {what:<28}{option.gain_db:+4g} dB    {figures:<27}{caught}"
        lines.append(line.rstrip())
    return lines
