"""A calibration at the gain setting of one recording."""

from dataclasses import replace

import pytest

from audiolevel.batch.gain_settings import site_at, uncalibrated
from audiolevel.site.sections import Display, GainSteps, Microphone, Site

SITE = Site(
    microphone=Microphone(spl_at_full_scale_db=118.0, self_noise_dba=30.0),
    gain=GainSteps(recorded_at=50.0, steps=((25.0, -12.0), (50.0, 0.0), (75.0, 12.0))),
    display=Display(readings=((1.0, -40.0), (2.0, -30.0))),
)


def test_a_higher_gain_fills_the_scale_with_less() -> None:
    assert site_at(SITE, None) is SITE
    assert site_at(SITE, 50.0) is SITE
    high = site_at(SITE, 75.0)
    assert high is not None
    assert high.microphone.spl_at_full_scale_db == 106.0
    # gains are then counted from the setting of the recording
    assert high.gains_db() == [(25.0, -24.0), (50.0, -12.0), (75.0, 0.0)]
    assert high.display.readings == ()


@pytest.mark.parametrize(
    "gain",
    [GainSteps(recorded_at=50.0), GainSteps(steps=SITE.gain.steps), GainSteps()],
)
def test_what_nobody_knows_is_not_guessed(gain: GainSteps) -> None:
    site = replace(SITE, gain=gain)
    assert site_at(site, 75.0) is None
    assert uncalibrated(site, 75.0).microphone.spl_at_full_scale_db is None
