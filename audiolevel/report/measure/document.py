"""What a measurement has to say: levels, onsets, clipping, bandwidth.

Entry points: `measure_document`, `measurements_document`.
"""

from collections.abc import Sequence
from math import isnan

from audiolevel.ground.notices import Notice
from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import ROW_S
from audiolevel.report.document import WHOLE, Document, Fact, Section, Table, cautions, document
from audiolevel.report.measure.json import ONSET_STEPS_DB, ONSETS_LISTED_FROM_DB, onset_rates
from audiolevel.report.words.quantities import count, counted, percent, span

Judged = tuple[Measurement, Sequence[Notice]]


def measure_document(measurement: Measurement, notices: Sequence[Notice], scale: Scale) -> Document:
    """One recording as a document."""
    facts = Section("What was measured", _facts(measurement, scale), lead=True)
    under = f"{_what(measurement)}; levels in {scale.unit}"
    return document(measurement.path.name, under, [facts, cautions(notices)])


def measurements_document(judged: Sequence[Judged], scale: Scale) -> Document:
    """Several recordings of one site as a document: a table, then each of them."""
    if len(judged) == 1:
        return measure_document(*judged[0], scale)
    names = ("LAeq", "LAFmax", "L10", "L90")
    rows = []
    for one, notices in judged:
        levels = one.levels
        told = (levels.laeq_db, levels.lafmax_db, *(levels.percentiles_db[n] for n in names[2:]))
        shown = (_shown(level, scale) for level in told)
        codes = "; ".join(dict.fromkeys(notice.code for notice in notices))
        rows.append((one.path.name, span(one.duration_s), *shown, codes))
    head = ("recording", "length", *names, "take care")
    table = Section("All recordings", (Table(head, tuple(rows), 0),), lead=True)
    sections = [table, cautions(_of_all(judged))]
    for i, (one, _) in enumerate(judged):
        title = f"{one.path.name}: {_what(one)}"
        facts = _facts(one, scale, ranked=False)
        sections.append(Section(title, facts, f"recording-{i + 1}"))
    return document(counted(len(judged), "recording"), f"levels in {scale.unit}", sections)


def _of_all(judged: Sequence[Judged]) -> list[Notice]:
    """What holds for every recording once, and all else by the recording's name."""
    alike = [one for one in judged[0][1] if all(one in notices for _, notices in judged)]
    named = (
        notice.of(one.path.name)
        for one, notices in judged
        for notice in notices
        if notice not in alike
    )
    return [*alike, *named]


def _what(measurement: Measurement) -> str:
    what = span(measurement.duration_s)
    if measurement.sample_rate_hz is not None:
        rate = f"{measurement.sample_rate_hz / 1000:g} kHz"
        return f"{what}, {rate}, {counted(measurement.channels or 1, 'channel')}"
    # a history without a rate; rows other than 10 ms have to be told
    if measurement.row_s != ROW_S:
        return f"{what}, {measurement.quantity} every {measurement.row_s:g} s"
    return what


def _shown(level: float, scale: Scale) -> str:
    return "?" if isnan(level) else f"{scale.shown(level):z.1f}"


def _facts(measurement: Measurement, scale: Scale, *, ranked: bool = True) -> tuple[Fact, ...]:
    levels = measurement.levels
    exceeded = levels.percentiles_db

    def row(**told: float) -> str:
        return ", ".join(f"{name} {_shown(level, scale)}" for name, level in told.items())

    facts = [
        ("mean", row(LAeq=levels.laeq_db, LCeq=levels.lceq_db, LZeq=levels.lzeq_db)),
        (
            "extremes",
            row(LAFmax=levels.lafmax_db, LASmax=levels.lasmax_db, LAFmin=levels.lafmin_db),
        ),
        ("peak", row(LCpeak=levels.lcpeak_db, LAE=levels.lae_db)),
        ("exceeded", row(**exceeded)),
        ("full scale", _full_scale(measurement)),
        *_bandwidth(measurement),
    ]
    for i, one in enumerate(measurement.channel_levels, 1):
        told = row(LAeq=one.laeq_db, LAFmax=one.lafmax_db, LCpeak=one.lcpeak_db)
        facts.append((f"channel {i}", told))
    facts += _onsets(measurement)
    # the first ones matter most
    return tuple(Fact(name, said, i if ranked else WHOLE) for i, (name, said) in enumerate(facts))


def _full_scale(measurement: Measurement) -> str:
    levels, clipping = measurement.levels, measurement.levels.clipping
    share = "no sample at full scale"
    # not knowing is not the same as none
    if "clipped" in measurement.lacking:
        share = "whether samples were clipped is not known"
    if clipping.clipped_share > 0:
        share = (
            f"clipping {clipping.verdict}: {percent(clipping.clipped_share)} of the samples, "
            f"for {clipping.longest_run_s:.2f} s on end"
        )
    peak = "not known"
    if measurement.has_peaks:
        # samples of floating-point files may lie above full scale
        side = "above" if round(levels.sample_peak_db, 1) > 0 else "below"
        peak = f"{abs(levels.sample_peak_db):.1f} dB {side}"
    return f"highest sample {peak}; {share}"


def _bandwidth(measurement: Measurement) -> list[tuple[str, str]]:
    top_hz, rate_hz = measurement.bandwidth_hz, measurement.sample_rate_hz
    if top_hz is None or rate_hz is None:
        return []
    # told to two figures, which is as well as the edge of a sixth-octave is known
    reach = "as far as its sampling rate allows" if 2 * top_hz >= rate_hz else "no farther"
    return [("bandwidth", f"sound up to {top_hz / 1000:.2g} kHz, {reach}")]


def _onsets(measurement: Measurement) -> list[tuple[str, str]]:
    onsets = measurement.onsets
    if onsets is None or measurement.rises is None:
        said = (
            f"not computed: rows of {measurement.row_s:g} s; the method needs 10 to 25 ms "
            "(NT ACOU 112, ISO/PAS 1996-3)"
        )
        return [("onsets", said)]
    big = onsets.of_at_least(ONSETS_LISTED_FROM_DB)
    rates = onset_rates(onsets, measurement.duration_s)["by_step"]
    steps = ", ".join(f"{step} dB {rates[f'{step} dB']:.0f}" for step in ONSET_STEPS_DB)
    rises = ", ".join(
        f"{step} dB {count(3600 * seen / measurement.duration_s)} ({seen} seen)"
        for step, seen in measurement.rises.items()
    )
    least = f"{len(big)} of {ONSETS_LISTED_FROM_DB:g} dB and more"
    found = [
        ("onsets", f"{len(onsets)} ({least}); per hour by step: {steps}"),
        ("rises", f"within 1 s, per hour: {rises}"),
    ]
    if len(big):
        top = int(big.level_difference_db.argmax())
        said = (
            f"{big.level_difference_db[top]:.1f} dB at {big.start_s[top]:.1f} s, "
            f"{big.onset_rate_db_per_s[top]:.0f} dB/s"
        )
        found.append(("largest", said))
    return found
