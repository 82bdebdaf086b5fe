"""Ways to capture less speech, and what each costs in detection.

Entry points: `mitigations`, `Mitigation`, `MitigationKind`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from types import MappingProxyType

import numpy as np

from audiolevel.counting.schedule import PARTS
from audiolevel.intervals import Interval
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.planning.choice import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.privacy.audibility import QUIET, ListeningModel
from audiolevel.privacy.intelligibility import BANDS_HZ
from audiolevel.privacy.recorded_time import RecordedTime, recorded_time
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.site import Site
from audiolevel.sounds.received import find, received, with_level

HIGHER_BY_DB = 6.0
# the night of `schedule.PARTS`: eight hours in which few people pass and few would be recorded
NIGHT_HOURS = PARTS["night"]


class MitigationKind(Enum):
    """What is done to capture less speech."""

    NONE = "as recommended"
    HIGHER_SETTING = "a higher level or change"
    OTHER_MODE = "another mode of the trigger"
    SHORTER_CLIPS = "shorter clips"
    NIGHT_ONLY = "active at night only"
    LOWER_GAIN = "a lower gain"
    UNUSABLE_GAIN = "a lower gain that nothing can be planned at"
    NO_SOUND = "fire on the level, store no sound"
    LOW_PASS = "a low-pass filter"
    HIGH_PASS = "a high-pass filter"


# of a filter: kind, lowest and highest frequency that passes, the frequency it is named by
_FILTERS = (
    (MitigationKind.LOW_PASS, 0.0, 500.0, 500.0),
    (MitigationKind.HIGH_PASS, 2000.0, np.inf, 2000.0),
)


@dataclass(frozen=True)
class Mitigation:
    """One way to capture less speech, and what it costs.

    Attributes
    ----------
    kind : MitigationKind
    speech : Interval or None
        Minutes a day with audible speech that are recorded; None if not known.
    detection : float or None
        Chance of the wanted sound that is caught least; None if not known.
    radius_m : float or None
        Within which a normal voice is understood in quiet moments; None if not known.
    facts : mapping of str to float or str
        What was changed; units in the names.
    weaker_db : mapping of str to float
        By how many dB(A) a filter weakens each named wanted sound.
    """

    kind: MitigationKind
    speech: Interval | None
    detection: float | None
    radius_m: float | None = None
    facts: Mapping[str, float | str] = field(default_factory=lambda: MappingProxyType({}))
    weaker_db: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))


def mitigations(
    plan: SitePlan, option: Option, share: SpeechShare | None, model: ListeningModel | None
) -> list[Mitigation]:
    """Every way to capture less speech; the setting as recommended comes first.

    Parameters
    ----------
    plan : SitePlan
    option : Option
        The recommended one.
    share : SpeechShare or None
        Of the recordings; None gives no minutes of speech.
    model : ListeningModel or None
        Of the site; None, without a calibration, gives no radius and no filters.
    """
    site = plan.survey.site
    now = recorded_time(option, site, share)
    least = _least_caught(option, option.row)
    found = [
        Mitigation(MitigationKind.NONE, now.speech, least, _radius(model, option.gain_db)),
        *_higher(option, site, share),
        *_other_modes(plan, option, share),
        _shorter(option, site, share),
        _at_night(option, now),
        *_lower_gain(plan, option, share, model),
        # it still listens and fires as before, but nothing can be understood
        Mitigation(MitigationKind.NO_SOUND, Interval(0.0, 0.0, 0.0), least, 0.0),
    ]
    return found + ([] if model is None else _filters(plan, option, now, model))


def _least_caught(option: Option, row: int) -> float | None:
    return float(option.curve.least_probability()[row]) if option.curve.required else None


def _radius(model: ListeningModel | None, gain_db: float) -> float | None:
    return None if model is None else model.radius_m("normal", model.noise_db(QUIET, gain_db))


def _higher(option: Option, site: Site, share: SpeechShare | None) -> list[Mitigation]:
    settings = option.curve.prediction.settings_db
    # the first setting by 6 dB or more, whatever its rounding
    row = int(np.searchsorted(settings, option.trigger.at_db + HIGHER_BY_DB - 1e-9))
    # the sweep ends below that setting, so nothing is known of it
    if row >= len(settings):
        return []
    facts: dict[str, float | str] = {"mode": option.trigger.mode, "by_db": HIGHER_BY_DB}
    speech = recorded_time(option, site, share, row=row).speech
    caught = _least_caught(option, row)
    return [Mitigation(MitigationKind.HIGHER_SETTING, speech, caught, facts=facts)]


def _other_modes(plan: SitePlan, option: Option, share: SpeechShare | None) -> list[Mitigation]:
    return [
        Mitigation(
            MitigationKind.OTHER_MODE,
            recorded_time(other, plan.survey.site, share).speech,
            _least_caught(other, other.row),
            facts={"mode": other.trigger.mode, "in_place_of": option.trigger.mode},
        )
        for other in plan.choice.by_mode
        if other.trigger.mode != option.trigger.mode
    ]


def _shorter(option: Option, site: Site, share: SpeechShare | None) -> Mitigation:
    clip_s = (site.storage.before_s + site.storage.after_s) / 2
    return Mitigation(
        MitigationKind.SHORTER_CLIPS,
        recorded_time(option, site, share, clip_s=clip_s).speech,
        _least_caught(option, option.row),
        facts={"clip_s": clip_s, "in_place_of_s": 2 * clip_s},
    )


def _at_night(option: Option, now: RecordedTime) -> Mitigation:
    by_hour = option.curve.prediction.by_hour
    # without counts by hour: as if it fired evenly round the clock
    part = len(NIGHT_HOURS) / 24
    if by_hour is not None and np.isfinite(by_hour[option.row]).all():
        hours = by_hour[option.row]
        # a day without any firing has no shares
        part = float(hours[list(NIGHT_HOURS)].sum() / max(hours.sum(), 1e-12))
    return Mitigation(
        MitigationKind.NIGHT_ONLY,
        None if now.speech is None else now.speech.times(part),
        _least_caught(option, option.row),
        facts={"from_hour": NIGHT_HOURS[0], "to_hour": NIGHT_HOURS[-1] + 1},
    )


def _lower_gain(
    plan: SitePlan, option: Option, share: SpeechShare | None, model: ListeningModel | None
) -> list[Mitigation]:
    lower = [
        other
        for other in plan.options
        if other.trigger.mode == option.trigger.mode and other.gain_db < option.gain_db
    ]
    if not lower:
        return _unusable_gain(plan, option, model)
    # the next one down, the smallest change there is
    other = max(lower, key=lambda one: one.gain_db)
    return [
        Mitigation(
            MitigationKind.LOWER_GAIN,
            recorded_time(other, plan.survey.site, share).speech,
            _least_caught(other, other.row),
            _radius(model, other.gain_db),
            facts={"by_db": option.gain_db - other.gain_db},
        )
    ]


def _unusable_gain(
    plan: SitePlan, option: Option, model: ListeningModel | None
) -> list[Mitigation]:
    """What the next lower gain would do to the radius, where the plan cannot use it."""
    below = [room.gain_db for room in plan.gains if room.gain_db < option.gain_db]
    if not below:
        return []
    facts = {"by_db": option.gain_db - max(below)}
    radius_m = _radius(model, max(below))
    return [Mitigation(MitigationKind.UNUSABLE_GAIN, None, None, radius_m, facts)]


def _filters(
    plan: SitePlan, option: Option, now: RecordedTime, model: ListeningModel
) -> list[Mitigation]:
    """A filter in the camera, taken to leave nothing outside its band."""
    found = []
    noise = model.noise_db(QUIET, option.gain_db)
    for kind, low_hz, high_hz, named_hz in _FILTERS:
        # bands that the filter stops are lost, as those past the sampling rate are
        usable = model.bands.usable & (low_hz <= BANDS_HZ) & (high_hz >= BANDS_HZ)
        found.append(
            Mitigation(
                kind,
                now.speech,
                None,
                model.radius_m("normal", noise, usable),
                facts={"hz": named_hz},
                weaker_db=weakening_db(plan.survey.site, low_hz, high_hz),
            )
        )
    return found


def weakening_db(site: Site, low_hz: float, high_hz: float) -> dict[str, float]:
    """By how many dB(A) each built-in wanted sound of a site is weaker through a filter.

    Parameters
    ----------
    site : Site
    low_hz, high_hz : float
        Only third-octaves with midbands from the first to the second pass.

    Returns
    -------
    dict of str to float
        By the sound's name; at most 60 dB.
    """
    weaker = {}
    for wanted in site.wanted:
        # a sound from a file has no table of bands
        if not wanted.sound:
            continue
        sound = find(wanted.sound)
        # a level the user knows takes the place of the built-in one
        if wanted.level_dba is not None:
            sound = with_level(sound, wanted.level_dba, wanted.at_m)
        arrived = received(sound, wanted.distance_m)
        # what counts is what an A-weighted trigger hears of each band
        power = 10 ** ((arrived.band_db + a_weighting_db(arrived.band_hz)) / 10)
        passed = power[(arrived.band_hz >= low_hz) & (arrived.band_hz <= high_hz)].sum()
        # a sound wholly outside the filter's band is called 60 dB weaker
        weaker[sound.name] = float(10 * np.log10(power.sum() / max(passed, power.sum() * 1e-6)))
    return weaker
