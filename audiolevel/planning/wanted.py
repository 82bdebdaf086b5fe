"""The sounds that a site wants caught, as they arrive at its microphone.

Entry points: `wanted_sounds`, `at_distance`, `Arriving`, `sound_of`, `variation_of`.
"""

from dataclasses import dataclass
from math import hypot
from pathlib import Path

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError
from audiolevel.metering.sound_files import read_whole
from audiolevel.site.sections import Site, Wanted
from audiolevel.sounds.arrival import WantedSound
from audiolevel.sounds.catalogue import Sound, find, with_level
from audiolevel.sounds.propagation import Air
from audiolevel.sounds.synthesis import (
    at_full_scale,
    band_limited,
    lafmax_db,
    propagated,
    render,
    resampled,
)
from audiolevel.sounds.variation import (
    MEASURED_MEAN_SPREAD_DB,
    PROPAGATION_SPREAD_DB,
    USUAL_EVENT_SPREAD_DB,
    Variation,
)
from audiolevel.sounds.waveforms import MASTER_RATE_HZ

# 0 dB SPL
_REFERENCE_PA = 20e-6


@dataclass(frozen=True)
class Arriving:
    """Where and through what the sounds of a site arrive.

    Attributes
    ----------
    site : Site
    spl_at_full_scale_db : float
        At the recorded gain: wanted levels are sound pressure, so a calibration is needed.
    rate_hz : int
        Of the recording: what it cannot hold the camera does not hear.
    top_hz : float or None
        Up to where the recording carries sound; None takes half the rate.
    seed : int
        Of the random parts of waveforms.
    """

    site: Site
    spl_at_full_scale_db: float
    rate_hz: int
    top_hz: float | None = None
    seed: int = 0


def wanted_sounds(arriving: Arriving) -> list[WantedSound]:
    """Every `[[wanted]]` of a site file as it arrives.

    Raises
    ------
    SettingError
        An unknown sound, or a file of one's own without its level.
    """
    return [at_distance(wanted, wanted.distance_m, arriving) for wanted in arriving.site.wanted]


def at_distance(wanted: Wanted, distance_m: float, arriving: Arriving) -> WantedSound:
    """One `[[wanted]]` at a distance of its own or another."""
    site, rate_hz = arriving.site, arriving.rate_hz
    if wanted.file:
        pressure = _own(wanted, distance_m, site.air, rate_hz, site.folder or Path())
        name = Path(wanted.file).stem
    else:
        sound = sound_of(wanted)
        name = sound.name
        pressure = render(
            sound,
            rate_hz,
            distance_m=distance_m,
            air=site.air,
            obstruction_db=wanted.obstruction_db,
            seed=arriving.seed,
        )
    if arriving.top_hz is not None:
        pressure = band_limited(pressure, rate_hz, arriving.top_hz)
    samples = at_full_scale(pressure, arriving.spl_at_full_scale_db)
    variation = variation_of(wanted, site)
    return WantedSound(name, distance_m, samples, rate_hz, variation, wanted.must)


def sound_of(wanted: Wanted) -> Sound:
    """The built-in sound of a `[[wanted]]`, at the level the user knows where there is one."""
    sound = find(wanted.sound)
    if wanted.level_dba is not None:
        sound = with_level(sound, wanted.level_dba, wanted.at_m)
    return sound


def variation_of(wanted: Wanted, site: Site) -> Variation:
    """How far an event of a `[[wanted]]` may lie from the level worked out for it."""
    event_db, mean_db = USUAL_EVENT_SPREAD_DB, MEASURED_MEAN_SPREAD_DB
    if wanted.sound:
        sound = find(wanted.sound)
        event_db = sound.event_spread_db
        # a level measured on site is better known than any table's
        if wanted.level_dba is None:
            mean_db = sound.mean_spread_db
        else:
            mean_db = min(mean_db, sound.mean_spread_db)
    if wanted.level_spread_db is not None:
        event_db = wanted.level_spread_db
    return Variation(
        event_db=hypot(event_db, PROPAGATION_SPREAD_DB),
        unknown_db=hypot(mean_db, site.calibration_spread_db),
    )


def _own(wanted: Wanted, distance_m: float, air: Air, rate_hz: int, folder: Path) -> Array:
    """A file of the user's own, brought to its level at its distance and carried on, in pascals."""
    if wanted.level_dba is None:
        raise SettingError(
            f"[[wanted]] file = {wanted.file!r}: needs level_dba, its LAFmax at at_m metres"
        )
    samples, own_rate_hz = read_whole(folder / wanted.file)
    # air absorption is worked out at the rate of the built-in sounds
    samples = resampled(samples, own_rate_hz, MASTER_RATE_HZ)
    # silence cannot be brought to any level
    if not samples.any():
        raise SettingError(f"[[wanted]] file = {wanted.file!r}: is silent")
    # 94 dB: SPL of samples of 1 if they were pascals
    reference_db = 20 * float(np.log10(1 / _REFERENCE_PA))
    present_db = lafmax_db(samples, MASTER_RATE_HZ) + reference_db
    # what it lacks of its level, less what an obstacle takes
    pressure = samples * 10 ** ((wanted.level_dba - present_db - wanted.obstruction_db) / 20)
    heard = propagated(pressure, wanted.at_m, distance_m, air)
    return resampled(heard, MASTER_RATE_HZ, rate_hz)
