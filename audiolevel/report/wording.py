"""The sentences of the program, in one voice: lengths of time, shares, and every caution.

Domain functions return facts; what they mean is said here, so that text, JSON and pages agree.
"""

from collections.abc import Callable, Iterable, Mapping
from math import isfinite, isinf

from audiolevel.notices import Notice
from audiolevel.planning.storage import CardLife


def seconds(value: float) -> str:
    """A length of time to the minute: 45 s, 12.5 min."""
    return f"{value:.0f} s" if value < 90 else f"{value / 60:.1f} min"


def span(value: float, *, whole_hours: bool = False) -> str:
    """A length of time in round numbers: 45 s, 12 min, 3.5 h."""
    if value < 90:
        return f"{value:.0f} s"
    if value < 3 * 3600:
        return f"{value / 60:.0f} min"
    return f"{value / 3600:.0f} h" if whole_hours else f"{value / 3600:.1f} h"


def days(value: float) -> str:
    """A length of time in days: 7.5 h, 3.1 days, 40 days."""
    if isinf(value) or value > 3650:
        return "10 years or more"
    if value < 2:
        return f"{24 * value:.1f} h"
    return f"{value:.1f} days" if value < 20 else f"{value:.0f} days"


def percent(share: float) -> str:
    """A share to two figures: 0.22 %, 38 %, all."""
    return f"{100 * share:.2g} %" if share < 0.995 else "all"


# --- cautions ------------------------------------------------------------------------------------


Sentences = Mapping[tuple[str, str], Callable[..., str]]


def sentence(sentences: Sentences, notice: Notice) -> str:
    """The sentence of a notice's code and cause, behind the name of what it is about.

    Raises
    ------
    KeyError
        There is none.
    """
    said = sentences[notice.code, notice.cause](**notice.facts)
    return f"{notice.source}: {said}" if notice.source else said


def notice_text(notice: Notice) -> str:
    """A caution in words."""
    if (notice.code, notice.cause) not in _SENTENCES:
        return f"{notice.source}: {notice.cause}" if notice.source else notice.cause
    return sentence(_SENTENCES, notice)


def _clipped(clipped_share: float) -> str:
    return f"{100 * clipped_share:.2g} % of the samples sit at full scale"


_SENTENCES: Sentences = {
    # of a recording
    ("silent", ""): lambda: "holds only digital silence; check the microphone and record again",
    ("clipped", "some"): lambda clipped_share: (
        f"{_clipped(clipped_share)}: the loudest moments are cut; levels hold below them"
    ),
    ("clipped", "heavy"): lambda clipped_share: (
        f"{_clipped(clipped_share)}: levels and counts near the top are not real; "
        "record at less gain"
    ),
    ("clipped", "at gain"): lambda gain_db, clipped_share: (
        f"at {gain_db:+g} dB {100 * clipped_share:.2g} % of the samples clip: levels near "
        "the top are pressed together, and a rise has no room left"
    ),
    ("low-frequency overload", ""): lambda peak_below_db, crest_db: (
        f"samples peak {peak_below_db:.1f} dB under full scale while the loudest LAF is "
        f"{crest_db:.0f} dB lower: wind or rumble fills the input; fit a windshield or lower "
        "the gain"
    ),
    ("quiet", ""): lambda footroom_db: (
        f"L90 is {footroom_db:.0f} dB above the noise floor: quiet moments are noise; "
        "record at more gain"
    ),
    ("short", ""): lambda duration_s, more_s: (
        f"{seconds(duration_s)} is too short to promise a daily count; "
        f"record {more_s / 60:.0f} more minutes or longer"
    ),
    ("truncated", ""): lambda: "the file breaks off before its end; measured as far as it goes",
    ("channel dead", ""): lambda channel: (
        f"channel {channel} carries no sound of the site; check its cable, or listen to another "
        "(--channel)"
    ),
    ("channel inverted", ""): lambda channel: (
        f"channel {channel} is the mirror of the others; check its wiring"
    ),
    ("uncalibrated", ""): lambda: (
        "levels are relative to full scale (dB FS), not sound pressure; see audiolevel calibrate"
    ),
    # of a privacy review
    ("uncalibrated", "no radius"): lambda: (
        "without a calibration no distance can be given; calibrate (audiolevel calibrate), or "
        "assume a full scale with --assume-full-scale-db and read the radius as that assumption"
    ),
    ("assumed calibration", ""): lambda spl_at_full_scale_db: (
        f"every distance rests on an assumed full scale of {spl_at_full_scale_db:g} "
        "dB SPL; 6 dB more or less about halves or doubles a radius"
    ),
    ("speech not judged", ""): lambda: (
        "too short to listen for speech (2.3 s are needed); record ten minutes"
    ),
    ("narrow band", ""): lambda top_hz: (
        f"the recording carries speech up to {top_hz:g} Hz; a camera that records higher lets "
        "more be understood"
    ),
    # of a plan
    ("not placed", ""): lambda: (
        "wanted sounds have a sound pressure, so without a calibration none was placed"
    ),
    ("display range", ""): lambda beyond_db, lowest, highest: (
        f"the camera's own scale was read from {lowest:.3g} to {highest:.3g}; the level to set "
        f"lies {beyond_db:.0f} dB outside: read it once there before you rely on the number"
    ),
    ("other recording", ""): lambda other_share, card_gb, other_days: (
        f"something else keeps recording {100 * other_share:.3g} % of the time: "
        f"by itself it fills the {card_gb:g} GB card in {days(other_days)}, "
        "whatever the sound trigger does; look at that first"
    ),
    ("card", "holds fewer"): lambda wanted_days, **held: (
        f"the card holds fewer than the {wanted_days:g} days wanted: {_card(**held)}"
    ),
    ("card", "may hold fewer"): lambda wanted_days, **held: (
        f"the card may hold fewer than the {wanted_days:g} days wanted: {_card(**held)}"
    ),
}


def _card(days_kept: float, low_days: float, high_days: float, recorded_share: float) -> str:
    """How long a card lasts, with its interval."""
    if not isfinite(days_kept) and not isinf(days_kept):
        return f"at least {days(low_days)}, by the upper limit of the count"
    if isinf(days_kept):
        return "nothing fills it"
    return (
        f"{days(days_kept)} ({days(low_days)} to {days(high_days)}), with "
        f"{percent(recorded_share)} of the time recorded"
    )


def card_text(life: CardLife) -> str:
    """How long a card lasts, with its interval."""
    return _card(life.days_kept, life.low_days, life.high_days, life.recorded_share)


def known_notices() -> Iterable[tuple[str, str]]:
    """Every code and cause that has a sentence."""
    return _SENTENCES.keys()
