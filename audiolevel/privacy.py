"""How much speech would be recorded, from how far could it be understood, and what reduces it?

The site's noise by third-octaves (`bands`) is set against standard speech (`intelligibility`) carried
to each distance; what the microphone's own noise and the input's limit leave of it depends on the
gain. Speech heard in the sample (`speech`) and the clips of a plan give minutes a day.

A low index is no proof of privacy: a recording can be filtered and played again. Nothing here is
legal advice.

Entry points: `Overhearing` (listens), `review` (judges), `Review`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import exp, isfinite

import numpy as np
from numpy.typing import NDArray

from audiolevel.bands import BandLevels, BandListener
from audiolevel.cautions import Caution
from audiolevel.choosing import Option
from audiolevel.errors import RecordingError
from audiolevel.intelligibility import (
    BANDS_HZ,
    BANDWIDTH_DB,
    EFFORTS,
    SPEECH_DB,
    share_understood,
    sii_recorded,
)
from audiolevel.planning import Plan
from audiolevel.propagation import Air, absorption_db_per_m
from audiolevel.recordings import Block
from audiolevel.site import Site
from audiolevel.sounds import find, received, with_level
from audiolevel.speech import Speech, SpeechListener, SpeechShare, speech_share
from audiolevel.weighting import a_weighting_db

Array = NDArray[np.float64]

DAY_MIN, DAY_S = 1440.0, 86400.0
DISTANCES_M = (1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100)
FARTHEST_M = 300.0
"""Beyond this wind, ground and walls decide, and nothing is claimed."""

UNDERSTOOD_INDEX = 0.20
"""The radius ends here: one word in five of connected speech is still understood (Sherbecoe and
Studebaker 2003), and office acoustics begins to speak of privacy at this articulation index (0.05
to 0.20 "normal", below 0.05 "confidential"; ASTM E1130, quoted at second hand)."""

# people differ from the standard voice by some 6 dB either way (common practice)
TALKER_DB = 6.0
QUIETER_DB = 10.0
_QUIET, _TYPICAL, _LOUD = 90, 50, 10
_SPEECH_PEAKS_DB = 15.0  # above its mean square; ANSI S3.5-1997 takes speech to span ±15 dB
_FILTERS = (("low-pass at 500 Hz", 0.0, 500.0), ("high-pass at 2 kHz", 2000.0, np.inf))


@dataclass(frozen=True)
class Overheard:
    """What the privacy review heard of one recording."""

    bands: BandLevels
    speech: Speech


class Overhearing:
    """Listens to a stream of samples for band levels and for speech.

    Parameters
    ----------
    rate_hz : int
    start : datetime or None
        When the recording began.
    """

    def __init__(self, rate_hz: int, start: datetime | None = None) -> None:
        self._bands, self._speech = BandListener(rate_hz, start), SpeechListener(rate_hz)

    def add(self, block: Block) -> None:
        """Hear one more block, shape (frames, channels)."""
        self._bands.add(block)
        self._speech.add(block)

    def heard(self) -> Overheard:
        """Everything up to now."""
        return Overheard(self._bands.heard(), self._speech.heard())


@dataclass(frozen=True)
class Carried:
    """Index of one vocal effort against distance at one gain, arrays of shape (distances,).

    `quiet`, `typical` and `loud` are the moments in which each band's noise is exceeded 90, 50 and
    10 % of the time; radii end at `UNDERSTOOD_INDEX` and are infinite beyond `FARTHEST_M`.
    """

    gain_db: float
    effort: str
    quiet: Array
    typical: Array
    loud: Array
    radius_m: float
    radius_low_m: float
    radius_high_m: float
    radius_typical_m: float
    radius_quieter_m: float
    clips_within_m: float


@dataclass(frozen=True)
class PlaceHeard:
    """What would be understood of people at a place: index by effort in quiet moments."""

    name: str
    distance_m: float
    index: Mapping[str, float]
    typical: Mapping[str, float]


@dataclass(frozen=True)
class Minutes:
    """Minutes a day with their limits; `best` is None where only an upper limit is known."""

    best: float | None
    low: float
    high: float


@dataclass(frozen=True)
class Captured:
    """What the recommended trigger records, and how much of it holds audible speech."""

    clip_s: float
    recorded: Minutes
    speech: Minutes | None


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


@dataclass(frozen=True)
class Review:
    """All that a privacy review of a site says."""

    plan: Plan
    assumed: bool
    carried: tuple[Carried, ...]
    by_hour: Mapping[int, Mapping[str, float]]
    places: tuple[PlaceHeard, ...]
    share: SpeechShare | None
    captured: Captured | None
    measures: tuple[Measure, ...]
    warnings: tuple[Caution, ...]

    @property
    def gain_db(self) -> float:
        """The gain that radius and places are given for: the recommended one, or as recorded."""
        option = self.plan.recommended
        return 0.0 if option is None else option.gain_db

    def at_gain(self, gain_db: float) -> list[Carried]:
        """The efforts at one gain."""
        return [one for one in self.carried if one.gain_db == gain_db]


def review(plan: Plan, overheard: Sequence[Overheard], *, assumed: bool = False) -> Review:
    """Review a plan for what it means for people's speech.

    Parameters
    ----------
    plan : Plan
    overheard : sequence of Overheard
        Of the plan's recordings.
    assumed : bool
        The calibration is not measured but assumed.

    Raises
    ------
    RecordingError
        Nothing was heard: a level history has no bands.
    """
    if not overheard:
        raise RecordingError("nothing to judge speech by; give the sound, not a level history")
    bands = overheard[0].bands
    for other in overheard[1:]:
        bands = bands.with_other(other.bands)
    option, confidence = plan.recommended, plan.survey.confidence
    share = speech_share([one.speech for one in overheard], confidence)
    full_db = plan.scale.spl_at_full_scale_db
    scene = None if full_db is None else _Scene(bands, full_db, plan)
    gains = sorted({0.0, *(room.gain_db for room in plan.rooms)})
    gain_db = 0.0 if option is None else option.gain_db
    carried = [] if scene is None else [scene.carried(g, e) for g in gains for e in EFFORTS]
    return Review(
        plan=plan,
        assumed=assumed,
        carried=tuple(carried),
        by_hour={} if scene is None else scene.by_hour(gain_db),
        places=() if scene is None else tuple(scene.places(gain_db)),
        share=share,
        captured=None if option is None else captured(option, plan.survey.site, share),
        measures=() if option is None else tuple(_measures(plan, option, share, scene)),
        warnings=tuple(_warnings(plan, share, scene, assumed=assumed)),
    )


# --- who could be understood ---------------------------------------------------------------------


class _Scene:
    """The site's noise in dB SPL per hertz, and talkers in it."""

    def __init__(self, bands: BandLevels, full_scale_db: float, plan: Plan) -> None:
        self.bands, self._full_db = bands, full_scale_db
        site, heard = plan.survey.site, plan.survey.heard
        self._air = Air(site.air.temperature_c, site.air.humidity_percent)
        self._places = site.place
        rates = [one.sample_rate_hz for one in heard if one.sample_rate_hz is not None]
        floor_db = max(one.format_floor_db for one in heard) + full_scale_db
        self._own_db = _own_noise_db(site, floor_db, min(rates))

    def noise_db(self, percent: float, gain_db: float, hour: int | None = None) -> Array:
        """Noise that speech must rise above, spectrum level at the microphone, shape (18,).

        The own noise of microphone and recorder lies behind the gain: seen from in front of it, it
        falls as the gain rises. The recording holds it once already.
        """
        level = self.bands.exceeded_db(percent, hour) + self._full_db - BANDWIDTH_DB
        site = 10 ** (np.where(self.bands.carried, level, 0.0) / 10)
        own = 10 ** (self._own_db / 10)
        # at least a quarter of what was measured is taken for the site's, however loud the
        # microphone is said to be
        alone = np.maximum(site - own, site / 4)
        return np.asarray(10 * np.log10(alone + own * 10 ** (-gain_db / 10)), dtype=np.float64)

    def index(
        self, effort: str, distance_m: Array, noise_db: Array, carried: NDArray[np.bool_]
    ) -> Array:
        """Index of standard speech at distances, shape (distances,)."""
        distance = np.asarray(distance_m, dtype=np.float64)[:, None]
        in_air = absorption_db_per_m(BANDS_HZ, self._air) * (distance - 1)
        arriving = SPEECH_DB[effort] - 20 * np.log10(distance) - in_air
        return sii_recorded(arriving, np.broadcast_to(noise_db, arriving.shape), carried)

    def radius_m(
        self, effort: str, noise_db: Array, carried: NDArray[np.bool_] | None = None
    ) -> float:
        """Where the index falls to `UNDERSTOOD_INDEX`; 0 if it never reaches it."""
        bands = self.bands.carried if carried is None else carried
        distance = np.geomspace(0.1, FARTHEST_M, 400)
        index = self.index(effort, distance, noise_db, bands)
        if index[-1] >= UNDERSTOOD_INDEX:
            return float("inf")
        above = np.flatnonzero(index >= UNDERSTOOD_INDEX)
        if not len(above):
            return 0.0
        i = int(above[-1])
        part = (index[i] - UNDERSTOOD_INDEX) / (index[i] - index[i + 1])
        return float(distance[i] * (distance[i + 1] / distance[i]) ** part)

    def carried(self, gain_db: float, effort: str) -> Carried:
        distance = np.array(DISTANCES_M, dtype=np.float64)
        noise = {p: self.noise_db(p, gain_db) for p in (_QUIET, _TYPICAL, _LOUD)}
        index = {p: self.index(effort, distance, n, self.bands.carried) for p, n in noise.items()}
        quiet = noise[_QUIET]
        overall = 10 * np.log10(np.sum(10 ** ((SPEECH_DB[effort] + BANDWIDTH_DB) / 10)))
        # full scale is a sine's peak, 3 dB above its level
        room = overall + _SPEECH_PEAKS_DB - (self._full_db - gain_db + 3.0)
        return Carried(
            gain_db=gain_db,
            effort=effort,
            quiet=index[_QUIET],
            typical=index[_TYPICAL],
            loud=index[_LOUD],
            radius_m=self.radius_m(effort, quiet),
            radius_low_m=self.radius_m(effort, quiet + TALKER_DB),
            radius_high_m=self.radius_m(effort, quiet - TALKER_DB),
            radius_typical_m=self.radius_m(effort, noise[_TYPICAL]),
            radius_quieter_m=self.radius_m(effort, quiet - QUIETER_DB),
            clips_within_m=float(10 ** (room / 20)),
        )

    def by_hour(self, gain_db: float) -> dict[int, dict[str, float]]:
        """Radius in the quiet moments of every hour that was heard."""
        return {
            hour: {e: self.radius_m(e, self.noise_db(_QUIET, gain_db, hour)) for e in EFFORTS}
            for hour in self.bands.hours
        }

    def places(self, gain_db: float) -> list[PlaceHeard]:
        quiet, typical = self.noise_db(_QUIET, gain_db), self.noise_db(_TYPICAL, gain_db)

        def at(effort: str, distance_m: float, noise: Array) -> float:
            return float(self.index(effort, np.array([distance_m]), noise, self.bands.carried)[0])

        return [
            PlaceHeard(
                place.name,
                place.distance_m,
                {effort: at(effort, place.distance_m, quiet) for effort in EFFORTS},
                {effort: at(effort, place.distance_m, typical) for effort in EFFORTS},
            )
            for place in self._places
        ]


def _own_noise_db(site: Site, floor_db: float, rate_hz: int) -> Array:
    """Own noise of microphone and format, white, as SPL per hertz at the recorded gain, (18,)."""
    line = np.arange(20.0, min(20_000.0, rate_hz / 2), 10.0)
    power = 10 ** (floor_db / 10) / (rate_hz / 2)
    if site.microphone.self_noise_dba is not None:
        weighted = np.sum(10 ** (a_weighting_db(line) / 10)) * 10.0
        power += 10 ** (site.microphone.self_noise_dba / 10) / weighted
    return np.full(len(BANDS_HZ), 10 * np.log10(power))


# --- minutes a day -------------------------------------------------------------------------------


def recorded_share(rate_per_day: float, clip_s: float) -> float:
    """Share of the time that is recorded, 1 − exp(−rate·clip): clips that overlap are one.

    The chance that a Poisson process of firings had one within the last `clip_s` seconds.
    """
    return 1.0 - exp(-rate_per_day * clip_s / DAY_S)


def captured(
    option: Option,
    site: Site,
    share: SpeechShare | None,
    *,
    row: int | None = None,
    clip_s: float | None = None,
) -> Captured:
    """Minutes a day that an option records, and with speech in them.

    Parameters
    ----------
    row : int or None
        Another row of the option's curve.
    clip_s : float or None
        Another length of a clip; by default the site's seconds before and after.

    Notes
    -----
    People are taken to talk as often during a clip as at any other time: a trigger that fires on
    shouts records more speech than that. The limits of speech multiply those of the rate and of
    the share, so they hold with at least twice the confidence's complement, and usually more.
    """
    prediction, at = option.curve.prediction, option.row if row is None else row
    length = site.storage.before_s + site.storage.after_s if clip_s is None else clip_s
    other = site.storage.other_recording_share

    def minutes(per_day: float) -> float:
        return DAY_MIN * (1 - (1 - recorded_share(per_day, length)) * (1 - other))

    best = float(prediction.per_day[at])
    known = isfinite(best) and prediction.method[at] != "upper limit"
    recorded = Minutes(
        minutes(best) if known else None,
        minutes(float(prediction.rate_low_per_day[at])) if known else minutes(0.0),
        minutes(float(prediction.rate_high_per_day[at])),
    )
    return Captured(length, recorded, None if share is None else _spoken(recorded, share))


def _spoken(recorded: Minutes, share: SpeechShare) -> Minutes:
    best = None if recorded.best is None else recorded.best * share.best
    return Minutes(best, recorded.low * share.low, recorded.high * share.high)


# --- what reduces it -----------------------------------------------------------------------------


def _measures(
    plan: Plan, option: Option, share: SpeechShare | None, scene: "_Scene | None"
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
            "no sound to hear afterwards; pictures and the log remain",
            Minutes(0.0, 0.0, 0.0),
            _least_caught(option, option.row),
            0.0,
        ),
    ]
    return found + ([] if scene is None else _filters(plan, option, now, scene))


def _least_caught(option: Option, row: int) -> float | None:
    return float(option.curve.caught()[row]) if option.curve.asked else None


def _radius(scene: "_Scene | None", gain_db: float) -> float | None:
    return None if scene is None else scene.radius_m("normal", scene.noise_db(_QUIET, gain_db))


def _higher(option: Option, site: Site, share: SpeechShare | None) -> list[Measure]:
    settings = option.curve.prediction.settings_db
    row = int(np.searchsorted(settings, option.trigger.at_db + 6.0 - 1e-9))
    if row >= len(settings):
        return []
    what = "a level" if option.trigger.mode == "threshold" else "a step"
    spoken = captured(option, site, share, row=row).speech
    cost = "misses what is quieter"
    return [Measure(f"{what} 6 dB higher", cost, spoken, _least_caught(option, row))]


def _other_modes(plan: Plan, option: Option, share: SpeechShare | None) -> list[Measure]:
    found = []
    for other in plan.by_mode:
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


def _at_night(option: Option, now: Captured) -> Measure:
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
    plan: Plan, option: Option, share: SpeechShare | None, scene: "_Scene | None"
) -> list[Measure]:
    lower = [
        other
        for other in plan.options
        if other.trigger.mode == option.trigger.mode and other.gain_db < option.gain_db
    ]
    if not lower:
        return []
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


def _filters(plan: Plan, option: Option, now: Captured, scene: "_Scene") -> list[Measure]:
    """A filter in the camera, taken to leave nothing outside its band."""
    found = []
    noise = scene.noise_db(_QUIET, option.gain_db)
    for name, low_hz, high_hz in _FILTERS:
        carried = scene.bands.carried & (BANDS_HZ >= low_hz) & (BANDS_HZ <= high_hz)
        radius = scene.radius_m("normal", noise, carried)
        weaker = _weaker_by(plan.survey.site, low_hz, high_hz)
        cost = "the wanted sounds are weaker by what the filter takes"
        if weaker:
            cost = "weaker: " + ", ".join(f"{name} {db:.0f} dB" for name, db in weaker.items())
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


# --- what the reader must know -------------------------------------------------------------------


def _warnings(
    plan: Plan, share: SpeechShare | None, scene: "_Scene | None", *, assumed: bool
) -> list[Caution]:
    found = list(plan.warnings)
    if scene is None:
        text = (
            "without a calibration no distance can be given; calibrate (audiolevel calibrate), or "
            "assume a full scale with --assume-full-scale-db and read the radius as that assumption"
        )
        found = [replace(c, text=text) if c.code == "uncalibrated" else c for c in found]
    elif assumed:
        text = (
            f"every distance rests on an assumed full scale of {plan.scale.spl_at_full_scale_db:g} "
            "dB SPL; 6 dB more or less about halves or doubles a radius"
        )
        found.append(Caution("assumed calibration", text))
    if share is None:
        text = "too short to listen for speech (2.3 s are needed); record ten minutes"
        found.append(Caution("speech not judged", text))
    if scene is not None and not scene.bands.carried[-1]:
        top = BANDS_HZ[scene.bands.carried][-1]
        text = (
            f"the recording carries speech up to {top:g} Hz; a camera that records higher lets "
            "more be understood"
        )
        found.append(Caution("narrow band", text))
    return found


def understood(index: float) -> str:
    """An index in a word: how many words of connected speech are understood."""
    share = float(share_understood(index))
    if share >= 0.9:
        return "nearly all"
    if share >= 0.6:
        return "most"
    if share >= 0.2:
        return "some"
    return "few" if index >= 0.05 else "none"
