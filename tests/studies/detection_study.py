"""Are chances of detection what drawing sources, ways and moments and mixing waveforms gives?

    AUDIOLEVEL_RECORDINGS=... AUDIOLEVEL_SOUND_THEME=... python -m tests.studies.detection_study

Two checks on a real street. The sum over offsets against brute force: 2,000 events a sound, each
with its own level and moment, mixed as waveforms and given to the trigger. And stated intervals
against truths they do not know: sounds recorded by others, each case with a mean level of its own
drawn from what is not known of it; the interval ought to hold the true share in 90 of 100 cases.
"""

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy.signal import lfilter, sosfilt

from audiolevel.metering.weighting import filters
from audiolevel.sounds.catalogue import find
from audiolevel.sounds.detection import Detection, detect, placements, surroundings
from audiolevel.sounds.synthesis import laf_course_db, render, resampled
from audiolevel.sounds.variation import Variation
from audiolevel.triggers.trigger import Trigger, firings

SOUNDS = ("vehicle horn", "breaking glass", "metal bang", "dog's bark")
# recordings of a freely licensed sound theme: a bell, a shutter, paper, a clock, a speaker
RECORDED = (
    "bell",
    "camera-shutter",
    "trash-empty",
    "complete",
    "audio-channel-front-left",
    "audio-channel-rear-right",
    "phone-outgoing-busy",
    "alarm-clock-elapsed",
)
_BEFORE_ROWS = 100


@dataclass(frozen=True)
class Street:
    """A street's A-weighted waveform and its level history."""

    rate_hz: int
    weighted: np.ndarray
    square: np.ndarray

    @property
    def level_db(self) -> np.ndarray:
        """LAF every 10 ms, dB FS."""
        return np.round(10 * np.log10(self.square / 0.5), 2)


def laf_squares(square: np.ndarray, rate_hz: int, start: float) -> np.ndarray:
    """F time weighting sample by sample, read at the end of every 10 ms."""
    keep = np.exp(-1.0 / (0.125 * rate_hz))
    mean = lfilter([1.0 - keep], [1.0, -keep], square, zi=[keep * start])[0]
    return mean[rate_hz // 100 - 1 :: rate_hz // 100]


@lru_cache(maxsize=2)
def street(folder: str) -> Street:
    """The long real recording, mono."""
    mono, rate_hz = sf.read(Path(folder) / "street_long.wav")
    mono = mono[: len(mono) // (rate_hz // 100) * (rate_hz // 100)]
    weighted = sosfilt(filters(rate_hz).a, mono)
    start = float(np.mean(weighted[: rate_hz // 2] ** 2))
    return Street(rate_hz, weighted, laf_squares(weighted**2, rate_hz, start))


def brought_to(samples: np.ndarray, rate_hz: int, lafmax_db: float) -> np.ndarray:
    """A waveform at a LAFmax in dB FS, filled up to whole rows with the fall after it."""
    course_db = laf_course_db(samples, rate_hz)
    samples = samples * 10 ** ((lafmax_db - course_db.max()) / 20)
    rows = len(laf_course_db(samples, rate_hz))
    return np.concatenate([samples, np.zeros(rows * (rate_hz // 100) - len(samples))])


def caught(
    place: Street,
    sound: np.ndarray,
    triggers: Sequence[Trigger],
    offsets_db: np.ndarray,
    seed: int,
) -> np.ndarray:
    """Which triggers each event fires, mixed as waveforms; shape (events, triggers)."""
    per = place.rate_hz // 100
    weighted = sosfilt(filters(place.rate_hz).a, sound)
    rows = len(sound) // per
    rng = np.random.default_rng(seed)
    at = placements(len(place.square), rows, len(offsets_db), armed_from=99, rng=rng)
    level_db = 10 * np.log10(place.square / 0.5)
    fired = np.zeros((len(offsets_db), len(triggers)), dtype=bool)
    for event, (row, offset_db) in enumerate(zip(at.tolist(), offsets_db.tolist(), strict=True)):
        there = slice(row * per, row * per + len(sound))
        square = (place.weighted[there] + weighted * 10 ** (offset_db / 20)) ** 2
        mixed = laf_squares(square, place.rate_hz, float(place.square[row - 1]))
        whole = np.concatenate([level_db[:row], 10 * np.log10(mixed / 0.5)])
        fired[event] = [bool((firings(whole, trigger) >= row).any()) for trigger in triggers]
    return fired


def stated(
    place: Street,
    sound: np.ndarray,
    triggers: Sequence[Trigger],
    variation: Variation,
    seed: int = 0,
    half_width: float = 0.025,
) -> list[Detection]:
    """The chance and interval that a plan would state for each trigger."""
    sweeps = [(trigger, [trigger.at_db]) for trigger in triggers]
    course_db = laf_course_db(sound, place.rate_hz)
    found = detect(
        surroundings(place.level_db, sweeps),
        course_db,
        variation=variation,
        seed=seed,
        half_width=half_width,
    )
    return [one for (one,) in found]


def settings(place: Street, lafmax_db: float) -> list[Trigger]:
    """Thresholds around a sound's level, and steps."""
    levels = [Trigger("threshold", round(lafmax_db + away, 2)) for away in (-8.0, -3.0, 2.0, 7.0)]
    return [*levels, Trigger("rise", 8.0), Trigger("rise", 14.0), Trigger("change", 12.0)]


def usual_db(place: Street) -> float:
    """The level at which sounds are placed: 6 dB above what is exceeded a tenth of the time."""
    return float(np.percentile(place.level_db, 90) + 6.0)


def brute_force(folder: str, name: str, events: int) -> tuple[list[Trigger], list[Detection], list]:
    """One sound of the catalogue: what is stated, and the share among drawn events."""
    place, sound = street(folder), find(name)
    samples = brought_to(render(sound, place.rate_hz, seed=1), place.rate_hz, usual_db(place))
    variation = Variation(event_db=float(np.hypot(sound.event_spread_db, 2.5)))
    triggers = settings(place, usual_db(place))
    number = SOUNDS.index(name)
    offsets = np.random.default_rng([2, number]).normal(0, variation.event_db, events)
    share = caught(place, samples, triggers, offsets, seed=30 + number).mean(axis=0)
    # placed more finely than a plan does, so that what differs is the sum and not its chance
    said = stated(place, samples, triggers, variation, half_width=0.01)
    return triggers, said, share.tolist()


def held(folder: str, theme: str, case: int, events: int) -> tuple[list[Detection], np.ndarray]:
    """One case with a mean of its own: the stated chances, and the true shares."""
    place, rng = street(folder), np.random.default_rng([4, case])
    path = Path(theme) / f"{RECORDED[case % len(RECORDED)]}.oga"
    own, own_rate = sf.read(path, always_2d=True)
    samples = resampled(own[:, 0], own_rate, place.rate_hz)
    # an event lasts no longer than three seconds here
    samples = samples[: 3 * place.rate_hz]
    level_db = usual_db(place) + rng.uniform(-8, 8)
    sound = brought_to(samples, place.rate_hz, level_db)
    believed = Variation(
        event_db=float(np.hypot(rng.uniform(3, 8), 2.5)), unknown_db=rng.uniform(2, 5)
    )
    at = level_db + rng.uniform(-10, 8)
    triggers = [Trigger("threshold", round(at, 2)), Trigger("rise", round(rng.uniform(6, 18), 1))]
    true_mean_db = rng.normal(0, believed.unknown_db)
    offsets = rng.normal(true_mean_db, believed.event_db, events)
    share = caught(place, sound, triggers, offsets, seed=1000 + case).mean(axis=0)
    return stated(place, sound, triggers, believed, seed=case), share


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--events", type=int, default=2000)
    parser.add_argument("--cases", type=int, default=100)
    given = parser.parse_args()
    folder, theme = os.environ["AUDIOLEVEL_RECORDINGS"], os.environ.get("AUDIOLEVEL_SOUND_THEME")
    worst = 0.0
    for name in SOUNDS:
        triggers, said, share = brute_force(folder, name, given.events)
        for trigger, one, true in zip(triggers, said, share, strict=True):
            off = 100 * (one.probability - true)
            worst = max(worst, abs(off))
            print(
                f"{name:15} {trigger.mode:10}{trigger.at_db:7.1f} dB  stated "
                f"{100 * one.probability:5.1f} %  drawn {100 * true:5.1f} %  {off:+.1f}"
            )
    print(f"worst: {worst:.1f} points")
    if theme:
        inside, widths = [], []
        for case in range(given.cases):
            said, true_share = held(folder, theme, case, 400)
            # the share among 400 events is itself known to some per cent
            inside += [
                one.low - 0.01 <= share <= one.high + 0.01
                for one, share in zip(said, true_share.tolist(), strict=True)
            ]
            widths += [one.high - one.low for one in said]
        print(
            f"{given.cases} cases of recorded sounds, two triggers each: the interval holds the "
            f"true share in {100 * np.mean(inside):.0f} %, its median width is "
            f"{100 * np.median(widths):.0f} points"
        )


if __name__ == "__main__":
    main()
