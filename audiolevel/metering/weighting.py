"""Frequency weightings A and C: the curves of the standard, and filters that follow them.

The curves are the analytic ones of IEC 61672-1:2013, Annex E; the filters follow them within
0.1 dB up to 0.45 of the sampling rate, at any rate from 8 to 192 kHz.

Entry points: `a_weighting_db`, `c_weighting_db` (curves), `filters` (second-order sections).
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from audiolevel.ground.arrays import Array

# IEC 61672-1:2013 Annex E: corner frequencies follow from the reference frequency of 1 kHz and
# the three frequencies 10^1.5, 10^3.9 and 10^2.45 Hz where the curves are defined to be 3 dB down.
_REFERENCE_HZ, _LOW_HZ, _HIGH_HZ, _A_HZ = 1000.0, 10**1.5, 10**3.9, 10**2.45


def _corners_hz() -> tuple[float, float, float, float]:
    """The four pole frequencies f1 to f4 of Annex E, formulas (E.2) to (E.8)."""
    # 3.01 dB down, as a ratio of amplitudes
    d = sqrt(0.5)
    low2, high2, ref2 = _LOW_HZ**2, _HIGH_HZ**2, _REFERENCE_HZ**2
    b = (ref2 + low2 * high2 / ref2 - d * (low2 + high2)) / (1 - d)
    root = sqrt(b * b - 4 * low2 * high2)
    f1, f4 = sqrt((-b - root) / 2), sqrt((-b + root) / 2)
    return f1, (3 - sqrt(5)) / 2 * _A_HZ, (3 + sqrt(5)) / 2 * _A_HZ, f4


# 20.6, 107.7, 737.9 and 12,194 Hz
POLES_HZ = _corners_hz()


def _c_response(frequency_hz: Array) -> Array:
    f2 = frequency_hz**2
    f1, _, _, f4 = POLES_HZ
    return f4**2 * f2 / ((f2 + f1**2) * (f2 + f4**2))


def _a_response(frequency_hz: Array) -> Array:
    f2 = frequency_hz**2
    _, fa, fb, _ = POLES_HZ
    return _c_response(frequency_hz) * f2 / np.sqrt((f2 + fa**2) * (f2 + fb**2))


def _curve_db(response: Array, at_reference: Array) -> Array:
    # 0 Hz passes nothing: −inf dB, and no warning
    with np.errstate(divide="ignore"):
        curve: Array = 20 * np.log10(response / at_reference)
    return curve


def c_weighting_db(frequency_hz: ArrayLike) -> Array:
    """C weighting; parameters and result as of `a_weighting_db`.

    Notes
    -----
    IEC 61672-1:2013 formula (E.1).
    """
    f = np.asarray(frequency_hz, dtype=np.float64)
    return _curve_db(_c_response(f), _c_response(np.array(_REFERENCE_HZ)))


def a_weighting_db(frequency_hz: ArrayLike) -> Array:
    """A weighting.

    Parameters
    ----------
    frequency_hz : array_like
        Any shape, 0 Hz and up.

    Returns
    -------
    array, shape as given
        dB relative to 1 kHz; −inf at 0 Hz.

    Notes
    -----
    IEC 61672-1:2013 formula (E.9).
    """
    f = np.asarray(frequency_hz, dtype=np.float64)
    return _curve_db(_a_response(f), _a_response(np.array(_REFERENCE_HZ)))


@dataclass(frozen=True)
class WeightingFilters:
    """Second-order sections, shape (sections, 6), for one sampling rate."""

    a: Array
    c: Array


# One fitted section holds 0.05 dB up to 48 kHz and 0.3 dB at 192 kHz; two hold 0.03 dB at any rate
# and cost nothing, since a filter's time goes into its feedback, not into its sections.
_FITTED_SECTIONS = 2


@lru_cache(maxsize=32)
def filters(rate_hz: int) -> WeightingFilters:
    """Filters for A and C weighting.

    Parameters
    ----------
    rate_hz : int
        8,000 to 192,000.

    Returns
    -------
    WeightingFilters

    Notes
    -----
    The poles below 1 kHz are mapped exactly (matched z), with their zeros at 0 Hz. What is left,
    the double pole at 12.2 kHz and the edge of the band, is two second-order sections fitted by
    least squares to the analytic curves of A and C together. C is the sections of A without the one
    for 107.7 and 737.9 Hz, but for the gain. Both are exact at 1 kHz, where meters are calibrated.
    """
    fitted = _fit_top(*_fit_grid(rate_hz), rate_hz)
    f1, fa, fb, _ = POLES_HZ
    low = _zero_hz_section(f1, f1, rate_hz)
    middle = _zero_hz_section(fa, fb, rate_hz)
    return WeightingFilters(
        a=_anchored(np.vstack([low, middle, fitted]), rate_hz),
        c=_anchored(np.vstack([low, fitted]), rate_hz),
    )


def _fit_grid(rate_hz: int) -> tuple[Array, NDArray[np.complex128]]:
    # somewhat past 0.45, up to where the filters are held to their 0.1 dB
    edge = 0.48 * rate_hz
    # half of them by octaves for the bass, half by hertz for the steep top of the band
    frequency = np.unique(
        np.concatenate([np.geomspace(5, edge, 150), np.linspace(edge / 50, edge, 150)])
    )
    # z⁻¹ at each frequency: the delay of one sample
    return frequency, np.exp(-2j * pi * frequency / rate_hz)


def _zero_hz_section(first_hz: float, second_hz: float, rate_hz: int) -> Array:
    # matched z: a pole at −2πf lies at exp(−2πf / rate)
    p, q = exp(-2 * pi * first_hz / rate_hz), exp(-2 * pi * second_hz / rate_hz)
    # two zeros at z = 1, which is 0 Hz
    return np.array([[1.0, -2.0, 1.0, 1.0, -(p + q), p * q]])


def _anchored(sections: Array, rate_hz: int) -> Array:
    """The same sections with a gain of exactly 1 at 1 kHz."""
    at_reference = np.exp(-2j * pi * np.array([_REFERENCE_HZ]) / rate_hz)
    scaled = sections.copy()
    scaled[0, :3] *= 10 ** (-float(_response_db(sections, at_reference)[0]) / 20)
    return scaled


def _response_db(sections: Array, delay: NDArray[np.complex128]) -> Array:
    powers = np.stack([np.ones_like(delay), delay, delay**2])
    response = (sections[:, :3] @ powers) / (sections[:, 3:] @ powers)
    # sections in series multiply, so their decibels add
    total: Array = 20 * np.log10(np.abs(response)).sum(axis=0)
    return total


def _fit_top(frequency: Array, delay: NDArray[np.complex128], rate_hz: int) -> Array:
    """Fit the sections above 1 kHz; what gain they need is left to `_anchored`."""
    from scipy.optimize import least_squares  # kept out of start-up

    f1, fa, fb, f4 = POLES_HZ
    low = _zero_hz_section(f1, f1, rate_hz)
    middle = _zero_hz_section(fa, fb, rate_hz)
    # what the exact sections leave to the fitted ones
    wanted_c = c_weighting_db(frequency) - _response_db(low, delay)
    wanted_a = a_weighting_db(frequency) - _response_db(np.vstack([low, middle]), delay)
    pole = exp(-2 * pi * f4 / rate_hz)
    # gains of C and A in dB, then b1, b2, a1 and a2 of each section
    start = [
        0.0,
        0.0,
        0.6,
        0.09,
        -2 * pole,
        pole**2,
        *[0.5, 0.1, 0.3, 0.1] * (_FITTED_SECTIONS - 1),
    ]
    scale = [1.0, 1.0, *[0.1] * (4 * _FITTED_SECTIONS)]

    def misfit(x: Array, power: int) -> Array:
        shape = _response_db(_free_sections(x), delay)
        miss = np.concatenate([shape + x[0] - wanted_c, shape + x[1] - wanted_a])
        return np.asarray(np.sign(miss) * np.abs(miss) ** power)

    # plain least squares first, to come near enough for the cube
    rough = least_squares(misfit, start, x_scale=scale, args=(1,))
    # the cube pulls down the largest miss, which is what the 0.1 dB are held to
    fine = least_squares(
        misfit, rough.x, x_scale=scale, args=(3,), ftol=1e-12, xtol=1e-12, gtol=1e-14, max_nfev=300
    )
    return _minimum_phase(_free_sections(fine.x))


def _free_sections(x: Array) -> Array:
    rest = np.asarray(x[2:]).reshape(-1, 4)
    one = np.ones((len(rest), 1))
    return np.hstack([one, rest[:, :2], one, rest[:, 2:]])


def _minimum_phase(sections: Array) -> Array:
    """Reflect roots outside the unit circle, which leaves the shape of the response as it is."""
    out = sections.copy()
    for row in out:
        # zeros, then poles; a pole outside the circle would make the filter run away
        for part in (row[:3], row[3:]):
            roots = np.roots(part)
            far = np.abs(roots) > 1
            # on the circle |1 − r/z| is |r| times that of the reflected root
            gain = np.prod(np.abs(roots[far])) if far.any() else 1.0
            roots[far] = 1 / np.conj(roots[far])
            part[:] = np.real(np.poly(roots)) * gain
        # sosfilt wants a leading denominator of 1
        row /= row[3]
    return out
