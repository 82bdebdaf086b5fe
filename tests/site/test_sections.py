"""What a site's sections say of gains, noise and calibration, by hand."""

import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.site.sections import (
    GainSteps,
    Microphone,
    Place,
    Site,
    TriggerSection,
    setting_name,
)
from audiolevel.site.site_file import check_site


def test_without_steps_gains_are_six_decibels_apart() -> None:
    assert Site().gains_db() == [(None, gain_db) for gain_db in range(-36, 37, 6)]


@pytest.mark.parametrize("hundredths", range(101))
def test_voices_that_are_together_the_whole_leave_none_for_a_normal_one(hundredths: int) -> None:
    raised, shout = hundredths / 100, (100 - hundredths) / 100
    place = Place("bench", 3.0, raised, shout)
    assert place.voices == {"normal": 0.0, "raised": raised, "shout": shout}
    check_site(Site(place=(place,)))


def test_gains_are_relative_to_the_recording() -> None:
    steps = ((0.0, -24.0), (25.0, -12.0), ("high", 0.0))
    site = Site(gain=GainSteps(recorded_at=25.0, steps=steps))
    assert site.gains_db() == [(0.0, -12.0), (25.0, 0.0), ("high", 12.0)]
    assert site.gain_db_of("high") == 12.0
    with pytest.raises(SettingError, match="gain setting 50: the site file has 0, 25, high"):
        site.gain_db_of("50")


def test_no_setting_can_be_named_without_steps() -> None:
    with pytest.raises(SettingError, match=r"has none; list them as gain\.steps"):
        Site().gain_db_of("2")


def test_the_capsules_noise_needs_a_calibration() -> None:
    # a data sheet's 30 dB(A), where 100 dB SPL fill the scale, lie 70 dB below it
    known = Site(microphone=Microphone(spl_at_full_scale_db=100.0, self_noise_dba=30.0))
    assert known.own_noise(-96.0).capsule_db == -70.0
    assert Site(microphone=Microphone(self_noise_dba=30.0)).own_noise(-96.0).capsule_db is None


def test_the_formats_noise_stands_in_for_the_converters() -> None:
    assert not Site().own_noise(-96.0).stated
    stated = Site(microphone=Microphone(converter_noise_dbfs=-80.0)).own_noise(-96.0)
    assert (stated.converter_db, stated.stated) == (-80.0, True)


def test_a_calibration_without_its_uncertainty_is_a_data_sheets() -> None:
    # two standard deviations are 95 %: 3 dB for a data sheet (common practice)
    assert Site().calibration_spread_db == 1.5
    assert Site(microphone=Microphone(calibration_within_db=0.8)).calibration_spread_db == 0.4


def test_a_trigger_has_the_sections_times_unless_others_are_given() -> None:
    section = TriggerSection(window_s=2.0, hold_s=0.5)
    trigger = section.trigger("rise", 9.0, hold_s=None, rearm_s=30.0)
    assert (trigger.window_s, trigger.hold_s, trigger.rearm_s) == (2.0, 0.5, 30.0)


def test_a_setting_is_written_as_on_the_camera() -> None:
    assert [setting_name(one) for one in (25.0, 2.5, "low")] == ["25", "2.5", "low"]
