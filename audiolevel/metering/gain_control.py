"""A test of one minute for gain control: what a clap does to a steady tone.

A camera that turns its own gain down after a loud sound, limits it, or suppresses steady sounds
bends every level after an event, and no count made from its levels holds. Street sound alone does
not show it. A steady tone does: somebody claps beside it, and if the tone is weaker right after
the claps than before them (or stronger, where they open a gate), the gain has moved.

Entry points: `steadiness`, `Steadiness`, `steady_tone`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import butter, oaconvolve, sosfilt

from audiolevel.ground.arrays import Array, IntArray
from audiolevel.ground.errors import RecordingError
from audiolevel.metering.decibels import level_db
from audiolevel.metering.recordings import Recording
from audiolevel.metering.weighting import filters

TONE_HZ = 1000.0
# a phone's tone is steady to parts in a million, but its nominal 1 kHz is not looked up
_TONE_WITHIN = 0.03
# the tone is followed within ±25 Hz: a clap beside it is broad and hardly enters
_HALF_BAND_HZ = 25.0
# nine claps are asked for; some may drown in a lorry
CLAPS_ASKED = 9
_FEWEST_CLAPS = 5
# a clap lasts 10 to 30 ms and hands clap no faster than every half second
_APART_S = 1.5
# how far a clap stands out of its surroundings above 2 kHz
_CLAP_DB = 10.0
_CLAP_ABOVE_HZ = 2000.0
# the tone is compared from 0.6 to 0.15 s before a clap with 0.12 to 0.45 s after it: late enough
# for the clap itself and its echo to be gone, early enough for a gain that comes back
_BEFORE_S = (-0.60, -0.15)
_AFTER_S = (0.12, 0.45)
# the tone must stand this far above the site for the site not to move its level
TONE_ABOVE_DB = 10.0
# none of a hundred simulated cameras without gain control bends more (docs/gain.md)
FOUND_FROM_DB = 0.3
_STEP_S = 0.01
# of the rendered tone: 12 dB below full scale leaves room in any player
_TEST_TONE_PEAK = 0.25
_TEST_TONE_S = 60.0


@dataclass(frozen=True)
class Steadiness:
    """What claps make of a steady tone.

    Attributes
    ----------
    change_db : float
        Median change of the tone's level after a clap: negative where the gain was turned down,
        positive where a gate was opened.
    claps : int
        Heard and used.
    tone_above_db : float
        The tone over the site's A-weighted sound.
    """

    change_db: float
    claps: int
    tone_above_db: float

    @property
    def gain_control(self) -> bool:
        """Whether the camera bends its levels."""
        return abs(self.change_db) >= FOUND_FROM_DB


def steadiness(recording: Recording, channel: int = 1) -> Steadiness:
    """Look for gain control in a recording of a steady 1 kHz tone and about nine claps.

    Parameters
    ----------
    recording : Recording
        A minute or so; five minutes at most are looked at.
    channel : int
        From 1.

    Returns
    -------
    Steadiness

    Raises
    ------
    RecordingError
        No tone near 1 kHz, one that does not stand 10 dB above the site, or too few claps.
    """
    rate = recording.rate_hz
    parts = [block[:, channel - 1] for block in recording.blocks(stop_s=300)]
    wave = np.concatenate(parts).astype(np.float64) if parts else np.zeros(0)
    if len(wave) < 10 * rate:
        raise RecordingError(
            f"{recording.path}: is too short; play the tone for half a minute and clap "
            f"{CLAPS_ASKED} times, 2.5 s apart"
        )
    tone_hz = _tone_hz(wave, rate)
    if tone_hz is None:
        raise RecordingError(
            f"{recording.path}: holds no steady tone near 1 kHz; play the file that audiolevel "
            "sounds --render 'gain test' makes"
        )
    power = _tone_power(wave, rate, tone_hz)
    above_db = _above_site_db(wave, rate, power)
    if above_db < TONE_ABOVE_DB:
        raise RecordingError(
            f"{recording.path}: the tone stands {above_db:.0f} dB above the site, "
            f"{TONE_ABOVE_DB:g} are needed; bring the phone nearer or play it louder (a device "
            "that suppresses steady sounds shows like this too)"
        )
    claps = _claps(wave, rate)
    changes = [change for at in claps if (change := _change_db(power, int(at))) is not None]
    if len(changes) < _FEWEST_CLAPS:
        raise RecordingError(
            f"{recording.path}: claps heard: {len(changes)}, needed: {_FEWEST_CLAPS}; clap "
            f"sharply near the microphone, {CLAPS_ASKED} times, 2.5 s apart"
        )
    return Steadiness(float(np.median(changes)), len(changes), above_db)


def steady_tone(rate_hz: int) -> Array:
    """The tone to play, one minute, faded in and out; shape (frames,), full scale is 1."""
    time_s = np.arange(round(_TEST_TONE_S * rate_hz)) / rate_hz
    # nobody is startled, and no loudspeaker clicks
    fade = np.clip(np.minimum(time_s, _TEST_TONE_S - time_s) / 2.0, 0.0, 1.0)
    tone: Array = _TEST_TONE_PEAK * fade * np.sin(2 * np.pi * TONE_HZ * time_s)
    return tone


def _tone_hz(wave: Array, rate: int) -> float | None:
    """Frequency of the strongest line near 1 kHz; None where none stands out."""
    # 5 s pieces: lines 0.2 Hz apart; the median spectrum leaves claps and cars out
    size = 5 * rate
    pieces = wave[: len(wave) // size * size].reshape(-1, size)
    spectrum = np.median(np.abs(np.fft.rfft(pieces * np.hanning(size), axis=1)) ** 2, axis=0)
    hz = np.fft.rfftfreq(size, 1 / rate)
    near = np.flatnonzero(np.abs(hz / TONE_HZ - 1) <= _TONE_WITHIN)
    top = int(near[spectrum[near].argmax()])
    # a line of noise stands some decibels above its neighbours, a tone some tens
    if spectrum[top] < 100 * np.median(spectrum[near]):
        return None
    return float(hz[top])


def _tone_power(wave: Array, rate: int, tone_hz: float) -> Array:
    """Mean square of the tone every 10 ms, followed within ±25 Hz; shape (steps,)."""
    turned = wave * np.exp(-2j * np.pi * tone_hz / rate * np.arange(len(wave)))
    # a Hann window of 1/25 s has its first zero at 50 Hz and is 6 dB down at 25 Hz
    window = np.hanning(round(rate / _HALF_BAND_HZ) + 1)
    followed = oaconvolve(turned, window / window.sum(), mode="same")
    step = round(_STEP_S * rate)
    # a tone of amplitude a turns to a/2, and its mean square is a²/2
    power: Array = 2.0 * np.abs(followed[::step]) ** 2
    return power


def _above_site_db(wave: Array, rate: int, tone_power: Array) -> float:
    """By how much the tone stands above the rest of the A-weighted sound."""
    weighted = sosfilt(filters(rate).a, wave) ** 2
    step = round(_STEP_S * rate)
    steps = min(len(weighted) // step, len(tone_power))
    whole = weighted[: steps * step].reshape(steps, step).mean(axis=1)
    # whole seconds: within one of them a tone's own period plays no part
    per = round(1 / _STEP_S)
    seconds = steps // per
    total = whole[: seconds * per].reshape(seconds, per).mean(axis=1)
    tone = tone_power[: seconds * per].reshape(seconds, per).mean(axis=1)
    # A is 0 dB at 1 kHz; what is left after the tone cannot be less than nothing
    rest = np.maximum(total - tone, 1e-4 * tone)
    # two seconds of five hold a clap, so the middle of the others lies at 0.3 of all
    return float(level_db(np.median(tone)) - level_db(np.quantile(rest, 0.3)))


def _claps(wave: Array, rate: int) -> IntArray:
    """Steps of 10 ms at which something sharp sounds above 2 kHz, at least 1.5 s apart."""
    high = sosfilt(butter(4, _CLAP_ABOVE_HZ, "highpass", fs=rate, output="sos"), wave) ** 2
    step = round(_STEP_S * rate)
    steps = len(high) // step
    power_db = level_db(high[: steps * step].reshape(steps, step).mean(axis=1))
    # kept out of start-up
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks

    surroundings = median_filter(power_db, round(2 * _APART_S / _STEP_S) + 1, mode="nearest")
    peaks, _ = find_peaks(
        power_db - surroundings, height=_CLAP_DB, distance=round(_APART_S / _STEP_S)
    )
    return np.asarray(peaks, dtype=np.int64)


def _change_db(power: Array, at: int) -> float | None:
    """Change of the tone from before to after a clap; None too near an end."""
    (b0, b1), (a0, a1) = (
        (at + round(first / _STEP_S), at + round(last / _STEP_S))
        for first, last in (_BEFORE_S, _AFTER_S)
    )
    if b0 < 0 or a1 > len(power):
        return None
    return float(level_db(power[a0:a1].mean()) - level_db(power[b0:b1].mean()))
