"""Which sounds does the site want caught, and how do they arrive at its microphone?

Entry points: `wanted_sounds`, `WantedSound`.
"""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from audiolevel import sounds
from audiolevel.errors import SettingError
from audiolevel.levels import level_db
from audiolevel.propagation import Air
from audiolevel.recipes import MASTER_RATE_HZ
from audiolevel.recordings import read_whole
from audiolevel.site import Site, Wanted
from audiolevel.synthesis import (
    at_full_scale,
    carried,
    laf_course_db,
    lafmax_db,
    render,
    resampled,
)

Array = NDArray[np.float64]
_REFERENCE_PA = 20e-6


@dataclass(frozen=True)
class WantedSound:
    """A wanted sound at the microphone.

    Attributes
    ----------
    name : str
    distance_m : float
    samples : array, shape (n,)
        At the recorded gain; full scale is 1, and more than that is still there.
    rate_hz : int
    """

    name: str
    distance_m: float
    samples: Array
    rate_hz: int

    @cached_property
    def peak_db(self) -> float:
        """Highest sample re full scale at the recorded gain."""
        return float(20 * np.log10(max(np.abs(self.samples).max(), 1e-10)))

    @cached_property
    def lafmax_db(self) -> float:
        """Its LAFmax in dB FS at the recorded gain, unclipped."""
        return lafmax_db(self.samples, self.rate_hz) + float(level_db(1.0))

    def clips_at(self, gain_db: float) -> bool:
        """Whether it is heard only up to full scale at this gain."""
        return self.peak_db + gain_db > 0

    def course_db(self, gain_db: float = 0.0) -> Array:
        """Its LAF by itself, every 10 ms from silence, dB FS at this gain; shape (rows,)."""
        return laf_course_db(self.samples, self.rate_hz, gain_db=gain_db)


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
    samples = resampled(samples, own_rate_hz, MASTER_RATE_HZ)
    if not samples.any():
        raise SettingError(f"[[wanted]] file = {wanted.file!r}: is silent")
    reference_db = 20 * float(np.log10(1 / _REFERENCE_PA))
    present_db = lafmax_db(samples, MASTER_RATE_HZ) + reference_db
    pressure = samples * 10 ** ((wanted.level_dba - present_db - wanted.obstruction_db) / 20)
    heard = carried(pressure, wanted.at_m, distance_m, air)
    return resampled(heard, MASTER_RATE_HZ, rate_hz)
