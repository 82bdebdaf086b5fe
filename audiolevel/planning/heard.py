"""Digital silence taken out of what a plan is made from: it is no time that anybody listened.

Entry points: `heard_part`, `is_silent`, `silence_notices`.
"""

from collections.abc import Sequence
from dataclasses import replace

from audiolevel.ground.notices import Notice, notice
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.gain import SimulatedGain
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.silence import Stretches, bridged, silent_stretches, within
from audiolevel.metering.statistics import known_levels


def is_silent(measurement: Measurement) -> bool:
    """Whether a recording holds nothing but digital silence."""
    return measurement.levels.lafmax_db <= SILENCE_DB + 1


def heard_part(measurement: Measurement) -> Measurement:
    """The measurement without its digital silence; as it is where there is none, or nothing else.

    Parameters
    ----------
    measurement : Measurement
        With its level history.

    Returns
    -------
    Measurement
        With `unheard` stretches: levels, shares and the length heard are without them, and the
        histories at all gains go across them in a straight line. Rows stay where they are, so
        that times do.
    """
    laf, row_s = measurement.laf, measurement.row_s
    if laf is None or is_silent(measurement):
        return measurement
    stretches = silent_stretches(laf, row_s)
    gone = within(stretches, len(laf))
    # a recording with nothing outside them has no level to plan from either way
    if not stretches or gone.all():
        return measurement
    summary = measurement.summary.without(laf[gone])
    # clipped samples are a share of all, and none of them was in the silence
    more = len(laf) / (len(laf) - int(gone.sum()))
    levels = replace(
        known_levels(summary.levels(), measurement.lacking), duration_s=measurement.duration_s
    )
    return replace(
        measurement,
        levels=levels,
        summary=summary,
        unheard=stretches,
        half_scale_share=measurement.half_scale_share * more,
        gains=[_bridged_gain(gain, stretches, more) for gain in measurement.gains],
    )


def _bridged_gain(gain: SimulatedGain, stretches: Stretches, more: float) -> SimulatedGain:
    return replace(
        gain,
        clipped_share=gain.clipped_share * more,
        as_recorded=bridged(gain.as_recorded, stretches),
        own=None if gain.own is None else bridged(gain.own, stretches),
    )


def silence_notices(
    left_out: Sequence[Measurement], measurements: Sequence[Measurement]
) -> list[Notice]:
    """Which recordings are left out, and how much of the others nobody heard."""
    several = len(left_out) + len(measurements) > 1
    notices = [
        notice("not heard", "recording", length_s=one.duration_s).of(one.path.name)
        for one in left_out
    ]
    for one in measurements:
        if one.unheard:
            about = notice(
                "not heard",
                "stretches",
                count=len(one.unheard),
                length_s=one.duration_s - one.heard_s,
                whole_s=one.duration_s,
                at_s=one.unheard[0][0] * one.row_s,
            )
            # with one recording its name would say nothing
            notices.append(about.of(one.path.name) if several else about)
    return notices
