"""One trigger on recordings at several gains, against a slow recount."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.errors import RecordingError
from audiolevel.metering.gain import Gains
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.measurement import measure
from audiolevel.planning.asked import Asked, asked_option
from audiolevel.planning.survey import survey_of
from audiolevel.planning.trial import trials_of
from audiolevel.site.sections import Site
from tests.made_street import RATE_HZ, SITE, heard, plan, survey, wave_of
from tests.triggers.test_trigger import slow_firings


@pytest.mark.parametrize(("mode", "at"), [("threshold", 72.0), ("rise", 15.0)])
@pytest.mark.always
def test_firings_at_each_gain_are_a_recount_of_the_levels_there(mode: str, at: float) -> None:
    trials = trials_of(survey(), SITE.trigger.trigger(mode, at))
    assert [one.gain.gain_db for one in trials] == [-12.0, 0.0, 18.0]
    for one in trials:
        laf = one.gain.laf
        assert laf is not None
        expected = slow_firings(laf / 100, one.trigger)
        assert len(expected) > 5
        assert [time for time, _ in one.firings] == [round((row + 1) / 100, 2) for row in expected]
        assert [level for _, level in one.firings] == [laf[row] / 100 for row in expected]


def test_firings_in_marked_stretches_are_told_from_the_others() -> None:
    # the street's one mark lies from 58.5 to 61.9 s; a row is known at its end
    for one in trials_of(survey(), SITE.trigger.trigger("rise", 15.0)):
        assert list(one.marked) == [58.5 < time <= 61.91 for time, _ in one.firings]
        assert sum(one.marked) == 1
        assert one.expected.seen == len(one.firings) - 1


def test_a_sound_pressure_is_another_level_at_another_gain_and_fires_alike() -> None:
    # 72 dB SPL with full scale at 110 dB: −38 dB FS as recorded, −50 dB FS at −12 dB
    low, mid, _ = trials_of(survey(), SITE.trigger.trigger("threshold", 72.0))
    assert (low.trigger.at_db, mid.trigger.at_db) == (-50.0, -38.0)
    assert [time for time, _ in low.firings] == [time for time, _ in mid.firings]


def test_recordings_of_one_site_are_one_prediction() -> None:
    parts = [heard(wave=wave_of(60.0, seed), name=f"{seed}.wav") for seed in (1, 2)]
    both = survey_of(parts, SITE, place_wanted=False)
    trials = trials_of(both, SITE.trigger.trigger("rise", 15.0))
    assert [(t.gain.gain_db, t.measurement.path.name) for t in trials[:3]] == [
        (-12.0, "1.wav"),
        (-12.0, "2.wav"),
        (0.0, "1.wav"),
    ]
    assert trials[0].expected == trials[1].expected
    assert trials[0].expected.seen == len(trials[0].firings) + len(trials[1].firings) > 0
    assert trials[0].expected.heard_s == 120.0


def test_a_history_that_would_clip_asks_for_the_sound(tmp_path: Path) -> None:
    sf.write(tmp_path / "a.wav", wave_of(30.0, 1), RATE_HZ)
    with HistoryWriter(tmp_path / "a.csv") as writer:
        measure(tmp_path / "a.wav", history=writer)
    trigger = SITE.trigger.trigger("threshold", -40.0)
    plain = survey_of([measure(tmp_path / "a.csv", gains=Gains((0.0,)))], Site())
    assert np.isfinite(trials_of(plain, trigger)[0].expected.rate.high)
    loud = survey_of([measure(tmp_path / "a.csv", gains=Gains((0.0, 40.0)))], Site())
    with pytest.raises(RecordingError, match=r"a\.csv: is a level history, and at \+40 dB"):
        trials_of(loud, trigger)


@pytest.mark.parametrize("active", [("08:00-20:00",), ("20:00-06:00",), ()])
def test_a_trial_and_a_plan_expect_the_same_under_a_schedule(active: tuple[str, ...]) -> None:
    site = replace(SITE, schedule=replace(SITE.schedule, active=active))
    made = survey(site)
    at_db = -30.0
    option = asked_option(made, plan(site).gains, Asked("mid", level_db=110.0 + at_db))
    # a threshold of a trial is told in the unit of the calibration too
    (tried,) = [
        one
        for one in trials_of(made, site.trigger.trigger("threshold", 110.0 + at_db))
        if one.gain.gain_db == 0.0
    ]
    assert tried.expected.rate == option.expected.rate
    assert tried.expected.count == option.expected.count
    assert tried.expected.seen == option.expected.seen > 0
