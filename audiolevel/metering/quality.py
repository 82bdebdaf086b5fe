"""What about this recording should make its reader careful?

Each caution has a stable code, for programs, and a sentence that says what to do about it.

Entry points: `Notice`, `about`.
"""

from audiolevel.metering.calibration import Scale
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.metering.gain import FOOTROOM_NEEDED_DB
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.statistics import CLIPPED_SHARE_LIMIT
from audiolevel.notices import Notice

# under this length the counting study gives a day no useful interval (docs/counting.md)
SHORT_S = 600.0
# a broadband street peaks 12 to 15 dB above its loudest LAF; 20 dB is rumble the ear does not hear
_RUMBLE_CREST_DB = 20.0
_NEAR_FULL_SCALE_DB = 3.0
_QUIET_DB = FOOTROOM_NEEDED_DB + 4.0


def clipping_notices(heard: Measurement, gain_db: float) -> list[Notice]:
    """Whether this gain clips more than the recording itself."""
    sound = next(one for one in heard.gains if one.gain_db == gain_db)
    if sound.clipped_share <= max(heard.levels.clipping.clipped_share, CLIPPED_SHARE_LIMIT):
        return []
    text = (
        f"at {gain_db:+g} dB {100 * sound.clipped_share:.2g} % of the samples clip: levels near "
        "the top are pressed together, and a rise has no room left"
    )
    return [Notice("clipped", text)]


def about(heard: Measurement, scale: Scale, noise_floor_db: float | None = None) -> list[Notice]:
    """Cautions about one recording.

    Parameters
    ----------
    noise_floor_db : float or None
        The microphone's noise in dB FS, A-weighted; None takes the format's own floor.
    """
    floor = heard.format_floor_db if noise_floor_db is None else noise_floor_db
    found = [
        _silent(heard),
        _clipped(heard),
        _low_frequency_overload(heard),
        _quiet(heard, floor),
        _short(heard),
        _truncated(heard),
        *_channels(heard),
        _uncalibrated(scale),
    ]
    return [caution for caution in found if caution is not None]


def _silent(heard: Measurement) -> Notice | None:
    if heard.levels.lafmax_db > SILENCE_DB + 1:
        return None
    return Notice("silent", "holds only digital silence; check the microphone and record again")


def _clipped(heard: Measurement) -> Notice | None:
    clipping = heard.levels.clipping
    if clipping.verdict == "none":
        return None
    share = f"{100 * clipping.clipped_share:.2g} % of the samples sit at full scale"
    if clipping.verdict == "some":
        return Notice("clipped", f"{share}: the loudest moments are cut; levels hold below them")
    return Notice(
        "clipped", f"{share}: levels and counts near the top are not real; record at less gain"
    )


def _low_frequency_overload(heard: Measurement) -> Notice | None:
    levels = heard.levels
    crest = levels.sample_peak_db - levels.lafmax_db
    if levels.sample_peak_db < -_NEAR_FULL_SCALE_DB or crest < _RUMBLE_CREST_DB:
        return None
    return Notice(
        "low-frequency overload",
        f"samples peak {-levels.sample_peak_db:.1f} dB under full scale while the loudest LAF is "
        f"{crest:.0f} dB lower: wind or rumble fills the input; fit a windshield or lower the gain",
    )


def _quiet(heard: Measurement, floor_db: float) -> Notice | None:
    room = heard.levels.percentiles_db["L90"] - floor_db
    if room >= _QUIET_DB or heard.levels.lafmax_db <= SILENCE_DB + 1:
        return None
    return Notice(
        "quiet",
        f"L90 is {room:.0f} dB above the noise floor: quiet moments are noise; record at more gain",
    )


def _short(heard: Measurement) -> Notice | None:
    if heard.duration_s >= SHORT_S - 1:
        return None
    more = (SHORT_S - heard.duration_s) / 60
    return Notice(
        "short",
        f"{_length(heard.duration_s)} is too short to promise a daily count; "
        f"record {more:.0f} more minutes or longer",
    )


def _length(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.1f} min"


def _truncated(heard: Measurement) -> Notice | None:
    if not heard.truncated:
        return None
    return Notice("truncated", "the file breaks off before its end; measured as far as it goes")


def _channels(heard: Measurement) -> list[Notice]:
    texts = {
        "dead": "carries no sound of the site; check its cable, or listen to another (--channel)",
        "inverted": "is the mirror of the others; check its wiring",
    }
    return [
        Notice(f"channel {fault}", f"channel {number} {texts[fault]}")
        for number, fault in heard.channel_faults
    ]


def _uncalibrated(scale: Scale) -> Notice | None:
    if scale.spl_at_full_scale_db is not None:
        return None
    return Notice(
        "uncalibrated",
        "levels are relative to full scale (dB FS), not sound pressure; see audiolevel calibrate",
    )
