"""Ways to capture less speech, and what each costs in detection.

Entry points: `mitigations`, `Outlook`, `Mitigation`, `MitigationKind`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import Enum

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.intervals import Interval
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.planning.option import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.planning.wanted import sound_of
from audiolevel.privacy.audibility import ListeningModel, Radii
from audiolevel.privacy.intelligibility import BANDS_HZ
from audiolevel.privacy.recorded_time import recorded_time
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.site.sections import Microphone, Site
from audiolevel.sounds.propagation import absorption_db_per_m

HIGHER_BY_DB = 6.0
# few people pass and few would be recorded; 23 to 7 h is the night of Directive 2002/49/EC, annex I
NIGHT_HOURS = (23, *range(7))
# a microphone that turns its back on people, or lies under a thick cover, takes some 5 dB of their
# voices (common practice; what it takes of the wanted sounds depends on where they come from)
TURNED_AWAY_DB = 5.0
# beyond three days the need for keeping grows (EDPB Guidelines 3/2019, paragraph 121, second hand)
DELETED_AFTER_DAYS = 3.0
# less than a tenth of a radius is less than anybody could notice
_SHRINKS_TO = 0.9


class MitigationKind(Enum):
    """What is done to capture less speech."""

    NONE = "as recommended"
    NO_SOUND = "fire on the level, store no sound"
    HIGHER_SETTING = "a higher level or change"
    OTHER_MODE = "another mode of the trigger"
    SHORTER_CLIPS = "shorter clips"
    FEWER_HOURS = "active at night only"
    LOW_PASS = "a low-pass filter"
    TURNED_AWAY = "a microphone that is directional or covered"
    LOWER_GAIN = "a lower gain"
    DELETION = "deletion after some days"


# a filter's fall grows by so much an octave with each order
_DB_PER_ORDER = 6.0


@dataclass(frozen=True)
class Mitigation:
    """One way to capture less speech, and what it costs.

    Attributes
    ----------
    kind : MitigationKind
    recorded : Interval or None
        Minutes a day that are recorded, whoever is heard in them; None if not known.
    speech : Interval or None
        Of them with audible speech; None where the sample does not support it.
    detection : float or None
        Chance of the wanted sound that is caught least; None if not known.
    radii : Radii or None
        Of a normal voice while the camera is on, at the farther end; None if not known.
    facts : mapping of str to float or str
        What was changed; units in the names.
    weaker_db : mapping of str to float
        By how many dB(A) a filter weakens each named wanted sound.
    """

    kind: MitigationKind
    recorded: Interval | None
    speech: Interval | None
    detection: float | None
    radii: Radii | None = None
    facts: Mapping[str, float | str] = field(default_factory=dict)
    weaker_db: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Outlook:
    """What a measure is judged by.

    Attributes
    ----------
    plan : SitePlan
    option : Option
        The recommended one.
    share : SpeechShare or None
        Of the recordings; None gives no minutes of speech.
    model : ListeningModel or None
        Of the site; None, without a calibration, gives no radius and no filter.
    card_days : float or None
        How long the card would keep a recording.
    """

    plan: SitePlan
    option: Option
    share: SpeechShare | None
    model: ListeningModel | None
    card_days: float | None = None

    @property
    def site(self) -> Site:
        """The site file."""
        return self.plan.survey.site

    def radii(self, gain_db: float, louder_noise_db: float = 0.0) -> Radii | None:
        """Of a normal voice at a gain, over a noise that much louder."""
        if self.model is None:
            return None
        noise = self.model.least_noise_db(gain_db)
        return self.model.radii("normal", noise + louder_noise_db)

    def measure(
        self,
        kind: MitigationKind,
        *,
        option: Option | None = None,
        row: int | None = None,
        clip_s: float | None = None,
        radii: Radii | None = None,
        **facts: float | str,
    ) -> Mitigation:
        """A measure that changes the option, its row, the clips or the radii."""
        chosen = self.option if option is None else option
        at = chosen.row if row is None else row
        time = recorded_time(chosen, self.site, self.share, row=at, clip_s=clip_s)
        reach = self.radii(chosen.gain_db) if radii is None else radii
        least = _least_caught(chosen, at)
        if clip_s is not None:
            facts["clip_s"] = clip_s
        return Mitigation(kind, time.recorded, time.speech, least, reach, facts)


def mitigations(outlook: Outlook) -> list[Mitigation]:
    """Every way to capture less speech that works here; as recommended comes first.

    Then what stores no sound, which nothing that stores some comes near.
    """
    now = outlook.measure(MitigationKind.NONE)
    found = [
        _without_sound(now),
        *_higher(outlook),
        *_other_modes(outlook),
        _shorter(outlook),
        *_at_night(outlook, now),
        *_low_pass(outlook, now),
        *_turned_away(outlook, now),
        *_lower_gain(outlook, now),
        *_deletion(outlook, now),
    ]
    return [now, *(one for one in found if _captures_less(one, now))]


def _captures_less(one: Mitigation, now: Mitigation) -> bool:
    """Whether minutes, the radius or the days that recordings are kept shrink by a tenth or more.

    Of minutes the best estimates tell, or else the upper ends.
    """
    if one.kind is MitigationKind.DELETION:
        return True
    nearer = (
        one.radii is not None
        and now.radii is not None
        and one.radii.words_m < _SHRINKS_TO * now.radii.words_m
    )
    if one.recorded is None or now.recorded is None:
        return nearer
    ends = (one.recorded.best, now.recorded.best)
    less, more = ends if None not in ends else (one.recorded.high, now.recorded.high)
    return nearer or float(less or 0.0) < _SHRINKS_TO * float(more or 0.0)


def _least_caught(option: Option, row: int) -> float | None:
    return float(option.curve.least_probability()[row]) if option.curve.required else None


def _without_sound(now: Mitigation) -> Mitigation:
    # it still listens and fires as before, but nothing is kept that could be understood
    nothing = Interval(0.0, 0.0, 0.0)
    radii = None if now.radii is None else Radii(0.0, 0.0)
    return Mitigation(MitigationKind.NO_SOUND, nothing, nothing, now.detection, radii)


def _higher(outlook: Outlook) -> list[Mitigation]:
    option = outlook.option
    settings = option.curve.prediction.settings_db
    # the first setting by 6 dB or more, whatever its rounding
    row = int(np.searchsorted(settings, option.trigger.at_db + HIGHER_BY_DB - 1e-9))
    # the sweep ends below that setting, so nothing is known of it
    if row >= len(settings):
        return []
    mode = option.trigger.mode
    return [outlook.measure(MitigationKind.HIGHER_SETTING, row=row, mode=mode, by_db=HIGHER_BY_DB)]


def _other_modes(outlook: Outlook) -> list[Mitigation]:
    mode = outlook.option.trigger.mode
    return [
        outlook.measure(
            MitigationKind.OTHER_MODE, option=other, mode=other.trigger.mode, in_place_of=mode
        )
        for other in outlook.plan.choice.by_mode
        if other.trigger.mode != mode
    ]


def _shorter(outlook: Outlook) -> Mitigation:
    storage = outlook.site.storage
    clip_s = (storage.before_s + storage.after_s) / 2
    return outlook.measure(MitigationKind.SHORTER_CLIPS, clip_s=clip_s, in_place_of_s=2 * clip_s)


def _at_night(outlook: Outlook, now: Mitigation) -> list[Mitigation]:
    on = outlook.plan.survey.conditions.active_or_all
    night = np.zeros(24, dtype=bool)
    night[list(NIGHT_HOURS)] = True
    # the camera is on at night only, or not at night at all
    if not on[~night].any() or not on[night].any():
        return []
    by_hour = outlook.option.curve.prediction.by_hour
    # without counts by hour: as if it fired evenly while it is on
    part = float(on[night].sum() / on.sum())
    if by_hour is not None and np.isfinite(by_hour[outlook.option.row]).all():
        hours = by_hour[outlook.option.row]
        # a day without any firing has no shares
        part = float(hours[night].sum() / max(hours.sum(), 1e-12))
    # of the hours in which it is on: one active from 20 to 6 keeps 23 to 6
    kept = [hour for hour in NIGHT_HOURS if on[hour] > 0]
    facts = {"from_hour": kept[0], "to_hour": (kept[-1] + 1) % 24}
    fewer = replace(
        now,
        kind=MitigationKind.FEWER_HOURS,
        recorded=None if now.recorded is None else now.recorded.times(part),
        speech=None if now.speech is None else now.speech.times(part),
        facts=facts,
    )
    return [fewer]


def _low_pass(outlook: Outlook, now: Mitigation) -> list[Mitigation]:
    """The camera's own low-pass."""
    model = outlook.model
    if model is None:
        return []
    microphone = outlook.site.microphone
    loss_db = _low_pass_db(BANDS_HZ, microphone)
    found = replace(
        now,
        kind=MitigationKind.LOW_PASS,
        detection=None,
        radii=model.radii("normal", model.least_noise_db(outlook.option.gain_db, loss_db)),
        facts={
            "hz": microphone.high_cut_hz,
            "db_per_octave": microphone.high_cut_db_per_octave,
        },
        weaker_db=weakening_db(outlook.site),
    )
    return [found]


def _low_pass_db(hz: Array, microphone: Microphone) -> Array:
    """What the filter takes of each frequency: a Butterworth's, by definition."""
    order = microphone.high_cut_db_per_octave / _DB_PER_ORDER
    power = 1 + (hz / microphone.high_cut_hz) ** (2 * order)
    return np.asarray(10 * np.log10(power), dtype=np.float64)


def _turned_away(outlook: Outlook, now: Mitigation) -> list[Mitigation]:
    # voices that much weaker are noise that much louder
    radii = outlook.radii(outlook.option.gain_db, TURNED_AWAY_DB)
    if radii is None:
        return []
    facts = {"by_db": TURNED_AWAY_DB}
    kind = MitigationKind.TURNED_AWAY
    return [replace(now, kind=kind, detection=None, radii=radii, facts=facts)]


def _lower_gain(outlook: Outlook, now: Mitigation) -> list[Mitigation]:
    """The next lower gain; its noise may hide talk."""
    option = outlook.option
    lower = [
        other
        for other in outlook.plan.options
        if other.trigger.mode == option.trigger.mode and other.gain_db < option.gain_db
    ]
    if not lower or now.radii is None:
        return []
    # the next one down, the smallest change there is
    other = max(lower, key=lambda one: one.gain_db)
    by_db = option.gain_db - other.gain_db
    # the same sound pressure: another level would be another measure
    level = option.as_recorded_db + (other.gain_db if option.trigger.mode == "threshold" else 0.0)
    row = int(np.abs(other.curve.prediction.settings_db - level).argmin())
    return [outlook.measure(MitigationKind.LOWER_GAIN, option=other, row=row, by_db=by_db)]


def _deletion(outlook: Outlook, now: Mitigation) -> list[Mitigation]:
    """Deletion by the camera, where the card would keep recordings longer than anybody needs."""
    card_days = outlook.card_days
    if card_days is None or card_days <= DELETED_AFTER_DAYS:
        return []
    facts = {"days": DELETED_AFTER_DAYS, "card_days": card_days}
    return [replace(now, kind=MitigationKind.DELETION, facts=facts)]


def weakening_db(site: Site) -> dict[str, float]:
    """By how many dB(A) each built-in wanted sound of a site is weaker through the low-pass.

    Parameters
    ----------
    site : Site

    Returns
    -------
    dict of str to float
        By the sound's name.
    """
    weaker = {}
    for wanted in site.wanted:
        # a sound from a file has no table of bands
        if not wanted.sound:
            continue
        sound = sound_of(wanted)
        in_air = absorption_db_per_m(sound.band_hz) * (wanted.distance_m - sound.at_m)
        # what counts is what an A-weighted trigger hears of each band
        heard_db = np.array(sound.band_db) - in_air + a_weighting_db(sound.band_hz)
        power = 10 ** (heard_db / 10)
        passed = power * 10 ** (-_low_pass_db(sound.band_hz, site.microphone) / 10)
        weaker[sound.name] = float(10 * np.log10(power.sum() / passed.sum()))
    return weaker
