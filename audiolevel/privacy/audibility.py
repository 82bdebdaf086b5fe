"""Distances from which people could be understood in the recording.

The site's noise by third-octaves (`third_octaves`) is set against the standard speech of ANSI
S3.5-1997 (`intelligibility`) at each distance: less 20 lg of the distance and the absorption of the
air, in the open. What the microphone's own noise and the input's limit leave depends on the gain.
A low index is no proof of privacy: a recording can be filtered and played again.

Conventions: levels in dB SPL per hertz at the microphone, bands along the last axis.

Entry points: `SpeechAnalyser` (of a stream), `ListeningModel` (of a site), `understanding`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import Enum

import numpy as np

from audiolevel.arrays import Array, BoolArray
from audiolevel.intervals import Interval
from audiolevel.metering.readers import Block
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.privacy.intelligibility import (
    BANDS_HZ,
    BANDWIDTH_DB,
    EFFORTS,
    SPEECH_DB,
    share_understood,
    sii_recorded,
)
from audiolevel.privacy.speech_detection import Speech, SpeechDetector
from audiolevel.privacy.third_octaves import BandAnalyser, BandLevels
from audiolevel.site import Site
from audiolevel.sounds.propagation import Air, absorption_db_per_m

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

    def result(self) -> SpeechAnalysis:
        """Of everything taken in up to now."""
        return SpeechAnalysis(self._bands.result(), self._speech.result())


@dataclass(frozen=True)
class AudibilityCurve:
    """Index of one vocal effort against distance at one gain.

    Radii end where the index falls to `UNDERSTOOD_INDEX`; they are infinite beyond `FARTHEST_M`.

    Attributes
    ----------
    gain_db : float
        From the recorded gain.
    effort : str
        One of `EFFORTS`.
    quiet, typical, loud : arrays, shape (distances,)
        Index at `DISTANCES_M` in the moments in which each band's noise is exceeded 90, 50 and
        10 % of the time.
    radius_m : Interval
        In quiet moments: of the standard voice, and of talkers 6 dB weaker and stronger.
    radius_typical_m : float
        At usual moments.
    radius_quieter_m : float
        In moments 10 dB quieter than the quiet ones.
    clips_within_m : float
        A voice nearer than this drives the input past full scale.
    """

    gain_db: float
    effort: str
    quiet: Array
    typical: Array
    loud: Array
    radius_m: Interval
    radius_typical_m: float
    radius_quieter_m: float
    clips_within_m: float


@dataclass(frozen=True)
class PlaceAudibility:
    """Index of people's talk at a place of the site file.

    Attributes
    ----------
    name : str
    distance_m : float
    quiet, typical : mapping of str to float
        Index by vocal effort in quiet moments and at usual ones.
    """

    name: str
    distance_m: float
    quiet: Mapping[str, float]
    typical: Mapping[str, float]


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

    Attributes
    ----------
    bands : BandLevels
    """

    def __init__(
        self,
        bands: BandLevels,
        site: Site,
        full_scale_db: float,
        *,
        format_floor_db: float,
        rate_hz: int,
    ) -> None:
        self.bands, self._full_db = bands, full_scale_db
        self._air = Air(site.air.temperature_c, site.air.humidity_percent)
        self._places = site.place
        converter_dbfs = site.own_noise(format_floor_db).converter_db
        self._converter_db = _converter_noise_db(converter_dbfs + full_scale_db, site, rate_hz)

    def noise_db(self, percent: float, gain_db: float, hour: int | None = None) -> Array:
        """Noise that speech must rise above, spectrum level at the microphone, shape (18,).

        Parameters
        ----------
        percent : float
            Of the time in which it is exceeded: 90 for the quiet moments.
        gain_db : float
            From the recorded gain.
        hour : int or None
            Of the day; None takes all.

        Notes
        -----
        The converter's noise lies behind the gain: seen from in front of it, it falls as the gain
        rises. The recording holds it once already. The capsule's own noise is part of what was
        recorded at every gain.
        """
        level = self.bands.exceeded_db(percent, hour) + self._full_db - BANDWIDTH_DB
        # 0 in place of NaN: bands that are not recorded weigh nothing in the index
        site = 10 ** (np.where(self.bands.usable, level, 0.0) / 10)
        own = 10 ** (self._converter_db / 10)
        # at least a quarter of what was measured is taken for the site's, however loud the
        # converter is said to be
        alone = np.maximum(site - own, site / 4)
        return np.asarray(10 * np.log10(alone + own * 10 ** (-gain_db / 10)), dtype=np.float64)

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

        Notes
        -----
        The standard's speech spectra hold at 1 m (ANSI S3.5-1997, table 3); from there on 20 lg of
        the distance and the absorption of ISO 9613-1.
        """
        # shape (distances, 1), against the 18 bands
        distance = np.asarray(distance_m, dtype=np.float64)[:, None]
        in_air = absorption_db_per_m(BANDS_HZ, self._air) * (distance - 1)
        arriving = SPEECH_DB[effort] - 20 * np.log10(distance) - in_air
        return sii_recorded(arriving, np.broadcast_to(noise_db, arriving.shape), usable)

    def radius_m(self, effort: str, noise_db: Array, usable: BoolArray | None = None) -> float:
        """Metres at which the index falls to `UNDERSTOOD_INDEX`; 0 if it never reaches it.

        Parameters
        ----------
        effort, noise_db, usable
            As of `index`; by default the bands of the recording. Infinite beyond `FARTHEST_M`.
        """
        bands = self.bands.usable if usable is None else usable
        # steps of 2 %, interpolated, so that the radius is right to far better than a talker is
        distance = np.geomspace(0.1, FARTHEST_M, 400)
        index = self.index(effort, distance, noise_db, bands)
        if index[-1] >= UNDERSTOOD_INDEX:
            return float("inf")
        above = np.flatnonzero(index >= UNDERSTOOD_INDEX)
        if not len(above):
            return 0.0
        # the last one understood, and between it and the next: linear in the index,
        # by ratio in the distance
        i = int(above[-1])
        part = (index[i] - UNDERSTOOD_INDEX) / (index[i] - index[i + 1])
        return float(distance[i] * (distance[i + 1] / distance[i]) ** part)

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
            # 6 dB more noise does to the index nearly what a talker 6 dB weaker does
            radius_m=Interval(
                self.radius_m(effort, quiet),
                self.radius_m(effort, quiet + TALKER_DB),
                self.radius_m(effort, quiet - TALKER_DB),
            ),
            radius_typical_m=self.radius_m(effort, noise[TYPICAL]),
            radius_quieter_m=self.radius_m(effort, quiet - QUIETER_DB),
            # the standard voice holds at 1 m, so each dB of room is one of 20 lg of metres
            clips_within_m=float(10 ** (room / 20)),
        )

    def by_hour(self, gain_db: float) -> dict[int, dict[str, float]]:
        """Radius (m) by vocal effort in the quiet moments of every hour that was recorded."""
        return {
            hour: {e: self.radius_m(e, self.noise_db(QUIET, gain_db, hour)) for e in EFFORTS}
            for hour in self.bands.hours
        }

    def places(self, gain_db: float) -> list[PlaceAudibility]:
        """Index at the places of the site file, at a gain (dB from the recorded one)."""
        quiet, typical = self.noise_db(QUIET, gain_db), self.noise_db(TYPICAL, gain_db)

        def at(effort: str, distance_m: float, noise: Array) -> float:
            return float(self.index(effort, np.array([distance_m]), noise, self.bands.usable)[0])

        return [
            PlaceAudibility(
                place.name,
                place.distance_m,
                {effort: at(effort, place.distance_m, quiet) for effort in EFFORTS},
                {effort: at(effort, place.distance_m, typical) for effort in EFFORTS},
            )
            for place in self._places
        ]


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


class Understanding(Enum):
    """How many words of connected speech are understood; the value is the word for it."""

    ALL = "all"
    MOST = "most"
    SOME = "some"
    FEW = "few"
    NONE = "none"


def understanding(index: float) -> Understanding:
    """How many words of connected speech are understood at an index (0 to 1).

    All from 90 % of the words on, most from 60 %, some from 20 % (Sherbecoe and Studebaker 2003);
    few from an index of 0.05 on, where office acoustics ceases to speak of confidential privacy.
    """
    share = float(share_understood(index))
    if share >= 0.9:
        return Understanding.ALL
    if share >= 0.6:
        return Understanding.MOST
    if share >= 0.2:
        return Understanding.SOME
    return Understanding.FEW if index >= 0.05 else Understanding.NONE
