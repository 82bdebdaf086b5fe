"""Pictures of a plan: firings against the setting, room at each gain, detection by distance.

Entry points: `pictures_of`, `firings_and_gains`, `detection_ranges`.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from audiolevel.counting.predicted import Prediction
from audiolevel.counting.schedule import read_schedule
from audiolevel.ground.arrays import Array
from audiolevel.planning.detection_range import RangeCurve
from audiolevel.planning.option import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.report.figures import (
    BLUE,
    COLOURS,
    GREY,
    INK,
    ORANGE,
    RED,
    SKY,
    Picture,
    legend_below,
    legend_beside,
    new_figure,
    note,
    plain,
)
from audiolevel.report.words.quantities import metres, short, span
from audiolevel.report.words.settings import expected, gain_words, trigger_words
from audiolevel.site.sections import setting_name

_STYLES = ["-", "--", "-.", ":", "-", "--"]
# a day; 8640 is a firing every ten seconds, and a logarithmic axis has no zero
_LOWEST_PER_DAY, _HIGHEST_PER_DAY = 0.1, 8640.0


def pictures_of(plan: SitePlan, name: str) -> dict[str, Picture]:
    """The pictures of a plan, by what their files are called."""
    pictures = {"plan": firings_and_gains(plan, name)}
    if plan.recommended is not None and plan.ranges:
        row = plan.recommended.row
        curves = [of_sound[row] for of_sound in plan.ranges[0][1]]
        pictures["ranges"] = detection_ranges(plan, curves, name)
    return pictures


def firings_and_gains(plan: SitePlan, name: str) -> Picture:
    """Firings against the setting for the recommended mode, and the room at each gain."""
    figure = new_figure(10, 5.2)
    left, right = figure.subplots(1, 2, width_ratios=[3, 2])
    figure.suptitle(
        f"{short(name)}: what to set, and what it will do", x=0.01, ha="left", fontsize=12
    )
    option = plan.recommended
    if option is None:
        left.text(0.5, 0.5, "no setting can be defended yet", ha="center", transform=left.transAxes)
        left.set_axis_off()
    else:
        _counts(left, option, plan)
    _gains(right, plan)
    return Picture(figure, _plan_in_words(plan, name))


def _counts(axes: Axes, option: Option, plan: SitePlan) -> None:
    """The curve of firings a day with its band; how far the sample carries is said on it."""
    prediction = option.curve.prediction
    threshold = option.trigger.mode == "threshold"
    shift = plan.survey.shift_db(option.trigger.mode, option.gain_db)
    x = prediction.settings_db + shift
    _band(axes, x, prediction)
    for method, style, label in (
        ("counted", "-", "counted in the sample"),
        ("extrapolated", "--", "worked out from its loudest sounds"),
    ):
        # nan breaks the line where another method holds
        part = np.where(prediction.method == method, prediction.per_day, np.nan)
        if np.isfinite(part).any():
            axes.plot(x, part, style, color=BLUE, linewidth=2, label=label)
    limit_only = prediction.method == "upper limit"
    if limit_only.any():
        # no best estimate here, so the upper end is drawn and called what it is
        part = np.where(limit_only, prediction.rate_high_per_day, np.nan)
        axes.plot(x, part, ":", color=RED, linewidth=2, label="upper limit only")
    _chosen(axes, option, plan, float(option.trigger.at_db + shift))
    axes.axhline(plan.limit_per_day, color=ORANGE, linewidth=1.2)
    limit = f"limit {plan.limit_per_day:g} a day"
    note(axes, limit, (x[0], plan.limit_per_day), (3, 3), color="#8a5f00")
    axes.set_yscale("log")
    axes.set_ylim(_LOWEST_PER_DAY, _HIGHEST_PER_DAY * 1.6)
    axes.set_yticks([0.1, 1, 10, 100, 1000], ["0.1", "1", "10", "100", "1,000"])
    axes.set_xlim(x[0], x[-1])
    axes.set_ylabel("firings a day", fontsize=9.5)
    unit = plan.survey.scale.unit if threshold else f"dB of {option.trigger.mode}"
    quantity = plan.survey.measurements[0].quantity
    what = f"threshold level, {quantity} in" if threshold else "step within the window,"
    axes.set_xlabel(
        f"{what} {unit}, at {gain_words(option.gain_db, option.gain.setting)}", fontsize=9.5
    )
    active_h = read_schedule(plan.survey.site.schedule.active).hours_active_per_day
    hours = axes.secondary_yaxis(
        "right",
        # only active hours count, so a day is divided by these and not by 24
        functions=(lambda day: np.divide(day, active_h), lambda hour: np.multiply(hour, active_h)),
    )
    what_hours = "of the day" if active_h == 24 else f"of the {active_h:.3g} active hours"
    hours.set_ylabel(f"firings an hour, mean {what_hours}", fontsize=9.5)
    hours.set_yticks([0.01, 0.1, 1, 10, 100], ["0.01", "0.1", "1", "10", "100"])
    hours.tick_params(labelsize=9)
    plain(axes)
    # above the axes: within, some line would run through it
    axes.legend(fontsize=8.5, frameon=False, loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=2)


def _band(axes: Axes, x: Array, prediction: Prediction) -> None:
    # a lower end of 0 would be at minus infinity: drawn below the axis' end
    low = np.maximum(prediction.rate_low_per_day, _LOWEST_PER_DAY / 10)
    sure = f"{100 * prediction.confidence:g} % sure: on average"
    axes.fill_between(
        x, low, prediction.rate_high_per_day, color=SKY, alpha=0.35, linewidth=0, label=sure
    )
    day_low = np.maximum(prediction.low_per_day, _LOWEST_PER_DAY / 10)
    axes.plot(x, day_low, color=GREY, linewidth=0.8)
    axes.plot(x, prediction.high_per_day, color=GREY, linewidth=0.8, label="on a single day")
    if prediction.reach_db is not None:
        # the reach in the unit of the axis; the difference is the same for every setting
        heard = x - prediction.settings_db + prediction.reach_db
        edge = float(heard[0])
        if x[0] < edge < x[-1]:
            axes.axvspan(edge, x[-1], color="#f3f3f3", zorder=0)
            top, how = (edge, _HIGHEST_PER_DAY * 1.3), {"rotation": 90, "va": "top", "bbox": None}
            note(axes, "too loud to say", top, (4, 0), color="#555555", **how)


def _chosen(axes: Axes, option: Option, plan: SitePlan, at: float) -> None:
    prediction, row = option.curve.prediction, option.row
    best = prediction.per_day[row]
    # where only an upper limit is honest the mark sits on it
    y = best if np.isfinite(best) else prediction.rate_high_per_day[row]
    axes.plot([at], [max(y, _LOWEST_PER_DAY)], "D", color=INK, markersize=8, zorder=5)
    axes.axvline(at, color=INK, linewidth=1, linestyle=(0, (1, 2)))
    bold = {"fontsize": 10, "fontweight": "bold", "color": INK, "ha": "right", "va": "top"}
    note(axes, f"set {at:g}", (at, max(y, _LOWEST_PER_DAY)), (-9, -4), **bold)
    limit = option.curve.limit_within_scale
    if limit is not None and limit.low_db is not None:
        shift = at - option.trigger.at_db
        # no upper end known: the bar runs to the edge of the picture
        high = prediction.settings_db[-1] if limit.high_db is None else limit.high_db
        axes.plot(
            [limit.low_db + shift, high + shift],
            [plan.limit_per_day] * 2,
            color=ORANGE,
            linewidth=5,
            alpha=0.5,
            solid_capstyle="butt",
        )


def _gains(axes: Axes, plan: SitePlan) -> None:
    """For every gain: where the site's sound lies between the noise floor and full scale."""
    names = []
    # headroom is counted down from full scale, so a level in dB FS is minus the headroom
    for i, gain in enumerate(plan.gains):
        chosen = plan.recommended is not None and gain is plan.recommended.gain
        colour = BLUE if gain.usable else GREY
        l10 = -gain.headroom_l10_db
        l90 = plan.survey.levels.percentiles_db["L90"] + gain.gain_db
        axes.plot([l90, l10], [i, i], color=colour, linewidth=7, solid_capstyle="butt", alpha=0.85)
        if gain.headroom_db is not None:
            peak = -gain.headroom_db
            axes.plot([l10, min(peak, 0)], [i, i], color=colour, linewidth=1.4)
            # an arrow where the sound would go on past full scale
            axes.plot([min(peak, 0)], [i], ">" if peak > 0 else "|", color=colour, markersize=8)
        # the noise floor, by the room that L90 leaves above it
        axes.plot([l90 - gain.footroom_db], [i], "x", color=colour, markersize=5)
        if chosen:
            axes.axhspan(i - 0.42, i + 0.42, color="#fff3d6", zorder=0)
        value = "" if gain.setting is None else f"{short(setting_name(gain.setting), 20)}:  "
        names.append(f"{value}{gain.gain_db:+g} dB" + ("" if gain.usable else "  (no)"))
    axes.axvline(0, color=RED, linewidth=1.5)
    note(axes, "full scale", (0, len(names) - 0.4), (-4, 2), ha="right", color=RED, bbox=None)
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(-0.6, len(names) - 0.1)
    axes.set_xlabel(
        "dB FS at the input; × noise floor,\nbar L90 to L10, line to the highest sample", fontsize=9
    )
    axes.set_title("room at each gain", fontsize=10, loc="left")
    plain(axes)


def _plan_in_words(plan: SitePlan, name: str) -> str:
    option = plan.recommended
    if option is None:
        return f"{name}: no setting can be defended from {span(plan.survey.duration_s)} of sound."
    what = trigger_words(option.trigger, option.gain_db, plan.survey.scale)
    said = expected(option.expected)
    usable = [f"{gain.gain_db:+g} dB" for gain in plan.gains if gain.usable]
    at = gain_words(option.gain_db, option.gain.setting)
    return (
        f"{name}. Left: firings a day fall as the setting rises; marked is {what} at {at}: {said}. "
        "Right: the site's levels between "
        f"noise floor and full scale at each gain; usable gains are {', '.join(usable)}."
    )


def detection_ranges(plan: SitePlan, curves: Sequence[RangeCurve], name: str) -> Picture:
    """Chance of detection against distance, a line a sound, with the asked share."""
    asked = plan.survey.site.limits.detection
    option = plan.recommended
    what = (
        "" if option is None else trigger_words(option.trigger, option.gain_db, plan.survey.scale)
    )
    drawn, narrow = new_figure(10, 3.8), new_figure(4.4, 4.4)
    title = f"{short(name)}: how far off it is caught, {what}"
    wide = drawn.subplots()
    _ranges(wide, plan, curves)
    wide.set_title(title, fontsize=12, loc="left")
    wide.set_xlabel(
        "distance from the microphone, m (triangles: where it is wanted; bands: what is not "
        "known of its mean level, and chance)",
        fontsize=9.5,
    )
    legend_beside(wide)
    axes = narrow.subplots()
    _ranges(axes, plan, curves)
    axes.set_title(f"caught by a {what}" if what else "caught", fontsize=10, loc="left")
    axes.set_xlabel("distance from the microphone, m", fontsize=9.5)
    legend_below(axes)
    reach = "; ".join(_reach_in_words(curve, asked) for curve in curves)
    said = f"{name}. Chance that {what} catches each sound, by distance. {reach}."
    return Picture(drawn, said, narrow)


def _ranges(axes: Axes, plan: SitePlan, curves: Sequence[RangeCurve]) -> None:
    # colours and styles come round again; the legend has the names
    for curve, colour, style in zip(curves, COLOURS * 3, _STYLES * 3, strict=False):
        axes.plot(
            curve.distance_m,
            100 * curve.probability,
            style,
            color=colour,
            linewidth=2,
            label=short(curve.sound, 24),
        )
        axes.fill_between(
            curve.distance_m,
            100 * curve.low,
            100 * curve.high,
            color=colour,
            alpha=0.15,
            linewidth=0,
        )
    # on its own line, in the curves' order, so that neither needs its colour
    for wanted, curve, colour in zip(plan.survey.site.wanted, curves, COLOURS * 3, strict=False):
        caught = np.interp(wanted.distance_m, curve.distance_m, 100 * curve.probability)
        axes.plot([wanted.distance_m], [caught], "^", color=colour, markersize=9, clip_on=False)
    asked = 100 * plan.survey.site.limits.detection
    dots, said = (0, (1, 2)), f"asked for: {asked:g} %"
    axes.axhline(asked, color=INK, linewidth=1, linestyle=dots, label=said)
    axes.set_xscale("log")
    marks = [1, 2, 5, 10, 20, 50, 100]
    axes.set_xticks(marks, [str(mark) for mark in marks])
    axes.minorticks_off()
    axes.set_xlim(1, 120)
    axes.set_ylim(0, 102)
    axes.set_ylabel("caught, % of the time", fontsize=9.5)
    plain(axes)


def _reach_in_words(curve: RangeCurve, asked: float) -> str:
    far = curve.reaches_m(asked)
    if far is None:
        return f"{curve.sound}: not even at 1 m in {100 * asked:g} % of cases"
    return f"{curve.sound}: {100 * asked:g} % up to about {metres(far)}"
