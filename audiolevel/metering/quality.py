"""Cautions about one recording: silence, clipping, rumble, noise, length, wiring, calibration.

Entry points: `quality_notices`, `clipping_notices`, `levelled_db`.
"""

from collections.abc import Callable
from math import e, exp, log10

from audiolevel.ground.notices import Notice, notice
from audiolevel.metering.calibration import Scale
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.headroom import FOOTROOM_NEEDED_DB
from audiolevel.metering.irregularities import ceiling_db, floor_step
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.meter import FAST_S
from audiolevel.metering.onsets import COARSEST_S
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.statistics import CLIPPED_SHARE_LIMIT

# under this length the counting study gives a day no useful interval (docs/counting.md)
SHORT_S = 600.0
# a broadband street peaks 12 to 15 dB above its loudest LAF; 20 dB is rumble the ear does not hear
_RUMBLE_CREST_DB = 20.0
_NEAR_FULL_SCALE_DB = 3.0
# an impulse as a bang or a shout makes it, to show what a mean over a row makes of it
SHORT_SOUND_S = 0.2
# 10 lg(e) / 125 ms: IEC 61672-1:2013, 5.8
F_FALL_DB_PER_S = 10 * log10(e) / FAST_S
# a sixth-octave below half the rate is the recorder's own filter
_NARROW_SHARE = 0.8
_WIDE_ENOUGH_HZ = 10_000.0
# a caution before a gain is unusable: at 10 dB above it noise adds 0.4 dB
_QUIET_DB = FOOTROOM_NEEDED_DB + 4.0


def quality_notices(
    measurement: Measurement,
    scale: Scale,
    own_noise: Callable[[float], OwnNoise] | None = None,
) -> list[Notice]:
    """Cautions about one recording.

    Parameters
    ----------
    measurement : Measurement
    scale : Scale
        The unit levels are said in; an uncalibrated one is a caution.
    own_noise : callable or None
        Given the format's floor in dB FS, the camera's own noise (`Site.own_noise`); None takes
        the format's floor.

    Returns
    -------
    list of Notice
    """
    floor = measurement.format_floor_db
    if own_noise is not None:
        # at the recorded gain
        floor = own_noise(floor).at(0.0)
    notices = [
        _silent(measurement),
        _clipped(measurement),
        _low_frequency_overload(measurement),
        _quiet(measurement, floor),
        _short(measurement),
        _coarse(measurement),
        None if measurement.has_peaks else notice("no peaks"),
        notice("truncated") if measurement.truncated else None,
        _jumps(measurement),
        _start_found(measurement),
        *(notice(f"channel {fault}", channel=n) for n, fault in measurement.channel_faults),
        *_irregular(measurement),
        _narrow(measurement),
        notice("uncalibrated") if scale.spl_at_full_scale_db is None else None,
    ]
    return [one for one in notices if one is not None]


def _jumps(measurement: Measurement) -> Notice | None:
    if not measurement.jumps:
        return None
    return notice(
        "time gaps",
        jumps=len(measurement.jumps),
        left_out_s=sum(max(0.0, jump_s) for _, jump_s in measurement.jumps),
        first_s=measurement.jumps[0][0],
    )


def _start_found(measurement: Measurement) -> Notice | None:
    if not measurement.start_by or measurement.start is None:
        return None
    start = measurement.start.isoformat(" ", "minutes")
    return notice("start found", measurement.start_by, start=start)


def clipping_notices(measurement: Measurement, gain_db: float) -> list[Notice]:
    """Whether a simulated gain clips more than the recording itself."""
    gain = next(one for one in measurement.gains if one.gain_db == gain_db)
    as_recorded = measurement.levels.clipping.clipped_share
    # so put, NaN (nobody knows) is no caution either
    if not gain.clipped_share > 0 or gain.clipped_share <= max(as_recorded, CLIPPED_SHARE_LIMIT):
        return []
    return [notice("clipped", "at gain", gain_db=gain_db, clipped_share=gain.clipped_share)]


def _silent(measurement: Measurement) -> Notice | None:
    return notice("silent") if measurement.levels.lafmax_db <= SILENCE_DB + 1 else None


def _clipped(measurement: Measurement) -> Notice | None:
    clipping = measurement.levels.clipping
    if clipping.verdict == "none":
        return None
    return notice("clipped", clipping.verdict, clipped_share=clipping.clipped_share)


def _low_frequency_overload(measurement: Measurement) -> Notice | None:
    levels = measurement.levels
    crest_db = levels.sample_peak_db - levels.lafmax_db
    if (
        not measurement.has_peaks
        or levels.sample_peak_db < -_NEAR_FULL_SCALE_DB
        or crest_db < _RUMBLE_CREST_DB
    ):
        return None
    return notice("low-frequency overload", peak_below_db=-levels.sample_peak_db, crest_db=crest_db)


def _quiet(measurement: Measurement, floor_db: float) -> Notice | None:
    footroom_db = measurement.levels.percentiles_db["L90"] - floor_db
    if footroom_db >= _QUIET_DB or measurement.levels.lafmax_db <= SILENCE_DB + 1:
        return None
    return notice("quiet", footroom_db=footroom_db)


def _narrow(measurement: Measurement) -> Notice | None:
    """A recording that carries far less than its sampling rate would."""
    top_hz, rate_hz = measurement.bandwidth_hz, measurement.sample_rate_hz
    if top_hz is None or rate_hz is None:
        return None
    # a codec that ends at 16 kHz takes nothing that a trigger fires on
    if top_hz >= _NARROW_SHARE * rate_hz / 2 or top_hz >= _WIDE_ENOUGH_HZ:
        return None
    return notice("bandwidth", top_hz=top_hz, half_hz=rate_hz / 2)


def _irregular(measurement: Measurement) -> list[Notice]:
    """What a recorder does to a recording that no site does."""
    found, notices = measurement.irregularities, []
    if found.dropouts:
        count, length_s = found.dropouts, found.dropouts_s
        notices.append(notice("irregular", "dropouts", count=count, length_s=length_s))
    if found.repeats:
        notices.append(notice("irregular", "repeats", count=found.repeats))
    held_db = ceiling_db(measurement.second_peak_db) if measurement.has_peaks else None
    if held_db is not None:
        notices.append(notice("irregular", "ceiling", peak_db=held_db))
    step = floor_step(measurement.second_lafmin_db)
    if step is not None:
        at_s, by_db = step
        notices.append(notice("irregular", "floor step", at_s=at_s, by_db=by_db))
    return notices


def levelled_db(interval_s: float) -> float:
    """How far below its LAFmax a steady sound of `SHORT_SOUND_S` reads in an LAeq of one row.

    The sound lies within the row. F weighting rises as 1 − exp(−t / 125 ms) (IEC 61672-1:2013,
    5.8) and the mean falls by the share of the row that the sound fills.
    """
    # −1.0 dB
    f_db = 10 * log10(1 - exp(-SHORT_SOUND_S / FAST_S))
    # a row no longer than the sound is filled by it
    return f_db - 10 * log10(min(1.0, SHORT_SOUND_S / interval_s))


def _coarse(measurement: Measurement) -> Notice | None:
    """What rows further apart than onsets allow blur."""
    row_s = measurement.row_s
    if row_s <= COARSEST_S + 1e-9:
        return None
    if measurement.quantity == "LAeq":
        below_db = levelled_db(row_s)
        return notice("coarse history", "LAeq", interval_s=row_s, below_db=below_db)
    return notice("coarse history", interval_s=row_s, falls_db=F_FALL_DB_PER_S * row_s)


def _short(measurement: Measurement) -> Notice | None:
    length_s = measurement.duration_s
    # a second less than asked for is a recorder's own rounding
    if length_s >= SHORT_S - 1:
        return None
    return notice("short", duration_s=length_s, more_s=SHORT_S - length_s)
