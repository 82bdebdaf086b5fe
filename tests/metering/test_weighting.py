"""Curves and filters beyond the table in docs/conformance.md."""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.signal import sosfreqz

from audiolevel.metering.weighting import POLES_HZ, a_weighting_db, c_weighting_db, filters


def test_pole_frequencies_are_those_the_standard_prints() -> None:
    # IEC 61672-1:2013 Annex E prints 20.60, 107.7, 737.9 and 12194 Hz
    assert pytest.approx((20.60, 107.7, 737.9, 12194), abs=0.06, rel=2e-5) == POLES_HZ


def test_curves_are_zero_at_1_khz_and_minus_infinity_at_0_hz() -> None:
    assert float(a_weighting_db(1000)) == 0.0
    assert float(c_weighting_db(1000)) == 0.0
    assert float(a_weighting_db(0)) == -np.inf


@pytest.mark.parametrize("rate_hz", range(8000, 192001, 7993))
def test_filters_are_stable_and_exact_at_any_rate(rate_hz: int) -> None:
    third = 1000 * 10 ** (np.arange(-20, 60) / 10)
    inside = third[(third > 9.9) & (third <= 0.45 * rate_hz)]
    for sections, curve in (
        (filters(rate_hz).a, a_weighting_db),
        (filters(rate_hz).c, c_weighting_db),
    ):
        poles = np.concatenate([np.roots(row[3:]) for row in sections])
        assert np.abs(poles).max() < 1
        _, response = sosfreqz(sections, worN=inside, fs=rate_hz)
        assert np.abs(20 * np.log10(np.abs(response)) - curve(inside)).max() < 0.1


def test_a_plain_bilinear_filter_would_fail_at_8_khz() -> None:
    """Control: the limit is narrow enough to reject the usual design."""
    from scipy.signal import bilinear_zpk, zpk2sos

    f1, fa, fb, f4 = POLES_HZ
    poles = -2 * np.pi * np.array([f1, f1, fa, fb, f4, f4])
    z, p, k = bilinear_zpk(np.zeros(4), poles, 1.0, 8000)
    sections = zpk2sos(z, p, k)
    _, response = sosfreqz(sections, worN=[1000.0, 3162.3], fs=8000)
    relative = 20 * np.log10(np.abs(response[1] / response[0]))
    assert abs(relative - float(a_weighting_db(3162.3))) > 1.0


@pytest.mark.parametrize(("name", "curve"), [("A", a_weighting_db), ("C", c_weighting_db)])
def test_curves_agree_with_pyfar(name: str, curve: Callable[..., np.ndarray]) -> None:
    """pyfar 0.8.0, `constants.frequency_weighting_curve`: its own reading of Annex E."""
    from pyfar.constants import frequency_weighting_curve

    hertz = np.geomspace(10, 20_000, 200)
    expected = np.array(frequency_weighting_curve(name, list(hertz)))
    assert np.abs(curve(hertz) - expected).max() < 0.01
