"""The picture of a trial has a rail of firings a gain, above the level over time."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from matplotlib.collections import LineCollection

from audiolevel.planning.survey import survey_of
from audiolevel.planning.trial import Trial, trials_of
from audiolevel.report.figures import Picture
from audiolevel.report.trial.figure import firings_over_time
from audiolevel.site.sections import Microphone
from tests.made_street import SITE, heard, survey, wave_of


@lru_cache(maxsize=2)
def _trials(mode: str, at: float) -> list[Trial]:
    return trials_of(survey(), SITE.trigger.trigger(mode, at))


def _ticks(picture: Picture) -> dict[int, list[float]]:
    """Where each rail has its firings."""
    rails = picture.figure.axes[0]
    drawn = [one for one in rails.collections if isinstance(one, LineCollection)]
    return {
        place: [float(segment[0][0]) for segment in one.get_segments()]
        for place, one in enumerate(drawn)
    }


def test_each_gain_has_its_firings_on_a_rail_of_its_own() -> None:
    trials = _trials("rise", 15.0)
    picture = firings_over_time(trials, survey().scale)
    ticks = _ticks(picture)
    assert len(ticks) == len(trials) == 3
    for place, one in enumerate(trials):
        assert ticks[place] == pytest.approx([time for time, _ in one.firings])
    # one passage is marked: of another colour, and said beside its rail
    (drawn, *_) = picture.figure.axes[0].collections
    colours = [tuple(one) for one in np.asarray(drawn.get_edgecolor())]
    assert [colours.count(one) for one in set(colours)].count(1) == 1
    rails, level = picture.figure.axes
    assert sum("seen (1 marked, grey)" in one.get_text() for one in rails.texts) == 3
    assert picture.alternative.count("(1 in a marked stretch, not counted)") == 3
    assert [one.get_text() for one in rails.get_yticklabels()] == ["-12 dB", "+0 dB", "+18 dB"]
    assert np.nanmax(np.asarray(level.lines[0].get_ydata())) == pytest.approx(
        max(trials[0].measurement.second_lafmax_db) + 110.0
    )


def test_a_threshold_is_marked_beside_the_level_and_a_change_is_not() -> None:
    picture = firings_over_time(_trials("threshold", 80.0), survey().scale)
    level = picture.figure.axes[1]
    marks = [one for one in level.lines if one.get_marker() == "<"]
    # the same sound pressure at each gain
    assert [np.asarray(one.get_ydata())[0] for one in marks] == [80.0]
    changed = firings_over_time(_trials("rise", 15.0), survey().scale)
    assert not [one for one in changed.figure.axes[1].lines if one.get_marker() == "<"]


def test_recordings_stand_one_after_another_with_their_names() -> None:
    blind = replace(SITE, microphone=Microphone(), wanted=())
    waves = [(wave_of(60.0, 1), "first.wav"), (wave_of(90.0, 2), "$x$ & second.wav")]
    both = survey_of([heard(blind, wave, name) for wave, name in waves], blind)
    trials = trials_of(both, SITE.trigger.trigger("threshold", -30.0))
    picture = firings_over_time(trials, both.scale)
    as_recorded = [one for one in trials if one.gain.gain_db == 0]
    expected = [
        time + begin
        for one, begin in zip(as_recorded, (0.0, 60.0), strict=True)
        for time, _ in one.firings
    ]
    assert _ticks(picture)[1] == pytest.approx(expected)
    level = picture.figure.axes[1]
    named = [one.get_text().strip() for one in level.texts]
    assert named[:2] == ["first.wav", "$x$ & second.wav"]
    # without a calibration 12 dB less gain is a level 12 dB higher in the recording
    marks = [np.asarray(one.get_ydata())[0] for one in level.lines if one.get_marker() == "<"]
    assert marks == [-18.0, -30.0, -48.0]


def test_the_words_and_rails_hold_counts_with_their_interval() -> None:
    trials = _trials("rise", 15.0)
    picture = firings_over_time(trials, survey().scale)
    beside = [one.get_text() for one in picture.figure.axes[0].texts]
    for one, said in zip(trials, beside, strict=True):
        assert f"lane.wav at {one.gain.gain_db:+g} dB: {len(one.firings)} in 3 min" in (
            picture.alternative
        )
        assert said.startswith(f"{len(one.firings)} seen (1 marked, grey), ")
        assert "a day" in said
        assert " to " in said or "fewer than" in said
