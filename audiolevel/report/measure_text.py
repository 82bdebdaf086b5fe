"""A measurement in lines of 80 columns: levels, onsets, clipping."""

from collections.abc import Sequence
from math import isnan

from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import ROW_S
from audiolevel.notices import Notice
from audiolevel.report.measure_json import ONSET_STEPS_DB, ONSETS_LISTED_FROM_DB, onset_rates
from audiolevel.report.text import LABEL_WIDTH, entry, heading, warnings
from audiolevel.report.wording import span


def as_text(measurement: Measurement, notices: Sequence[Notice], scale: Scale) -> str:
    """Levels, onsets and clipping of one recording."""
    what = span(measurement.duration_s)
    if measurement.sample_rate_hz is not None:
        plural = "s" if measurement.channels != 1 else ""
        what += (
            f", {measurement.sample_rate_hz / 1000:g} kHz, {measurement.channels} channel{plural}"
        )
    # a history without a rate; rows other than 10 ms have to be told
    elif measurement.row_s != ROW_S:
        what += f", {measurement.quantity} every {measurement.row_s:g} s"
    lines = [*heading(f"{measurement.path.name}: {what}; levels in {scale.unit}"), ""]
    lines += _levels(measurement, scale)
    for i, levels in enumerate(measurement.channel_levels, 1):
        lines += entry(
            f"channel {i}",
            f"LAeq {scale.shown(levels.laeq_db):z.1f}, "
            f"LAFmax {scale.shown(levels.lafmax_db):z.1f}, "
            f"LCpeak {scale.shown(levels.lcpeak_db):z.1f}",
        )
    lines += _onsets(measurement)
    lines += warnings(notices)
    return "\n".join(lines)


def _levels(measurement: Measurement, scale: Scale) -> list[str]:
    levels = measurement.levels

    def row(label: str, *pairs: tuple[str, float]) -> str:
        cells = "   ".join(
            f"{name:<6}{'?' if isnan(level) else f'{scale.shown(level):z.1f}':>7}"
            for name, level in pairs
        )
        return f"{label:<{LABEL_WIDTH}}{cells}"

    exceeded = levels.percentiles_db
    clipping = levels.clipping
    share = "no sample at full scale"
    # not knowing is not the same as none
    if "clipped" in measurement.lacking:
        share = "whether samples were clipped is not known"
    if clipping.clipped_share > 0:
        share = (
            f"clipping {clipping.verdict}: {100 * clipping.clipped_share:.2g} % of the samples, "
            f"for {clipping.longest_run_s:.2f} s on end"
        )
    peak = "not known"
    if measurement.has_peaks:
        # samples of floating-point files may lie above full scale
        side = "above" if round(levels.sample_peak_db, 1) > 0 else "below"
        peak = f"{abs(levels.sample_peak_db):.1f} dB {side}"
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
        *entry("full scale", f"highest sample {peak}; {share}"),
        *_bandwidth(measurement),
    ]


def _bandwidth(measurement: Measurement) -> list[str]:
    top_hz, rate_hz = measurement.bandwidth_hz, measurement.sample_rate_hz
    if top_hz is None or rate_hz is None:
        return []
    # told to two figures, which is as well as the edge of a sixth-octave is known
    reach = "as far as its sampling rate allows" if 2 * top_hz >= rate_hz else "no farther"
    return entry("bandwidth", f"sound up to {top_hz / 1000:.2g} kHz, {reach}")


def _onsets(measurement: Measurement) -> list[str]:
    onsets = measurement.onsets
    if onsets is None or measurement.rises is None:
        return entry(
            "onsets",
            f"not computed: rows of {measurement.row_s:g} s; the method needs 10 to 25 ms "
            "(NT ACOU 112, ISO/PAS 1996-3)",
        )
    big = onsets.of_at_least(ONSETS_LISTED_FROM_DB)
    rates = onset_rates(onsets, measurement.duration_s)
    steps = ", ".join(f"{step} dB {rates['by_step'][f'{step} dB']:.0f}" for step in ONSET_STEPS_DB)
    lines = entry(
        "onsets",
        f"{len(onsets)} ({len(big)} of {ONSETS_LISTED_FROM_DB:g} dB and more); "
        f"per hour by step: {steps}",
    )
    rises = ", ".join(
        f"{step} dB {3600 * seen / measurement.duration_s:.0f} ({seen} seen)"
        for step, seen in measurement.rises.items()
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
