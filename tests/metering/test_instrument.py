"""What was found out about a microphone input."""

import pytest

from audiolevel.metering.instrument import Instrument
from audiolevel.metering.own_noise import OwnNoise


def test_the_capsule_s_noise_is_sound_pressure_only_with_a_full_scale() -> None:
    noise = OwnNoise(-79.0, -90.0, stated=True)
    found = Instrument(None, None, (), (), noise=noise, spl_at_full_scale_db=110.0)
    assert found.self_noise_dba == pytest.approx(31.0)
    assert Instrument(None, None, (), (), noise=noise).self_noise_dba is None
    assert Instrument(None, None, (), (), spl_at_full_scale_db=110.0).self_noise_dba is None
    flat = OwnNoise(None, -90.0, stated=True)
    assert Instrument(None, None, (), (), flat, 110.0).self_noise_dba is None
