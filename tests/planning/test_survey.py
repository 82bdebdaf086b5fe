"""What a plan is made from: levels together, cautions by recording, gains to simulate."""

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.metering.annotations import Mark
from audiolevel.metering.measurement import measure
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.visit import Visit
from audiolevel.planning.plan import plan_of, survey_notices
from audiolevel.planning.survey import gains_to_simulate, refuse_level, refuse_twice, survey_of
from audiolevel.site.sections import GainSteps, Microphone, Site
from tests.made_street import RATE_HZ, SITE, heard, wave_of


def test_levels_of_several_recordings_are_those_of_all_the_sound() -> None:
    # one minute and two minutes: the mean square of the whole, weighted by length
    parts = [heard(wave=wave_of(60.0, 1)), heard(wave=0.5 * wave_of(120.0, 2))]
    together = survey_of(parts, SITE, place_wanted=False)
    one, two = (10 ** (part.levels.laeq_db / 10) for part in parts)
    assert together.levels.laeq_db == pytest.approx(10 * np.log10((one + 2 * two) / 3), abs=0.01)
    assert together.levels.lafmax_db == max(part.levels.lafmax_db for part in parts)
    assert together.duration_s == 180.0


def test_each_recording_is_named_in_its_own_caution_and_only_there() -> None:
    loud = np.clip(40 * wave_of(60.0, 1), -1, 1)
    silent = np.zeros(60 * 8000)
    parts = [heard(wave=loud, name="gate.wav"), heard(wave=silent, name="yard.wav")]
    notices = survey_notices(survey_of(parts, Site(), place_wanted=False))
    named = [(one.code, one.source) for one in notices]
    assert ("clipped", "gate.wav") in named
    # it is not among what was listened to
    assert ("not heard", "yard.wav") in named
    assert [source for code, source in named if code == "clipped"] == ["gate.wav"]
    # what holds of all of them is said once, without a name
    assert named.count(("uncalibrated", "")) == 1
    assert named.count(("short", "")) == 1
    short = next(one for one in notices if one.code == "short")
    assert short.facts["duration_s"] == 60.0


def test_a_single_recording_is_not_named() -> None:
    notices = survey_notices(survey_of([heard()], SITE, place_wanted=False))
    assert {one.source for one in notices} == {""}


def test_gains_are_those_of_the_site_relative_to_the_recording() -> None:
    site = replace(
        SITE,
        gain=GainSteps(2.0, ((1.0, 10.0), (2.0, 16.0), (3.0, 28.0))),
        microphone=Microphone(110.0, self_noise_dba=31.0, converter_noise_dbfs=-88.0),
    )
    gains = gains_to_simulate(site)
    assert list(gains.gains_db) == [-6.0, 0.0, 12.0]
    # dB(A) of the capsule less the SPL at full scale is dB FS
    assert gains.noise == OwnNoise(31.0 - 110.0, -88.0, stated=True)
    # the floor of a file's format is below any converter's: no level is changed for it
    assert gains_to_simulate(SITE).noise is None
    assert gains.clipped_share_limit == 0.05


def test_without_more_being_said_nothing_is_marked_and_nobody_knows_the_weather() -> None:
    parts = [heard(wave=wave_of(60.0, 1))] * 2
    bare = survey_of(parts, SITE, place_wanted=False)
    assert list(bare.marks) == [[], []]
    assert list(bare.wet) == [None, None]
    assert bare.wanted == ()
    placed = survey_of(parts, SITE)
    assert [one.name for one in placed.wanted] == ["vehicle horn"]
    assert survey_of(parts, replace(SITE, microphone=Microphone())).wanted == ()


def test_marks_of_another_recording_are_refused() -> None:
    one = heard(wave=wave_of(60.0, 1))
    inside, beyond = Mark(50.0, 60.5, "shout"), Mark(300.0, 400.0, "shout")
    marked = replace(one, marks=(inside,))
    assert survey_of([marked], SITE, place_wanted=False).marks == [[inside]]
    with pytest.raises(SettingError, match=r"lane\.wav: ends at 60 s, .* from 300 to 400"):
        survey_of([replace(one, marks=(inside, beyond))], SITE, place_wanted=False)


def test_a_recording_too_short_for_its_sounds_is_named() -> None:
    with pytest.raises(RecordingError, match=r"lane\.wav: 2\.00 s are too short for a sound of"):
        plan_of(survey_of([heard(wave=wave_of(2.0, 1))], SITE))


def test_a_time_is_given_once(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", wave_of(30.0, 1), RATE_HZ)
    first, second, across = (
        measure(Visit(tmp_path / "a.wav", from_s=begin, to_s=end))
        for begin, end in ((0, 15), (15, 30), (10, 20))
    )
    refuse_twice([first, second])
    with pytest.raises(SettingError, match=r"a\.wav: is the same file as a\.wav"):
        refuse_twice([first, across])
    ten = datetime(2026, 3, 2, 10)
    at_ten = replace(heard(), start=ten)
    refuse_twice([at_ten, replace(at_ten, start=ten + timedelta(minutes=3))])
    # a minute later, where each lasts three
    with pytest.raises(SettingError, match="by its start it is of the same time"):
        refuse_twice([at_ten, replace(at_ten, start=ten + timedelta(minutes=1))])


def test_marks_leave_time_to_count_false_firings_in() -> None:
    one = heard()
    # overlapping marks count once: half of the three minutes is left
    half = replace(one, marks=(Mark(0.0, 60.0, "glass"), Mark(30.0, 90.0, "horn")))
    assert survey_of([half], SITE, place_wanted=False).duration_s == one.duration_s
    whole = replace(one, marks=(Mark(5.0, one.duration_s, "glass"),))
    with pytest.raises(SettingError, match="the marks leave 5 s of all recordings"):
        survey_of([whole], SITE, place_wanted=False)


def test_a_level_of_another_unit_is_refused() -> None:
    spl, plain = (survey_of([heard()], of, place_wanted=False) for of in (SITE, Site()))
    quietest_db = plain.levels.lafmin_db
    for at_db in (3.0, -20.0, quietest_db - 59.0):
        refuse_level(plain, at_db, 0.0)
    # more gain lifts the quietest moment too
    refuse_level(plain, quietest_db - 53.0, 6.0)
    with pytest.raises(SettingError, match="far below"):
        refuse_level(plain, quietest_db - 55.0, 6.0)
    with pytest.raises(SettingError, match=r"80 dB FS: lies above full scale.*need a calibration"):
        refuse_level(plain, 80.0, 0.0)
    # dB FS given where the site is calibrated
    with pytest.raises(SettingError, match=r"-60 dB SPL: lies far below the quietest moment"):
        refuse_level(spl, spl.scale.full_scale(-60.0, 0.0), 0.0)
