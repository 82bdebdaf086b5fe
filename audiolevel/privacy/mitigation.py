"""What would capture less speech, and what does it cost in detection?

Entry points: `measures`, `Measure`.
"""

from dataclasses import dataclass

import numpy as np

from audiolevel.metering.weighting import a_weighting_db
from audiolevel.planning.choice import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.privacy.audibility import QUIET, Scene
from audiolevel.privacy.intelligibility import BANDS_HZ
from audiolevel.privacy.recorded_time import Minutes, RecordedTime, captured
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.site import Site
from audiolevel.sounds.received import find, received, with_level

_FILTERS = (("low-pass at 500 Hz", 0.0, 500.0), ("high-pass at 2 kHz", 2000.0, np.inf))


@dataclass(frozen=True)
class Measure:
    """One way to capture less speech, and what it costs.

    `detection` is the chance of the wanted sound that is caught least; None if not known.
    """

    text: str
    cost: str
    speech: Minutes | None
    detection: float | None
    radius_m: float | None = None


def measures(
    plan: SitePlan, option: Option, share: SpeechShare | None, scene: Scene | None
) -> list[Measure]:
    """Every measure beside the recommended setting, which comes first."""
    site = plan.survey.site
    now = captured(option, site, share)
    found = [
        Measure(
            "as recommended",
            "",
            now.speech,
            _least_caught(option, option.row),
            _radius(scene, option.gain_db),
        ),
        *_higher(option, site, share),
        *_other_modes(plan, option, share),
        _shorter(option, site, share),
        _at_night(option, now),
        *_lower_gain(plan, option, share, scene),
        Measure(
            "fire on the level, store no sound",
            "no sound to judge by afterwards; pictures and the log remain",
            Minutes(0.0, 0.0, 0.0),
            _least_caught(option, option.row),
            0.0,
        ),
    ]
    return found + ([] if scene is None else _filters(plan, option, now, scene))


def _least_caught(option: Option, row: int) -> float | None:
    return float(option.curve.least_probability()[row]) if option.curve.required else None


def _radius(scene: Scene | None, gain_db: float) -> float | None:
    return None if scene is None else scene.radius_m("normal", scene.noise_db(QUIET, gain_db))


def _higher(option: Option, site: Site, share: SpeechShare | None) -> list[Measure]:
    settings = option.curve.prediction.settings_db
    row = int(np.searchsorted(settings, option.trigger.at_db + 6.0 - 1e-9))
    if row >= len(settings):
        return []
    what = "a level" if option.trigger.mode == "threshold" else "a step"
    spoken = captured(option, site, share, row=row).speech
    cost = "misses what is quieter"
    return [Measure(f"{what} 6 dB higher", cost, spoken, _least_caught(option, row))]


def _other_modes(plan: SitePlan, option: Option, share: SpeechShare | None) -> list[Measure]:
    found = []
    for other in plan.choice.by_mode:
        if other.trigger.mode == option.trigger.mode:
            continue
        spoken = captured(other, plan.survey.site, share).speech
        text = f"{other.trigger.mode} instead of {option.trigger.mode}"
        caught = _least_caught(other, other.row)
        found.append(Measure(text, "fires on other sounds than before", spoken, caught))
    return found


def _shorter(option: Option, site: Site, share: SpeechShare | None) -> Measure:
    clip_s = (site.storage.before_s + site.storage.after_s) / 2
    spoken = captured(option, site, share, clip_s=clip_s).speech
    text = f"clips of {clip_s:g} s in place of {2 * clip_s:g} s"
    return Measure(
        text, "may end before what matters has ended", spoken, _least_caught(option, option.row)
    )


def _at_night(option: Option, now: RecordedTime) -> Measure:
    by_hour = option.curve.prediction.by_hour
    part = 8 / 24
    if by_hour is not None and np.isfinite(by_hour[option.row]).all():
        hours = by_hour[option.row]
        part = float(hours[[22, 23, 0, 1, 2, 3, 4, 5]].sum() / max(hours.sum(), 1e-12))
    spoken = now.speech
    if spoken is not None:
        best = None if spoken.best is None else spoken.best * part
        spoken = Minutes(best, spoken.low * part, spoken.high * part)
    return Measure(
        "active from 22:00 to 06:00 only",
        "catches nothing outside these hours",
        spoken,
        _least_caught(option, option.row),
    )


def _lower_gain(
    plan: SitePlan, option: Option, share: SpeechShare | None, scene: Scene | None
) -> list[Measure]:
    lower = [
        other
        for other in plan.options
        if other.trigger.mode == option.trigger.mode and other.gain_db < option.gain_db
    ]
    if not lower:
        return _unusable_gain(plan, option, scene)
    other = max(lower, key=lambda one: one.gain_db)
    spoken = captured(other, plan.survey.site, share).speech
    return [
        Measure(
            f"gain {option.gain_db - other.gain_db:g} dB lower",
            "quiet sounds sink into the microphone's noise",
            spoken,
            _least_caught(other, other.row),
            _radius(scene, other.gain_db),
        )
    ]


def _unusable_gain(plan: SitePlan, option: Option, scene: Scene | None) -> list[Measure]:
    """What the next lower gain would do to the radius, where the plan cannot use it."""
    below = [room.gain_db for room in plan.gains if room.gain_db < option.gain_db]
    if not below:
        return []
    text = f"gain {option.gain_db - max(below):g} dB lower"
    cost = "nothing can be planned there: the site sinks into the microphone's noise"
    return [Measure(text, cost, None, None, _radius(scene, max(below)))]


def _filters(plan: SitePlan, option: Option, now: RecordedTime, scene: Scene) -> list[Measure]:
    """A filter in the camera, taken to leave nothing outside its band."""
    found = []
    noise = scene.noise_db(QUIET, option.gain_db)
    for name, low_hz, high_hz in _FILTERS:
        carried = scene.bands.carried & (low_hz <= BANDS_HZ) & (high_hz >= BANDS_HZ)
        radius = scene.radius_m("normal", noise, carried)
        weaker = _weaker_by(plan.survey.site, low_hz, high_hz)
        cost = "the wanted sounds are weaker by what the filter takes"
        if weaker:
            cost = "weaker by " + ", ".join(f"{name} {db:.0f} dB" for name, db in weaker.items())
        found.append(Measure(name, cost, now.speech, None, radius))
    return found


def _weaker_by(site: Site, low_hz: float, high_hz: float) -> dict[str, float]:
    """By how many dB(A) each named wanted sound is weaker through a filter."""
    found = {}
    for wanted in site.wanted:
        if not wanted.sound:
            continue
        sound = find(wanted.sound)
        if wanted.level_dba is not None:
            sound = with_level(sound, wanted.level_dba, wanted.at_m)
        arrived = received(sound, wanted.distance_m)
        power = 10 ** ((arrived.band_db + a_weighting_db(arrived.band_hz)) / 10)
        passed = power[(arrived.band_hz >= low_hz) & (arrived.band_hz <= high_hz)].sum()
        found[sound.name] = float(10 * np.log10(power.sum() / max(passed, power.sum() * 1e-6)))
    return found
