"""Share of the time in which people can be heard talking.

Speech is a voice switched on and off at the rate of syllables, whose pitch moves. An engine hums
without pause, a horn keeps its pitch, steps and birds have none where voices do, and a street's
noise has none at all. So for every 10 ms the strength of a voice's pitch is taken from the
spectrum (80 to 450 Hz, by its overtones between 120 Hz and 2.2 kHz). A window of 2.8 s holds speech
when that strength and the level of the speech bands rise and fall together between 2 and 8.5 times
a second and the pitch moves. How often that is right is measured on recorded and synthetic speech
in real street noise (docs/privacy.md has the rates, tests/studies/speech_study.py makes them).

Nothing is transcribed, nobody is identified, and nothing is kept but one yes or no a second.

Entry points: `SpeechDetector`, `Speech`, `speech_share`, `SpeechShare`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray, IntArray
from audiolevel.ground.intervals import MOMENT_S, Interval, wilson_interval
from audiolevel.metering.readers import Block

FRAME_S = 0.064  # four periods of the lowest voice
FRAMES_PER_S = 100
# 2.8 s; a shorter recording is judged from 2.3 s on
WINDOW_FRAMES = 280
_FEWEST_FRAMES = 230

# the two decisions, fitted on the study's first parts and judged on its last
SYLLABLES = 0.05
PITCH_MOVES_OCTAVES = 0.03

_VOICE_HZ = (120.0, 2200.0)
# 450 down to 80 Hz
_PITCH_PERIODS_S = (2.2e-3, 12.5e-3)
_PERIOD_STEP_S = 1 / 8000
_WHITENING_HZ = 250.0
_BANDS_HZ = (200, 300, 400, 520, 680, 880, 1150, 1500)
_SYLLABLES_HZ = (2.0, 8.5)  # syllables come 3 to 8 a second; Houtgast and Steeneken (1985)
# a pitch strength of noise is 0.25 and less, of a clear voice 0.55 and more
_NOISE, _VOICED = 0.25, 0.55
_PITCH_KEPT_OCTAVES, _PITCH_KEPT_FRAMES = 0.12, 4
# the lowest level that a frame can have is -200, that of the last bit of 16 about -60
_SILENT_DB = -190.0
# frames, 80 ms of voice
_FEWEST_VOICED = 8


@dataclass(frozen=True)
class ErrorRates:
    """How often a window is judged rightly, measured by the study (docs/privacy.md).

    Attributes
    ----------
    hits_at_10_db, hits_at_0_db, hits_at_minus_10_db
        Share of windows with speech found, at these ratios of speech to street (A-weighted).
    hits_of_several
        Share found of four people at once, at the level of the street.
    false_alarms
        Share of windows of a street without speech taken for speech.
    false_alarms_worst
        The highest share among the kinds of sound tried.
    """

    hits_at_10_db: float
    hits_at_0_db: float
    hits_at_minus_10_db: float
    hits_of_several: float
    false_alarms: float
    false_alarms_worst: float


MEASURED = ErrorRates(0.99, 0.79, 0.18, 0.53, 0.005, 0.07)
"""Recorded human voices of the study's last part, over real streets and the sample scenario; false
alarms of all sound but alarms, and the most of any kind in any part (sirens and beepers)."""


@dataclass(frozen=True)
class Speech:
    """In which seconds of a recording speech was audible.

    Attributes
    ----------
    detected : array of bool, shape (windows,)
        One a second, each of 2.8 s; those of digital silence left out, unless all are.
    duration_s : float
        Of the recording, without those.
    """

    detected: BoolArray
    duration_s: float


@dataclass(frozen=True)
class SpeechShare:
    """Share of the time with audible speech: as detected, and corrected for the detector's errors.

    Attributes
    ----------
    detected_share : float
        Share of the windows taken for speech, 0 to 1.
    share : Interval
        Corrected after Rogan and Gladen (Am. J. Epidemiol. 107, 1978, 71-76).
    confidence : float
        Of the interval.
    """

    detected_share: float
    share: Interval
    confidence: float


class SpeechDetector:
    """Detects speech in a stream of samples.

    Parameters
    ----------
    rate_hz : int
        Sampling rate; only what lies below 2.2 kHz is used, so 8 kHz is enough.
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._size = round(FRAME_S * rate_hz)
        self._samples: Block | None = None
        self._first = 0  # number of the sample that `_samples` begins with
        self._frame = 0
        self._rows: list[Array] = []
        self._kept = np.zeros((0, 3))
        self._detected: list[bool] = []
        self._silent: list[bool] = []
        self._frames_in = 0

    def add(self, block: Block) -> None:
        """Take in one more block, shape (frames, channels); any length."""
        self._frames_in += len(block)
        held = block if self._samples is None else np.concatenate([self._samples, block])
        count = self._whole_frames(len(held))
        # 10 s of frames at a time, or a long block's spectra would fill the memory
        for done in range(0, count, 1000):
            part = np.arange(self._frame + done, self._frame + min(done + 1000, count))
            # in whole numbers from the recording's beginning, so that frames do not drift
            starts = part * self._rate_hz // FRAMES_PER_S - self._first
            self._kept = np.concatenate([self._kept, self._frames(held, starts)])
        self._frame += count
        keep_from = self._frame * self._rate_hz // FRAMES_PER_S - self._first
        self._samples, self._first = held[keep_from:].copy(), self._first + keep_from
        self._judge()

    @property
    def judged_s(self) -> int:
        """Seconds of which every window that covers them was judged."""
        return len(self._detected)

    def spoken_seconds(self) -> BoolArray:
        """In which seconds speech was found, bool, shape (seconds,)."""
        detected = np.array(self._judged(), dtype=np.bool_)
        # a window of 2.8 s that begins with second k reaches into k + 2
        spoken = np.zeros(len(detected) + 2, dtype=np.bool_)
        for later in range(3):
            spoken[later : later + len(detected)] |= detected
        return spoken

    def result(self) -> Speech:
        """Windows judged up to now."""
        detected = np.array(self._judged(), dtype=np.bool_)
        silent = np.zeros(len(detected), dtype=np.bool_)
        silent[: len(self._silent)] = self._silent
        # nothing but silence stays what it was: windows without speech
        if silent.all():
            silent[:] = False
        # one window a second
        heard_s = self._frames_in / self._rate_hz - int(silent.sum())
        return Speech(detected[~silent], heard_s)

    def _judged(self) -> list[bool]:
        # a recording shorter than a window is judged as far as it goes
        if not self._detected and len(self._kept) >= _FEWEST_FRAMES:
            return [holds_speech(self._kept)]
        return self._detected

    def _whole_frames(self, held: int) -> int:
        last_start = self._first + held - self._size
        if last_start < 0:
            return 0
        # the largest k with k·rate // 100 at or before the last start
        last = ((last_start + 1) * FRAMES_PER_S - 1) // self._rate_hz
        return max(0, last + 1 - self._frame)

    def _frames(self, samples: Block, starts: IntArray) -> Array:
        window, hz = _window(self._size, self._rate_hz)
        cut = samples[starts[:, None] + np.arange(self._size)]  # (frames, size, channels)
        # channels are added as powers, or one wired backwards would cancel another
        power = np.zeros((len(starts), len(hz)))
        for channel in range(cut.shape[2]):
            spectrum = np.fft.rfft(cut[:, :, channel] * window, axis=1)
            power += spectrum.real**2 + spectrum.imag**2
        return frames_from_power(power, hz)

    def _judge(self) -> None:
        at = 0
        while len(self._kept) - at >= WINDOW_FRAMES:
            window = self._kept[at : at + WINDOW_FRAMES]
            self._detected.append(holds_speech(window))
            # half of it or more: what is left is too short to judge
            self._silent.append(bool(np.median(window[:, 2]) <= _SILENT_DB))
            # one window a second; each shares 1.8 s with the next
            at += FRAMES_PER_S
        self._kept = self._kept[at:]


@lru_cache(maxsize=4)
def _window(size: int, rate_hz: int) -> tuple[Array, Array]:
    hz = np.arange(size // 2 + 1) * (rate_hz / size)
    # one longer and cut: the window repeats with the period of the transform
    return np.asarray(np.hanning(size + 1)[:size]), np.asarray(hz, dtype=np.float64)


def frames_from_power(power: Array, hz: Array) -> Array:
    """Pitch strength, lg2 of the pitch and mean speech-band level of each frame, shape (frames, 3).

    Parameters
    ----------
    power : array, shape (frames, lines)
        Of a 64 ms Hann window.
    hz : array, shape (lines,)
        Frequencies of the lines, evenly spaced from 0.

    Returns
    -------
    array, shape (frames, 3)
        Strength of the pitch (-1 to 1), lg2 of the pitch in hertz, dB re any.
    """
    strength, period_s = _pitch(power, hz)
    edges = np.searchsorted(hz, _BANDS_HZ)
    # the last sum goes from 1.5 kHz to the top and is no band
    bands = np.add.reduceat(power, edges, axis=1)[:, :-1]
    # mean of decibels, so that each band counts alike and not the loudest alone
    level = 10 * np.log10(bands + 1e-20).mean(axis=1)
    return np.column_stack([strength, -np.log2(period_s), level])


def _pitch(power: Array, hz: Array) -> tuple[Array, Array]:
    """How well the overtones fit one pitch, -1 to 1, and the period that fits best.

    The spectrum, pressed together and freed of its envelope, is correlated with combs; a comb's
    teeth need several to be told from chance, so tones alone do not count for much.
    """
    lines = (hz >= _VOICE_HZ[0]) & (hz <= _VOICE_HZ[1])
    # the fourth root, or the strongest overtones would decide alone
    pressed = power[:, lines] ** 0.25
    # odd, so that the kernel has a middle
    width = round(_WHITENING_HZ / hz[1]) | 1
    smooth = np.hanning(width + 2)[1:-1]
    envelope = _smoothed(pressed, smooth / smooth.sum())
    ripple = pressed / np.maximum(envelope, 1e-30) - 1
    periods = np.arange(*_PITCH_PERIODS_S, _PERIOD_STEP_S)
    # shape (lines, periods): teeth at the multiples of each pitch
    combs = np.cos(2 * np.pi * hz[lines][:, None] * periods)
    # a cosine's mean square is 1/2: this makes the fit a correlation
    norm = np.sqrt((ripple**2).sum(axis=1) * lines.sum() / 2 + 1e-30)
    fit = ripple @ combs / norm[:, None]
    best = fit.argmax(axis=1)
    return fit[np.arange(len(fit)), best], periods[best]


def _smoothed(rows: Array, kernel: Array) -> Array:
    """Each row convolved with an odd kernel; its ends are held on."""
    half = len(kernel) // 2
    padded = np.pad(rows, ((0, 0), (half, half)), mode="edge")
    out = np.zeros_like(rows)
    for i, weight in enumerate(kernel):
        out += weight * padded[:, i : i + rows.shape[1]]
    return out


def holds_speech(frames: Array) -> bool:
    """Whether a window of frames, as `frames_from_power` gives them, holds audible speech."""
    strength, pitch, level = frames.T
    voice = np.clip((strength - _NOISE) / (_VOICED - _NOISE), 0, 1) * _pitch_kept(pitch)
    voiced = pitch[voice > 0.25]
    if len(voiced) < _FEWEST_VOICED:
        return False
    upper, lower = np.quantile(voiced, [0.75, 0.25])
    moves = upper - lower >= PITCH_MOVES_OCTAVES
    return bool(moves and _together(voice, level) >= SYLLABLES)


def _pitch_kept(pitch: Array) -> Array:
    """1 where the pitch is that of the frames before and behind, 0.5 where of one of them."""
    apart = _PITCH_KEPT_FRAMES
    near = np.abs(pitch[apart:] - pitch[:-apart]) < _PITCH_KEPT_OCTAVES
    kept = np.zeros(len(pitch))
    # each pair that agrees counts for both of its frames
    kept[apart:] += near
    kept[:-apart] += near
    return kept / 2


def _together(voice: Array, level: Array) -> float:
    """Covariance of voicing (0 to 1) and level (dB) at the rate of syllables, in dB."""
    size = len(voice)
    taper = np.hanning(size)
    hz = np.fft.rfftfreq(size, 1 / FRAMES_PER_S)
    syllables = (hz >= _SYLLABLES_HZ[0]) & (hz <= _SYLLABLES_HZ[1])
    a = np.fft.rfft((voice - voice.mean()) * taper)[syllables]
    b = np.fft.rfft((level - level.mean()) * taper)[syllables]
    # Parseval for one side of the spectrum, over the taper's own energy
    return float((a * b.conj()).real.sum() / ((taper**2).sum() * size / 2))


def speech_share(recordings: Sequence[Speech], confidence: float = 0.95) -> SpeechShare | None:
    """Share of the time with audible speech, with the detector's errors allowed for.

    Parameters
    ----------
    recordings : sequence of Speech
        Of recordings of one site.
    confidence : float
        Of the interval, between 0.5 and 1.

    Returns
    -------
    SpeechShare or None
        None where no recording was long enough to judge (2.3 s).

    Notes
    -----
    With a share q of windows detected, hits h and false alarms f, the share is (q − f)/(h − f)
    (Rogan and Gladen 1978). Windows near each other hear the same talk, so the sample counts for
    one independent look in 15 s and q has the Wilson interval of those. The lower limit takes the
    most hits and the most false alarms of the study, the upper one its hits of several people at
    once and no false alarm at all: which of them holds at this site is not known.
    """
    windows = sum(len(one.detected) for one in recordings)
    if not windows:
        return None
    share = sum(int(one.detected.sum()) for one in recordings) / windows
    looks = max(1.0, sum(one.duration_s for one in recordings) / MOMENT_S)
    low, high = (float(limit) for limit in wilson_interval(share, looks, confidence))
    hits = (MEASURED.hits_at_10_db + MEASURED.hits_at_0_db) / 2
    return SpeechShare(
        detected_share=share,
        share=Interval(
            corrected_share(share, hits, MEASURED.false_alarms),
            corrected_share(low, MEASURED.hits_at_10_db, MEASURED.false_alarms_worst),
            corrected_share(high, MEASURED.hits_of_several, 0.0),
        ),
        confidence=confidence,
    )


def corrected_share(detected: float, hits: float, false_alarms: float) -> float:
    """The true share when the share `detected` is detected, 0 to 1.

    Parameters
    ----------
    detected, hits, false_alarms : float
        Shares of all windows, of those with speech and of those without that are taken for speech.

    Notes
    -----
    Rogan and Gladen (1978): (q - f) / (h - f), kept between 0 and 1.
    """
    # a sample's chance takes q below f or above h
    return min(1.0, max(0.0, (detected - false_alarms) / (hits - false_alarms)))
