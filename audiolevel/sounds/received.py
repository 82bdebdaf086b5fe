"""Wanted sounds looked up, given a known level, and as received at a distance.

Levels are dB re 20 µPa in front of the source, in the free field; the table is in ``catalogue``.

``catalogue`` lists them, ``find`` looks one up, ``with_level`` puts a known level in place of the
built-in one, ``received`` gives level and spectrum at the microphone. The waveforms are made in
``synthesis``; what the numbers are worth is told in ``docs/sounds.md``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from audiolevel.arrays import Array
from audiolevel.errors import SettingError
from audiolevel.metering.weighting import a_weighting_db
from audiolevel.names import hint
from audiolevel.sounds.catalogue import SOUNDS, Sound
from audiolevel.sounds.propagation import Air, received_bands_db

__all__ = ["Received", "Sound", "catalogue", "find", "received", "with_level"]


@dataclass(frozen=True)
class Received:
    """A sound as it arrives: A-weighted level in the sound's measure, and unweighted bands, dB."""

    sound: Sound
    distance_m: float
    level_db: float
    band_hz: Array
    band_db: Array


def catalogue() -> tuple[Sound, ...]:
    """All built-in sounds, in the order they are listed."""
    return SOUNDS


def find(name: str) -> Sound:
    """The built-in sound of that name; capitals and stray blanks do not matter.

    Raises
    ------
    SettingError
        No such sound; the message names the nearest.
    """
    wanted = " ".join(name.split()).casefold()
    by_name = {sound.name: sound for sound in catalogue()}
    if wanted in by_name:
        return by_name[wanted]
    raise SettingError(f"no wanted sound is called '{name}'; {hint(wanted, by_name)}")


def with_level(sound: Sound, level_dba: float, at_m: float = 1.0) -> Sound:
    """The same sound at a level the user knows: LAFmax `level_dba` at `at_m` metres."""
    if not np.isfinite(level_dba):
        raise SettingError(f"level_dba is {level_dba}: give the sound's LAFmax in dB(A)")
    if not (np.isfinite(at_m) and at_m > 0.0):
        raise SettingError(f"at_m is {at_m}: give a distance in metres above 0")
    return replace(
        sound,
        measure="LAFmax",
        level_db=float(level_dba),
        at_m=float(at_m),
        range_db=(float(level_dba), float(level_dba)),
        source="stated by the user",
        certainty="user",
    )


def received(
    sound: Sound, distance_m: float, *, air: Air | None = None, obstruction_db: float = 0.0
) -> Received:
    """Level and spectrum of a sound at the microphone, from its bands.

    Parameters
    ----------
    sound
        From `catalogue`, `find` or `with_level`.
    distance_m
        Metres from the source to the microphone.
    air, obstruction_db
        As in `propagation.received_bands_db`.

    Returns
    -------
    Received
        The level keeps the sound's own measure: LAFmax stays LAFmax. For a sound whose spectrum
        changes while it lasts the band sum is an approximation; `synthesis.time_course` filters
        the waveform instead and agrees within 0.5 dB up to 50 m.
    """
    weights_db = a_weighting_db(sound.band_hz)
    relative_db = np.asarray(sound.band_db, dtype=np.float64)
    # all bands moved alike, until their A-weighted sum is the stated level
    bands_db = relative_db + sound.level_db - _sum_db(relative_db + weights_db)
    at_microphone = received_bands_db(
        bands_db,
        sound.band_hz,
        distance_m=distance_m,
        from_m=sound.at_m,
        air=air,
        obstruction_db=obstruction_db,
    )
    # weighted after the air, which takes the treble that A lets through
    level_db = _sum_db(at_microphone + weights_db)
    return Received(sound, float(distance_m), level_db, sound.band_hz, at_microphone)


def _sum_db(levels_db: Array) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (levels_db / 10.0))))
