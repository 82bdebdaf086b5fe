"""The sounds that a site wants caught, as they arrive at its microphone.

Entry points: `wanted_sounds`, `WantedSound`.
"""

from pathlib import Path

import numpy as np

from audiolevel.arrays import Array
from audiolevel.errors import SettingError
from audiolevel.metering.recordings import read_whole
from audiolevel.site import Site, Wanted
from audiolevel.sounds import received as sounds
from audiolevel.sounds.arrival import WantedSound
from audiolevel.sounds.propagation import Air
from audiolevel.sounds.synthesis import (
    at_full_scale,
    lafmax_db,
    propagated,
    render,
    resampled,
)
from audiolevel.sounds.waveforms import MASTER_RATE_HZ

# 0 dB SPL
_REFERENCE_PA = 20e-6


def wanted_sounds(
    site: Site,
    spl_at_full_scale_db: float,
    rate_hz: int,
    *,
    folder: Path | None = None,
    seed: int = 0,
) -> list[WantedSound]:
    """Every `[[wanted]]` of a site file as it arrives.

    Parameters
    ----------
    spl_at_full_scale_db : float
        At the recorded gain: wanted levels are sound pressure, so a calibration is needed.
    rate_hz : int
        Of the recording: what it cannot hold the camera does not hear.
    folder : Path or None
        That a sound's `file` is relative to.

    Raises
    ------
    SettingError
        An unknown sound, or a file of one's own without its level.
    """
    return [
        at_distance(
            wanted, wanted.distance_m, site.air, spl_at_full_scale_db, rate_hz, folder, seed
        )
        for wanted in site.wanted
    ]


def at_distance(
    wanted: Wanted,
    distance_m: float,
    air: Air,
    spl_at_full_scale_db: float,
    rate_hz: int,
    folder: Path | None = None,
    seed: int = 0,
) -> WantedSound:
    """One `[[wanted]]` at a distance of its own or another."""
    if wanted.file:
        pressure = _own(wanted, distance_m, air, rate_hz, folder or Path())
        name = Path(wanted.file).stem
    else:
        sound = sounds.find(wanted.sound)
        if wanted.level_dba is not None:
            sound = sounds.with_level(sound, wanted.level_dba, wanted.at_m)
        name = sound.name
        pressure = render(
            sound,
            rate_hz,
            distance_m=distance_m,
            air=air,
            obstruction_db=wanted.obstruction_db,
            seed=seed,
        )
    return WantedSound(name, distance_m, at_full_scale(pressure, spl_at_full_scale_db), rate_hz)


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
