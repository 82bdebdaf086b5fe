"""What are the levels, onsets and clipping? As JSON, in lines of 80 columns, and as a picture."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from audiolevel import __version__
from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.onsets import Onsets
from audiolevel.metering.statistics import Levels
from audiolevel.notices import Notice
from audiolevel.report.figures import BLUE, ORANGE, Picture, new_figure, plain
from audiolevel.report.json_objects import Object, levels_of, number, significant
from audiolevel.report.text import LABEL_WIDTH, entry, span, warnings
from audiolevel.report.wording import notice_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ONSETS_LISTED_FROM_DB = 3.0
ONSET_STEPS_DB = (6, 10, 15, 20)


# --- JSON ----------------------------------------------------------------------------------------


def measured(heard: Sequence[tuple[Measurement, list[Notice]]], scale: Scale) -> Object:
    """The object of `measure`: one entry a recording."""
    return {
        "audiolevel": __version__,
        "recordings": [recording(one, cautions, scale) for one, cautions in heard],
    }


def recording(heard: Measurement, cautions: list[Notice], scale: Scale) -> Object:
    """One recording as `measure` tells it."""
    clipping = heard.levels.clipping
    big = heard.onsets.of_at_least(ONSETS_LISTED_FROM_DB)
    return {
        "path": str(heard.path),
        "start": heard.start.isoformat() if heard.start else None,
        "duration_s": number(heard.duration_s, 3),
        "sample_rate_hz": heard.sample_rate_hz,
        "channels": heard.channels,
        "reference": scale.unit,
        **levels_of(heard.levels, scale),
        "clipping": {
            "clipped_share": significant(clipping.clipped_share),
            "longest_run_s": number(clipping.longest_run_s),
            "verdict": clipping.verdict,
        },
        "onset_count": len(heard.onsets),
        "onsets": _onsets_of(big),
        "onsets_per_hour": onset_rates(heard.onsets, heard.duration_s),
        "rises_within_1_s_per_hour": {
            f"{step} dB": number(3600 * seen / heard.duration_s)
            for step, seen in heard.rises.items()
        },
        "channel_levels": [levels_of(levels, scale) for levels in heard.channel_levels],
        "channel_faults": [{"channel": n, "fault": fault} for n, fault in heard.channel_faults],
        "warnings": [caution.code for caution in cautions],
        "warning_texts": {caution.code: notice_text(caution) for caution in cautions},
    }


def _onsets_of(onsets: Onsets) -> list[Object]:
    columns = (
        onsets.start_s,
        onsets.end_s,
        onsets.level_difference_db,
        onsets.onset_rate_db_per_s,
        onsets.prominence,
    )
    return [
        {
            "start_s": number(start),
            "end_s": number(end),
            "level_difference_db": number(difference),
            "onset_rate_db_per_s": number(rate),
            "prominence": number(p, 3),
        }
        for start, end, difference, rate, p in zip(*(c.tolist() for c in columns), strict=True)
    ]


def onset_rates(onsets: Onsets, duration_s: float) -> Object:
    """Onsets an hour by the step they make and by how fast they make it, and the largest."""
    hours = duration_s / 3600
    difference, rate = onsets.level_difference_db, onsets.onset_rate_db_per_s
    return {
        "by_step": {
            f"{step} dB": number(np.count_nonzero(difference >= step) / hours)
            for step in ONSET_STEPS_DB
        },
        "by_rate": {
            f"{least} dB/s": number(np.count_nonzero((rate >= least) & (difference >= 3)) / hours)
            for least in (10, 20, 50, 100, 200)
        },
        "largest_db": number(float(difference.max())) if len(onsets) else None,
    }


# --- text ----------------------------------------------------------------------------------------


def told(heard: Measurement, cautions: Sequence[Notice], scale: Scale) -> str:
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
        return f"{label:<{LABEL_WIDTH}}{cells}"

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


def _onsets(heard: Measurement) -> list[str]:
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


# --- picture -------------------------------------------------------------------------------------


def levels(heard: Measurement, scale: Scale) -> Picture:
    """LAFmax of each second over time, and how often each level is exceeded."""
    figure = new_figure(10, 3.8)
    left, right = figure.subplots(1, 2, width_ratios=[3, 1], sharey=True)
    figure.suptitle(f"{heard.path.name}: levels in {scale.unit}", x=0.01, ha="left", fontsize=12)
    _over_time(left, heard, scale)
    percents = np.array([1, 2, 5, 10, 20, 30, 50, 70, 80, 90, 95, 99])
    exceeded = [scale.shown(heard.summary.exceeded_db(float(p))) for p in percents]
    right.plot(percents, exceeded, color=BLUE, linewidth=2)
    right.set_xlabel("% of the time exceeded (LAF)", fontsize=9.5)
    plain(right)
    return Picture(figure, f"{heard.path.name}: {_levels_in_words(heard.levels, scale)}")


def _over_time(axes: "Axes", heard: Measurement, scale: Scale) -> None:
    seconds = np.arange(len(heard.second_lafmax_db)) + 0.5
    long = seconds[-1] > 600
    time = seconds / 60 if long else seconds
    level = heard.second_lafmax_db + scale.shown(0.0)
    axes.plot(time, level, color=BLUE, linewidth=0.9, label="LAFmax of each second")
    axes.axhline(scale.shown(heard.levels.laeq_db), color=ORANGE, linewidth=1.2, label="LAeq")
    axes.set_xlabel("minutes" if long else "seconds", fontsize=9.5)
    axes.set_ylabel(scale.unit, fontsize=9.5)
    axes.legend(fontsize=8.5, frameon=False, loc="upper right")
    plain(axes)


def _levels_in_words(found: Levels, scale: Scale) -> str:
    l10, l90 = found.percentiles_db["L10"], found.percentiles_db["L90"]
    return (
        f"LAeq {scale.shown(found.laeq_db):.1f}, LAFmax {scale.shown(found.lafmax_db):.1f}, "
        f"L10 {scale.shown(l10):.1f}, L90 {scale.shown(l90):.1f} {scale.unit}"
    )
