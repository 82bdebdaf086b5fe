"""A trial in lines of 80 columns: each recording's firings, one expectation for all."""

import itertools
import re

import pytest

from audiolevel.metering.annotations import Mark
from audiolevel.planning.survey import survey_of
from audiolevel.planning.trial import trials_of
from audiolevel.report.trial_text import as_text
from tests.made_street import SITE, heard, survey, wave_of


@pytest.mark.parametrize(("mode", "at"), [("threshold", 80.0), ("rise", 15.0)])
def test_counts_and_times_are_said_beside_their_interval(mode: str, at: float) -> None:
    trials = trials_of(survey(), SITE.trigger.trigger(mode, at))
    text = as_text(trials, survey().scale, [])
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("  fired") == text.count("  expect") == len(trials) == 3
    assert text.count("95 % sure: ") == 3
    for one in trials:
        assert f"{len(one.firings)} times in 3 min (1 in a marked stretch, not counted)" in text
        assert f"{one.firings[0][0]:.2f}" in text
    assert "of the samples clip" in " ".join(text.split())  # at the highest gain


def test_firings_that_are_all_wanted_are_said_not_to_count() -> None:
    trigger = SITE.trigger.trigger("threshold", 80.0)
    (plain, *_) = trials_of(survey(marks=()), trigger)
    # all but the longest time without a firing
    at_s = [0.0, *(time for time, _ in plain.firings), 180.0]
    _, begin_s, end_s = max((b - a, a, b) for a, b in itertools.pairwise(at_s))
    assert end_s - begin_s > 12.0
    marks = (Mark(0.0, begin_s + 0.5, "shout"), Mark(end_s - 0.5, 180.0, "shout"))
    marked = survey(marks=marks)
    (trial, *_) = trials_of(marked, trigger)
    text = " ".join(as_text([trial], marked.scale, []).split())
    many = len(trial.firings)
    assert many > 1
    assert f"fired {many} times in 3 min ({many} in marked stretches, not counted)" in text
    # less than that time: a mark takes its settling too
    found = re.search(r"none counted in (\d+) s, so no best estimate", text)
    assert found is not None
    assert 10 < int(found[1]) < end_s - begin_s


def test_only_the_first_dozen_times_are_listed() -> None:
    trials = trials_of(survey(), SITE.trigger.trigger("rise", 8.0))
    assert len(trials[0].firings) > 12
    listed = " ".join(as_text(trials[:1], survey().scale, []).split()).split("at (s) ")[1]
    times = listed.split(" expect")[0].split(", ")
    assert times[:-1] == [f"{time:.2f}" for time, _ in trials[0].firings[:12]]
    assert times[-1] == "…"


def test_several_recordings_are_named_and_expected_together() -> None:
    parts = [heard(wave=wave_of(60.0, seed), name=f"{seed}.wav") for seed in (1, 2)]
    both = survey_of(parts, SITE, place_wanted=False)
    text = as_text(trials_of(both, SITE.trigger.trigger("rise", 8.0)), both.scale, [])
    assert text.count("1.wav: rise") == text.count("2.wav: rise") == 3
    assert text.count("  expect") == 3
    assert "120 s" in text or "2 min" in text


def test_a_trigger_that_never_fired_lists_no_time() -> None:
    text = as_text(trials_of(survey(), SITE.trigger.trigger("rise", 80.0)), survey().scale, [])
    assert "0 times" in text
    assert "at (s)" not in text
    assert "fewer than" in text
