"""Distances from which people could be understood in the recording.

The site's noise by third-octaves (`third_octaves`) is set against the standard speech of ANSI
S3.5-1997 (`intelligibility`) at each distance: less 20 lg of the distance and the absorption of the
air, in the open. What the microphone's own noise and the input's limit leave depends on the gain.
A low index is no proof of privacy: a recording can be filtered and played again.

Conventions: levels in dB SPL per hertz at the microphone, bands along the last axis.

Entry points: `SpeechAnalyser` (of a stream), `ListeningModel` (of a site), `Unknowns`,
`Radii`, `Caught`.
"""

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import datetime
from enum import Enum

import numpy as np

from audiolevel.ground.arrays import Array, BoolArray
from audiolevel.ground.intervals import Interval
from audiolevel.metering.readers import Block
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.privacy.intelligibility import (
    BANDS_HZ,
    BANDWIDTH_DB,
    EFFORTS,
    SPEECH_DB,
    sii_recorded,
)
from audiolevel.privacy.speech_detection import Speech, SpeechDetector
from audiolevel.privacy.speech_security import ENHANCED_DB, WORD_DB, uniform_ratio_db
from audiolevel.privacy.third_octaves import BandAnalyser, BandLevels
from audiolevel.site.sections import Site
from audiolevel.sounds.propagation import Air, absorption_db_per_m

DISTANCES_M = (1, 2, 3, 5, 7, 10, 15, 20, 30, 50, 70, 100)
FARTHEST_M = 300.0
"""Beyond this wind, ground and walls decide, and nothing is claimed."""

FOLLOWED_INDEX = 0.20
"""Sentences can be followed down to here: one word in five of connected speech is still understood
(Sherbecoe and Studebaker 2003), office acoustics begins to speak of privacy at this articulation
index (ASTM E1130, at second hand), and ends its privacy distance where the speech transmission
index falls to the same number (ISO 3382-3:2012, 6.3, at second hand)."""

# Of ten talkers asked to speak alike one is some 6 dB louder: ISO 9921:2003 puts 6 dB between its
# efforts, ANSI S3.5-1997 6.0 between a normal and a raised voice (both from memory)
TALKER_DB = 6.0
# the active hours as quiet as those heard
HEARD = Interval(0.0, 0.0, 0.0)
QUIET, TYPICAL, LOUD = 90, 50, 10
_SPEECH_PEAKS_DB = 15.0  # above its mean square; ANSI S3.5-1997 takes speech to span ±15 dB


@dataclass(frozen=True)
class SpeechAnalysis:
    """Band levels and speech of one recording, as a privacy review needs them."""

    bands: BandLevels
    speech: Speech


class SpeechAnalyser:
    """Analyses a stream of samples for band levels and for speech.

    Parameters
    ----------
    rate_hz : int
    start : datetime or None
        When the recording began.
    """

    def __init__(self, rate_hz: int, start: datetime | None = None) -> None:
        self._bands, self._speech = BandAnalyser(rate_hz, start), SpeechDetector(rate_hz)

    def add(self, block: Block) -> None:
        """Take in one more block, shape (frames, channels)."""
        self._bands.add(block)
        self._speech.add(block)
        self._bands.settle(self._speech.spoken_seconds(), self._speech.judged_s)

    def result(self) -> SpeechAnalysis:
        """Of everything taken in; nothing can be added any more."""
        # what is left at the end has no later window that could find speech in it
        self._bands.settle(self._speech.spoken_seconds(), self._speech.judged_s + 3)
        return SpeechAnalysis(self._bands.result(), self._speech.result())


@dataclass(frozen=True)
class Radii:
    """How far off a voice may be for two things; infinite beyond `FARTHEST_M`.

    Attributes
    ----------
    words_m : float
        A word may be caught: the uniformly weighted ratio reaches `WORD_DB`.
    sentences_m : float
        Sentences can be followed: the index reaches `FOLLOWED_INDEX`.
    """

    words_m: float
    sentences_m: float


@dataclass(frozen=True)
class AudibilityCurve:
    """One vocal effort at one gain: indices against distance, and radii.

    All radii are for sound that software has cleaned (`ENHANCED_DB`); indices are without.

    Attributes
    ----------
    gain_db : float
        From the recorded gain.
    effort : str
        One of `EFFORTS`.
    quiet, typical, loud : arrays, shape (distances,)
        Index at `DISTANCES_M` in the moments in which each band's noise is exceeded 90, 50 and
        10 % of the time.
    cleaned : array, shape (distances,)
        As `quiet`, for sound that software has cleaned: what the radii are of.
    heard : Radii
        In the quiet moments that were heard, of the standard voice.
    weaker, stronger : Radii
        Of talkers 6 dB weaker and stronger.
    usual : Radii
        At usual moments.
    active, farthest : Radii
        In the quiet moments of the hours in which the camera is on: best estimate, and at most.
    clips_within_m : float
        A voice nearer than this drives the input past full scale.
    """

    gain_db: float
    effort: str
    quiet: Array
    typical: Array
    loud: Array
    cleaned: Array
    heard: Radii
    weaker: Radii
    stronger: Radii
    usual: Radii
    active: Radii
    farthest: Radii
    clips_within_m: float


class Caught(Enum):
    """What of people's talk a recording may hold; the value is the word for it."""

    SENTENCES = "sentences"
    WORDS = "words"
    BEYOND = "beyond"


@dataclass(frozen=True)
class PlaceAudibility:
    """People's talk at a place of the site file, in the quietest moments the camera is on.

    Attributes
    ----------
    name : str
    distance_m : float
    caught : mapping of str to Caught
        By vocal effort, at the farther end of what is not known.
    index, ratio_db : mapping of str to float
        Index and uniformly weighted ratio there, without enhancement.
    voices : mapping of str to float or None
        Share of the talk there by vocal effort; None is not known.
    """

    name: str
    distance_m: float
    caught: Mapping[str, Caught]
    index: Mapping[str, float]
    ratio_db: Mapping[str, float]
    voices: Mapping[str, float] | None = None

    @property
    def share(self) -> float | None:
        """How much of the talk there has words that are caught; None is not known."""
        if self.voices is None:
            # a louder voice is caught from wherever a softer one is
            caught = {one is not Caught.BEYOND for one in self.caught.values()}
            return float(caught.pop()) if len(caught) == 1 else None
        each = self.voices.items()
        return sum(share for effort, share in each if self.caught[effort] is not Caught.BEYOND)

    @property
    def within(self) -> bool:
        """Whether talk there may be caught: in the voices used there, or in a normal one."""
        if self.voices is None:
            return self.caught["normal"] is not Caught.BEYOND
        return bool(self.share)


@dataclass(frozen=True)
class Unknowns:
    """By how much a site may be better listened to than it was heard.

    Attributes
    ----------
    quieter_db : Interval
        How much quieter it is in the hours in which the camera is on: best and at most.
    louder_db : float
        How much louder, at most, voices are against all noise than the standard's.
    """

    quieter_db: Interval = HEARD
    louder_db: float = TALKER_DB


# of one talker in ten, and of nothing else
AS_HEARD = Unknowns()


class ListeningModel:
    """The site's noise in dB SPL per hertz, and talkers in it.

    Parameters
    ----------
    bands : BandLevels
    site : Site
    full_scale_db : float
        SPL of a sine that just fills the scale at the recorded gain.
    format_floor_db : float
        Of the recording, dB FS.
    rate_hz : int
        Its sampling rate.
    active_hours : sequence of int
        Hours that were heard and in which the camera is on; their quietest is taken for those
        hours, all that was heard where there is none.
    unknown : Unknowns

    Attributes
    ----------
    bands : BandLevels
    quietest_hour : int or None
        Of the active hours heard.
    """

    def __init__(
        self,
        bands: BandLevels,
        site: Site,
        full_scale_db: float,
        *,
        format_floor_db: float,
        rate_hz: int,
        active_hours: Sequence[int] = (),
        unknown: Unknowns = AS_HEARD,
    ) -> None:
        self.bands, self._full_db = bands, full_scale_db
        self._unknown = unknown
        self._farther_db = 0.0
        self._air = Air(site.air.temperature_c, site.air.humidity_percent)
        self._places = site.place
        converter_dbfs = site.own_noise(format_floor_db).converter_db
        self._converter_db = _converter_noise_db(converter_dbfs + full_scale_db, site, rate_hz)
        known = [hour for hour in active_hours if hour in bands.hours]
        # mean over the bands: the hour whose quiet is lowest
        self.quietest_hour = min(
            known, key=lambda hour: float(np.nanmean(bands.exceeded_db(QUIET, hour))), default=None
        )

    def carrying(self, farther_db: float) -> "ListeningModel":
        """The same where voices are louder against all noise than computed: a walk test's."""
        other = copy(self)
        other._farther_db = farther_db
        return other

    def noise_db(
        self,
        percent: float,
        gain_db: float,
        hour: int | None = None,
        *,
        quieter_db: float = 0.0,
        filter_db: Array | float = 0.0,
    ) -> Array:
        """Noise that speech must rise above, spectrum level at the microphone, shape (18,).

        Parameters
        ----------
        percent : float
            Of the time in which it is exceeded: 90 for the quiet moments.
        gain_db : float
            From the recorded gain.
        hour : int or None
            Of the day; None takes all.
        quieter_db : float
            Of the site, than it was heard.
        filter_db : array, shape (18,)
            What a filter takes of all that comes before the converter.

        Notes
        -----
        A recording can be equalised again, so a filter hides only what it brings below the
        converter's noise: seen from before the filter, it is that noise which rises.
        The converter's noise lies behind the gain: seen from in front of it, it falls as the gain
        rises. The recording holds it once already. The capsule's own noise is part of what was
        recorded at every gain; where the site is said to be quieter than heard it goes down too,
        which errs towards hearing more.
        """
        level = self.bands.exceeded_db(percent, hour) + self._full_db - BANDWIDTH_DB
        # 0 in place of NaN: bands that are not recorded weigh nothing in the index
        site = 10 ** (np.where(self.bands.usable, level, 0.0) / 10)
        own = 10 ** (self._converter_db / 10)
        # at least a quarter of what was measured is taken for the site's, however loud the
        # converter is said to be
        alone = np.maximum(site - own, site / 4) * 10 ** (-quieter_db / 10)
        seen = own * 10 ** ((filter_db - gain_db) / 10)
        noise = 10 * np.log10(alone + seen) - self._farther_db
        return np.asarray(noise, dtype=np.float64)

    def arriving_db(self, effort: str, distance_m: Array) -> Array:
        """Standard speech at distances, spectrum levels, shape (distances, 18).

        The standard's speech spectra hold at 1 m (ANSI S3.5-1997, table 3); from there on 20 lg of
        the distance and the absorption of ISO 9613-1.
        """
        # shape (distances, 1), against the 18 bands
        distance = np.asarray(distance_m, dtype=np.float64)[:, None]
        in_air = absorption_db_per_m(BANDS_HZ, self._air) * (distance - 1)
        arriving: Array = SPEECH_DB[effort] - 20 * np.log10(distance) - in_air
        return arriving

    def index(self, effort: str, distance_m: Array, noise_db: Array, usable: BoolArray) -> Array:
        """Index of standard speech at distances.

        Parameters
        ----------
        effort : str
            One of `EFFORTS`.
        distance_m : array, shape (distances,)
        noise_db : array, shape (18,)
            As of `noise_db`.
        usable : array of bool, shape (18,)
            Bands that are recorded.

        Returns
        -------
        array, shape (distances,)
        """
        arriving = self.arriving_db(effort, distance_m)
        return sii_recorded(arriving, np.broadcast_to(noise_db, arriving.shape), usable)

    def radii(self, effort: str, noise_db: Array, usable: BoolArray | None = None) -> Radii:
        """Both radii of a vocal effort, for sound that software has cleaned.

        Parameters
        ----------
        effort, noise_db, usable
            As of `index`; by default the bands of the recording.
        """
        bands = self.bands.usable if usable is None else usable
        # steps of 2 %, interpolated, so that a radius is right to far better than a talker is
        distance = np.geomspace(0.1, FARTHEST_M, 400)
        cleaned = noise_db - ENHANCED_DB
        ratio = uniform_ratio_db(self.arriving_db(effort, distance), cleaned, bands)
        words_m = _falls_to(distance, ratio, WORD_DB)
        sentences_m = _falls_to(
            distance, self.index(effort, distance, cleaned, bands), FOLLOWED_INDEX
        )
        # who follows sentences catches words
        return Radii(max(words_m, sentences_m), sentences_m)

    def curve(self, gain_db: float, effort: str) -> AudibilityCurve:
        """One vocal effort against distance at a gain (dB from the recorded one)."""
        distance = np.array(DISTANCES_M, dtype=np.float64)
        noise = {p: self.noise_db(p, gain_db) for p in (QUIET, TYPICAL, LOUD)}
        index = {p: self.index(effort, distance, n, self.bands.usable) for p, n in noise.items()}
        quiet = noise[QUIET]
        overall = 10 * np.log10(np.sum(10 ** ((SPEECH_DB[effort] + BANDWIDTH_DB) / 10)))
        # full scale is a sine's peak, 3 dB above its level
        room = overall + _SPEECH_PEAKS_DB - (self._full_db - gain_db + 3.0)
        return AudibilityCurve(
            gain_db=gain_db,
            effort=effort,
            quiet=index[QUIET],
            typical=index[TYPICAL],
            loud=index[LOUD],
            cleaned=self.index(effort, distance, quiet - ENHANCED_DB, self.bands.usable),
            heard=self.radii(effort, quiet),
            # 6 dB more noise does to a ratio what a talker 6 dB weaker does
            weaker=self.radii(effort, quiet + TALKER_DB),
            stronger=self.radii(effort, quiet - TALKER_DB),
            usual=self.radii(effort, noise[TYPICAL]),
            active=self.radii(effort, self.best_noise_db(gain_db)),
            farthest=self.radii(effort, self.least_noise_db(gain_db)),
            # the standard voice holds at 1 m, so each dB of room is one of 20 lg of metres
            clips_within_m=float(10 ** (room / 20)),
        )

    def heard_noise_db(self, percent: float, hour: int | None) -> Array:
        """Noise at the recorded gain in an hour of the day, (18,): heard, or else the best guess.

        Without an hour it is that of all that was heard.
        """
        quieter = hour is not None and hour not in self.bands.hours
        at = None if quieter else hour
        quieter_db = (self._unknown.quieter_db.best or 0.0) if quieter else 0.0
        return self.noise_db(percent, 0.0, at, quieter_db=quieter_db)

    def best_noise_db(self, gain_db: float) -> Array:
        """Noise of the quiet moments in the hours in which the camera is on, shape (18,)."""
        quieter_db = self._unknown.quieter_db.best or 0.0
        return self.noise_db(QUIET, gain_db, self.quietest_hour, quieter_db=quieter_db)

    def least_noise_db(self, gain_db: float, filter_db: Array | float = 0.0) -> Array:
        """The same with all that makes voices carry, through a filter or not, shape (18,).

        "At most" is over this. The day, the talker, the calibration and the gain are added up: a
        day that is quiet is quiet for every talker.
        """
        quieter_db = self._unknown.quieter_db.high
        noise = self.noise_db(
            QUIET, gain_db, self.quietest_hour, quieter_db=quieter_db, filter_db=filter_db
        )
        return noise - self._unknown.louder_db

    def by_hour(self, gain_db: float) -> dict[int, dict[str, Radii]]:
        """Radii by vocal effort in the quiet moments of every hour that was recorded."""
        return {
            hour: {e: self.radii(e, self.noise_db(QUIET, gain_db, hour)) for e in EFFORTS}
            for hour in self.bands.hours
        }

    def places(self, gain_db: float) -> list[PlaceAudibility]:
        """Talk at the places of the site file, at most, at a gain (dB from the recorded one)."""
        noise = self.least_noise_db(gain_db)
        reach = {effort: self.radii(effort, noise) for effort in EFFORTS}
        usable, found = self.bands.usable, []
        for place in self._places:
            at = np.array([place.distance_m])
            found.append(
                PlaceAudibility(
                    place.name,
                    place.distance_m,
                    {effort: _caught(place.distance_m, reach[effort]) for effort in EFFORTS},
                    {e: float(self.index(e, at, noise, usable)[0]) for e in EFFORTS},
                    {
                        e: float(uniform_ratio_db(self.arriving_db(e, at), noise, usable)[0])
                        for e in EFFORTS
                    },
                    place.voices,
                )
            )
        return found


def _falls_to(distance: Array, value: Array, limit: float) -> float:
    """Metres at which a value that falls with distance reaches its limit; 0 if it never does."""
    if value[-1] >= limit:
        return float("inf")
    above = np.flatnonzero(value >= limit)
    if not len(above):
        return 0.0
    # the last one above, and between it and the next: linear in the value, by ratio in the distance
    i = int(above[-1])
    part = (value[i] - limit) / (value[i] - value[i + 1])
    return float(distance[i] * (distance[i + 1] / distance[i]) ** part)


def _caught(distance_m: float, radii: Radii) -> Caught:
    if distance_m <= radii.sentences_m:
        return Caught.SENTENCES
    return Caught.WORDS if distance_m <= radii.words_m else Caught.BEYOND


def _converter_noise_db(level_db: float, site: Site, rate_hz: int) -> Array:
    """The converter's noise, white, as SPL per hertz at the recorded gain, (18,)."""
    power = 10 ** (level_db / 10)
    if site.microphone.converter_noise_dbfs is None:
        # the format's floor is no A-weighted level: its noise is spread over half the rate
        power /= rate_hz / 2
    else:
        line = np.arange(20.0, min(20_000.0, rate_hz / 2), 10.0)
        # A-weighted sum of a white noise of 1 per hertz, over lines 10 Hz apart
        power /= np.sum(10 ** (a_weighting_db(line) / 10)) * 10.0
    return np.full(len(BANDS_HZ), 10 * np.log10(power))
