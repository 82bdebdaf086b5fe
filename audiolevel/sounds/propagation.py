"""Propagation from the source to the microphone: spreading, absorption of the air, obstruction.

Free-field spreading from a small source, the absorption of the air, and whatever the user knows
to stand in the way. Nothing here knows about ground reflections, wind or temperature gradients:
over tens of metres they move a level by a few decibels either way (see ``docs/sounds.md``).

``spreading_db``, ``absorption_db_per_m``; ``Air`` holds the weather.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.ground.arrays import Array
from audiolevel.ground.errors import SettingError

THIRD_OCTAVES_HZ: Array = np.asarray(1000.0 * 10.0 ** (np.arange(-16, 14) / 10.0))
"""Exact base-10 third-octave midbands, 25 Hz to 20 kHz (IEC 61260-1:2014, 5.2)."""

# 20 °C, the triple point of water (0.01 °C) and one atmosphere
_REFERENCE_KELVIN = 293.15
_TRIPLE_POINT_KELVIN = 273.16
_REFERENCE_KPA = 101.325


@dataclass(frozen=True)
class Air:
    """The air a sound passes through.

    The default (10 °C, 70 %) is the mild, damp air for which ISO 9613-2:1996 Table 2 opens.

    Raises
    ------
    SettingError
        Outside -20 °C to 50 °C, above 0 % to 100 %, or above 0 kPa to 200 kPa: the formula's
        stated range (ISO 9613-1:1993, 7) with pressures no site on land exceeds.
    """

    temperature_c: float = 10.0
    humidity_percent: float = 70.0
    pressure_kpa: float = _REFERENCE_KPA

    def __post_init__(self) -> None:
        """Refuse weather that the formula does not cover (NaN fails every comparison)."""
        if not -20.0 <= self.temperature_c <= 50.0:
            raise SettingError(f"temperature_c is {self.temperature_c}: give -20 to 50 °C")
        if not 0.0 < self.humidity_percent <= 100.0:
            raise SettingError(
                f"humidity_percent is {self.humidity_percent}: give a value above 0, up to 100"
            )
        if not 0.0 < self.pressure_kpa <= 200.0:
            raise SettingError(f"pressure_kpa is {self.pressure_kpa}: give about 101.3 (sea level)")


def spreading_db(distance_m: float, from_m: float) -> float:
    """Loss between two distances from a small source, 20 lg(distance_m / from_m) dB.

    Negative when the microphone is nearer than the distance the level was stated for.

    Raises
    ------
    SettingError
        A distance that is not a positive, finite number of metres.
    """
    for name, value in (("distance_m", distance_m), ("from_m", from_m)):
        if not (np.isfinite(value) and value > 0.0):
            raise SettingError(f"{name} is {value}: give a distance in metres above 0")
    return float(20.0 * np.log10(distance_m / from_m))


def absorption_db_per_m(frequency_hz: ArrayLike, air: Air | None = None) -> Array:
    """Pure-tone absorption of still air, in decibels per metre.

    Parameters
    ----------
    frequency_hz
        Shape (n,) or scalar, 0 Hz and up; 0 Hz loses nothing.
    air
        Weather; 10 °C and 70 % relative humidity when left out.

    Notes
    -----
    ISO 9613-1:1993, equations (3) to (5) with the saturation pressure of annex B; accuracy
    ±10 % within its stated range, which is far below 1 dB over the distances a camera hears.
    """
    air = air or Air()
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    kelvin = air.temperature_c + 273.15
    relative_pressure = air.pressure_kpa / _REFERENCE_KPA
    relative_kelvin = kelvin / _REFERENCE_KELVIN
    # re the reference pressure (annex B), and from it water vapour in % of the molecules
    saturation = 10.0 ** (-6.8346 * (_TRIPLE_POINT_KELVIN / kelvin) ** 1.261 + 4.6151)
    vapour_percent = air.humidity_percent * saturation / relative_pressure
    # relaxation frequency of oxygen, equation (3)
    oxygen_hz = relative_pressure * (
        24.0 + 4.04e4 * vapour_percent * (0.02 + vapour_percent) / (0.391 + vapour_percent)
    )
    # relaxation frequency of nitrogen, equation (4)
    nitrogen_hz = (
        relative_pressure
        / np.sqrt(relative_kelvin)
        * (9.0 + 280.0 * vapour_percent * np.exp(-4.170 * (relative_kelvin ** (-1 / 3) - 1.0)))
    )
    squared = frequency**2
    # equation (5): classical and rotational losses, then vibration of both gases
    classical = 1.84e-11 / relative_pressure * np.sqrt(relative_kelvin)
    oxygen = 0.01275 * np.exp(-2239.1 / kelvin) / (oxygen_hz + squared / oxygen_hz)
    nitrogen = 0.1068 * np.exp(-3352.0 / kelvin) / (nitrogen_hz + squared / nitrogen_hz)
    relaxation = relative_kelvin**-2.5 * (oxygen + nitrogen)
    # 20 lg e = 8.686 dB to the neper
    return np.asarray(8.686 * squared * (classical + relaxation), dtype=np.float64)
