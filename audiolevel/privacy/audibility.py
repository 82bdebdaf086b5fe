"""From how far could people be understood in the recording?

The site's noise by third-octaves (`bands`) is set against the standard speech of ANSI S3.5-1997
(`intelligibility`) carried to each distance: by 20 lg of the distance and the absorption of the
air, in the open. What the microphone's own noise and the input's limit leave of it depends on the
gain. A low index is no proof of privacy: a recording can be filtered and played again.

Conventions: levels in dB SPL per hertz at the microphone, bands along the last axis.

Entry points: `Overhearing` (listens), `Scene` (judges), `understood`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from audiolevel.arrays import Array, BoolArray
from audiolevel.metering.recordings import Block
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.privacy.intelligibility import (
    BANDS_HZ,
    BANDWIDTH_DB,
    EFFORTS,
    SPEECH_DB,
    share_understood,
    sii_recorded,
)
from audiolevel.privacy.speech_detection import Speech, SpeechListener
from audiolevel.privacy.third_octaves import BandLevels, BandListener
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


class Scene:
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
        self._own_db = _own_noise_db(site, format_floor_db + full_scale_db, rate_hz)

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

    def index(self, effort: str, distance_m: Array, noise_db: Array, carried: BoolArray) -> Array:
        """Index of standard speech at distances, shape (distances,)."""
        distance = np.asarray(distance_m, dtype=np.float64)[:, None]
        in_air = absorption_db_per_m(BANDS_HZ, self._air) * (distance - 1)
        arriving = SPEECH_DB[effort] - 20 * np.log10(distance) - in_air
        return sii_recorded(arriving, np.broadcast_to(noise_db, arriving.shape), carried)

    def radius_m(self, effort: str, noise_db: Array, carried: BoolArray | None = None) -> float:
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
        """One vocal effort against distance at a gain."""
        distance = np.array(DISTANCES_M, dtype=np.float64)
        noise = {p: self.noise_db(p, gain_db) for p in (QUIET, TYPICAL, LOUD)}
        index = {p: self.index(effort, distance, n, self.bands.carried) for p, n in noise.items()}
        quiet = noise[QUIET]
        overall = 10 * np.log10(np.sum(10 ** ((SPEECH_DB[effort] + BANDWIDTH_DB) / 10)))
        # full scale is a sine's peak, 3 dB above its level
        room = overall + _SPEECH_PEAKS_DB - (self._full_db - gain_db + 3.0)
        return Carried(
            gain_db=gain_db,
            effort=effort,
            quiet=index[QUIET],
            typical=index[TYPICAL],
            loud=index[LOUD],
            radius_m=self.radius_m(effort, quiet),
            radius_low_m=self.radius_m(effort, quiet + TALKER_DB),
            radius_high_m=self.radius_m(effort, quiet - TALKER_DB),
            radius_typical_m=self.radius_m(effort, noise[TYPICAL]),
            radius_quieter_m=self.radius_m(effort, quiet - QUIETER_DB),
            clips_within_m=float(10 ** (room / 20)),
        )

    def by_hour(self, gain_db: float) -> dict[int, dict[str, float]]:
        """Radius in the quiet moments of every hour that was heard."""
        return {
            hour: {e: self.radius_m(e, self.noise_db(QUIET, gain_db, hour)) for e in EFFORTS}
            for hour in self.bands.hours
        }

    def places(self, gain_db: float) -> list[PlaceHeard]:
        """The places of the site file."""
        quiet, typical = self.noise_db(QUIET, gain_db), self.noise_db(TYPICAL, gain_db)

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


def understood(index: float) -> str:
    """An index in a word: how many words of connected speech are understood."""
    share = float(share_understood(index))
    if share >= 0.9:
        return "all"
    if share >= 0.6:
        return "most"
    if share >= 0.2:
        return "some"
    return "few" if index >= 0.05 else "none"
