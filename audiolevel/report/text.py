"""What does a person on a ladder read: lines of at most 80 columns.

Every count stands with its interval, every level with its unit.
"""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from math import floor, isfinite, log10

import numpy as np
from numpy.typing import NDArray

from audiolevel import dayparts, storage
from audiolevel.calibration import Calibration, DisplayLine, Scale
from audiolevel.catalogue import Sound
from audiolevel.cautions import Caution
from audiolevel.choosing import Option
from audiolevel.counting import Prediction
from audiolevel.curves import Catch
from audiolevel.gain import Room
from audiolevel.listening import Heard
from audiolevel.planning import Plan
from audiolevel.report.objects import ONSET_STEPS_DB, ONSETS_LISTED_FROM_DB, onset_rates
from audiolevel.summary import Levels
from audiolevel.trials import Trial
from audiolevel.triggers import Trigger

Array = NDArray[np.float64]

WIDTH = 80
_LABEL = 12


def count(value: float) -> str:
    """A count to two figures, more would claim too much: 0, 0.3, 4.1, 38, 1,600."""
    if not isfinite(value):
        return "?"
    if value < 0.05:
        return "0"
    digits = 1 - floor(log10(value))
    rounded = round(value, digits)
    return f"{rounded:,.{max(digits, 0)}f}" if rounded < 10 else f"{rounded:,.0f}"


def span(seconds: float) -> str:
    """A length of time: 45 s, 12 min, 3.5 h."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 3 * 3600 else f"{seconds / 3600:.1f} h"


def entry(label: str, text: str) -> list[str]:
    """A label and its text, wrapped beside it."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=f"{label:<{_LABEL}}",
        subsequent_indent=" " * _LABEL,
        break_on_hyphens=False,
        break_long_words=False,
    ) or [label]


def bullets(sign: str, texts: Iterable[str]) -> list[str]:
    """One wrapped paragraph a text, each behind a sign."""
    lines = []
    for text in texts:
        lines += textwrap.wrap(
            text,
            WIDTH,
            initial_indent=f"  {sign} ",
            subsequent_indent="    ",
            break_on_hyphens=False,
        )
    return lines


def warnings(cautions: Iterable[Caution]) -> list[str]:
    """The cautions, each with its code."""
    lines = bullets("!", (f"{caution.code}: {caution.text}" for caution in cautions))
    return ["", "Take care", *lines] if lines else []


# --- measure -------------------------------------------------------------------------------------


def measured(heard: Heard, cautions: Sequence[Caution], scale: Scale) -> str:
    """Levels, onsets and clipping of one recording."""
    what = span(heard.duration_s)
    if heard.sample_rate_hz is not None:
        plural = "s" if heard.channels != 1 else ""
        what += f", {heard.sample_rate_hz / 1000:g} kHz, {heard.channels} channel{plural}"
    lines = [f"{heard.path.name}: {what}; levels in {scale.unit}", ""]
    lines += _levels(heard.levels, scale)
    for i, levels in enumerate(heard.channel_levels, 1):
        lines += entry(
            f"channel {i}",
            f"LAeq {scale.shown(levels.laeq_db):.1f}, LAFmax {scale.shown(levels.lafmax_db):.1f}, "
            f"LCpeak {scale.shown(levels.lcpeak_db):.1f}",
        )
    lines += _onsets(heard)
    lines += warnings(cautions)
    return "\n".join(lines)


def _levels(levels: Levels, scale: Scale) -> list[str]:
    def row(label: str, *pairs: tuple[str, float]) -> str:
        cells = "   ".join(f"{name:<6}{scale.shown(level):7.1f}" for name, level in pairs)
        return f"{label:<{_LABEL}}{cells}"

    exceeded = levels.percentiles_db
    clipping = levels.clipping
    share = "no sample at full scale"
    if clipping.clipped_share > 0:
        share = (
            f"clipping {clipping.verdict}: {100 * clipping.clipped_share:.2g} % of the samples, "
            f"for {clipping.longest_run_s:.2f} s on end"
        )
    return [
        row("mean", ("LAeq", levels.laeq_db), ("LCeq", levels.lceq_db), ("LZeq", levels.lzeq_db)),
        row(
            "extremes",
            ("LAFmax", levels.lafmax_db),
            ("LASmax", levels.lasmax_db),
            ("LAFmin", levels.lafmin_db),
        ),
        row("peak", ("LCpeak", levels.lcpeak_db), ("LAE", levels.lae_db)),
        row("exceeded", *((name, exceeded[name]) for name in ("L1", "L5", "L10", "L50"))),
        row("", *((name, exceeded[name]) for name in ("L90", "L95", "L99"))),
        *entry("full scale", f"highest sample {-levels.sample_peak_db:.1f} dB below; {share}"),
    ]


def _onsets(heard: Heard) -> list[str]:
    onsets = heard.onsets
    big = onsets.of_at_least(ONSETS_LISTED_FROM_DB)
    rates = onset_rates(onsets, heard.duration_s)
    steps = ", ".join(f"{step} dB {rates['by_step'][f'{step} dB']:.0f}" for step in ONSET_STEPS_DB)
    lines = entry(
        "onsets",
        f"{len(onsets)} ({len(big)} of {ONSETS_LISTED_FROM_DB:g} dB and more); "
        f"per hour by step: {steps}",
    )
    rises = ", ".join(
        f"{step} dB {3600 * seen / heard.duration_s:.0f} ({seen} seen)"
        for step, seen in heard.rises.items()
    )
    lines += entry("rises", f"within 1 s, per hour: {rises}")
    if len(big):
        top = int(big.level_difference_db.argmax())
        lines += entry(
            "largest",
            f"{big.level_difference_db[top]:.1f} dB at {big.start_s[top]:.1f} s, "
            f"{big.onset_rate_db_per_s[top]:.0f} dB/s",
        )
    return lines


# --- trial and plan ------------------------------------------------------------------------------


def setting(trigger: Trigger, gain_db: float, scale: Scale) -> str:
    """A trigger in words: `threshold at 84.5 dB SPL`, `rise of 12 dB within 1 s`."""
    if trigger.mode == "threshold":
        return f"threshold at {scale.shown(trigger.at_db, gain_db):g} {scale.unit}"
    return f"{trigger.mode} of {trigger.at_db:g} dB within {trigger.window_s:g} s"


def gain(gain_db: float, gain_setting: float | None) -> str:
    """A gain in words: `gain setting 2 (as recorded)`, `gain -12 dB from the recording's`."""
    relative = "as recorded" if gain_db == 0 else f"{gain_db:+g} dB from the recording's"
    return f"gain {relative}" if gain_setting is None else f"gain {gain_setting:g} ({relative})"


def expected(prediction: Prediction, row: int) -> str:
    """Firings a day with their limits; never a number alone."""
    low, high = prediction.rate_low_per_day[row], prediction.rate_high_per_day[row]
    sure = f"{100 * prediction.confidence:g} %"
    if prediction.method[row] == "upper limit":
        return (
            f"fewer than {count(high)} a day ({sure}); none in {span(prediction.heard_s)}, "
            "so no best estimate"
        )
    one_low, one_high = prediction.low_per_day[row], prediction.high_per_day[row]
    return (
        f"{count(prediction.per_day[row])} a day; {sure} sure: the rate {count(low)} to "
        f"{count(high)}, a single day {count(one_low)} to {count(one_high)} "
        f"({prediction.method[row]}, {prediction.count[row]} seen in {span(prediction.heard_s)})"
    )


def tried(trial: Trial, scale: Scale, *, named: bool = False) -> str:
    """One trial of one trigger at one gain; `named` puts the recording's name before it."""
    gain_db, clipped_share = trial.sound.gain_db, trial.sound.clipped_share
    name = f"{trial.heard.path.name}: " if named else ""
    lines = [f"{name}{setting(trial.trigger, gain_db, scale)}, {gain(gain_db, None)}"]
    clipped = f"; {100 * clipped_share:.2g} % of the samples clip" if clipped_share else ""
    fired = f"{len(trial.fired)} times in {span(trial.heard.duration_s)}{clipped}"
    lines += entry("  fired", fired)
    if trial.fired:
        times = ", ".join(f"{time:.2f}" for time, _ in trial.fired[:12])
        lines += entry("  at (s)", times + (", …" if len(trial.fired) > 12 else ""))
    lines += entry("  expect", expected(trial.prediction, 0))
    return "\n".join(lines)


def planned(plan: Plan, name: str) -> str:
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
    lines = entry("FIRST", first[0].text) if first else []
    lines += entry("SET", f"{gain(option.gain_db, option.gain_setting)}; {where}")
    lines += entry("because", plan.reason[0].lower() + plan.reason[1:])
    lines += entry("expect", expected(option.curve.prediction, option.row))
    lines += _limit(plan, option)
    lines += _catches(option)
    lines += _hours(plan, option)
    lines += _parts(plan, option)
    lines += entry("card", storage.told(held)) if held is not None else []
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
        lines += entry("hours", hours_not_heard(np.flatnonzero(heard == 0).tolist()))
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


def hours_not_heard(hours: Sequence[int]) -> str:
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


def _chance(catch: Catch, row: int) -> str:
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


def _gain_row(room: Room, value: float | None) -> str:
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


# --- calibrate -----------------------------------------------------------------------------------


def calibrated(
    found: Calibration | None,
    display: DisplayLine | None,
    cautions: Sequence[Caution],
    sections: Mapping[str, str],
) -> str:
    """What was found, and the lines for the site file."""
    lines = []
    if found is not None:
        lines += entry(
            "full scale",
            f"{found.spl_at_full_scale_db:.1f} dB SPL, within {found.uncertainty_db:.1f} dB "
            f"(95 %), from {found.method}",
        )
    if display is not None:
        lines += entry(
            "display",
            f"shown = {display.slope:.3f} × level + {display.offset:.1f}; the readings lie within "
            f"{display.residual_db:.1f} dB of it",
        )
    lines += warnings(cautions)
    lines += ["", "For the site file:", ""]
    for name, body in sections.items():
        lines += [f"[{name}]", body, ""]
    return "\n".join(lines).rstrip()


# --- sounds --------------------------------------------------------------------------------------


def catalogued(sounds: Sequence[Sound]) -> str:
    """The built-in sounds, each with its level and who says so."""
    lines = []
    for sound in sounds:
        low, high = sound.range_db
        spread = "" if low == high else f" ({low:g} to {high:g})"
        lines += [
            f"{sound.name}: {sound.measure} {sound.level_db:g} dB(A){spread} at {sound.at_m:g} m, "
            f"{sound.duration_s:g} s",
            *entry("  course", sound.time_course),
            *entry("  level", f"{sound.source} [{sound.certainty}]"),
            *entry("  shape", f"{sound.shape_source} [{sound.shape_certainty}]"),
        ]
    lines += ["", *textwrap.wrap(_LOUD, WIDTH)]
    return "\n".join(lines)


_LOUD = (
    "Test sounds at these levels harm hearing and alarm people: do not play them at full level, "
    "warn those nearby, and wear protection."
)


def rendered(
    sound: Sound, path: str, distance_m: float, spl_at_full_scale_db: float, samples: Array
) -> str:
    """What was written, and how loud its samples are to be taken."""
    peak_db = float(20 * np.log10(np.abs(samples).max()))
    cut = "; its peaks are cut" if peak_db > 0 else ""
    said = (
        f"{path}: {sound.name} at {distance_m:g} m, where a full-scale sine is "
        f"{spl_at_full_scale_db:g} dB SPL; highest sample {peak_db:.1f} dB FS{cut}. {_LOUD}"
    )
    return "\n".join(textwrap.wrap(said, WIDTH))
