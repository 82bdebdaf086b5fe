"""What a page knows of firings and labels."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.metering.annotations import Mark
from audiolevel.metering.calibration import Scale
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import survey_of
from audiolevel.planning.trial import trials_of
from audiolevel.report.listening import listening_object, listening_part, trial_object
from audiolevel.triggers.trigger import Trigger, firings
from tests.made_street import SITE, heard, plan


def test_the_firings_of_every_setting_are_those_of_the_trigger() -> None:
    held = listening_object(plan())["firings"]
    for i, option in enumerate(plan().options):
        lists = held["lists"][held["of_curve"][i]]
        assert len(lists) == len(option.curve.prediction.settings_db)
        laf = plan().survey.measurements[0].gains
        own = next(one.laf for one in laf if one.gain_db == option.gain_db)
        rows = firings(np.asarray(own) / 100, option.trigger)
        assert lists[option.row] == [[pytest.approx((row + 1) * 0.01) for row in rows.tolist()]]


def test_gains_that_only_shift_levels_share_their_firings() -> None:
    held = listening_object(plan())["firings"]
    assert len(held["lists"]) < len(held["of_curve"])


def test_the_trace_and_the_triggers_level_are_those_of_the_gain() -> None:
    """In dB FS a gain lifts both; in dB SPL a sound is as loud as it is, whatever the gain."""
    survey = plan().survey
    full_db = survey.scale.spl_at_full_scale_db
    assert full_db is not None
    for of, option in zip(
        listening_object(plan())["firings"]["at_gain"], plan().options, strict=True
    ):
        assert of["shift_db"] == full_db
        if option.trigger.mode == "threshold":
            assert of["level_db"][option.row] == pytest.approx(
                option.trigger.at_db + full_db - option.gain_db
            )
        else:
            assert of["level_db"] is None
    bare = replace(survey, scale=Scale(None))
    trials = trials_of(bare, Trigger.threshold(level_db=-30.0))
    lifted = trial_object(bare, trials)["firings"]["at_gain"]
    assert [one["shift_db"] for one in lifted] == [
        one.gain_db for one in bare.measurements[0].gains
    ]
    for one, trial in zip(lifted, trials, strict=True):
        assert one["level_db"][trial.row] == trial.trigger.at_db


def test_labels_and_names_go_with_the_page_and_make_its_own_place() -> None:
    labels = [Mark(58.5, 61.9, "shout", 3.0), Mark(20.0, 21.0, "", None, "false")]
    other = plan_of(survey_of([heard(marks=labels)], SITE))
    held = listening_object(other)
    assert [(one["label"], one["sound"], one["distance_m"]) for one in held["labels"]] == [
        ("wanted", "shout", 3.0),
        ("false", "", None),
    ]
    assert held["sounds"][:2] == ["vehicle horn", "shout"]
    # other labels, another place to keep them
    assert held["id"] != listening_object(plan())["id"]
    assert listening_object(plan())["id"] == listening_object(replace(plan()))["id"]


def test_where_nothing_was_kept_there_is_nothing_to_listen_to() -> None:
    bare = replace(plan().survey.measurements[0], laf=None)
    survey = replace(plan().survey, measurements=[bare])
    assert listening_part(survey) is None
    assert listening_part(plan().survey) is not None


def test_a_trial_has_a_list_of_firings_for_each_gain() -> None:
    trials = trials_of(plan().survey, Trigger.threshold(level_db=80.0, rearm_s=2.0))
    held = trial_object(plan().survey, trials)["firings"]
    assert held["of_curve"] == [0, 1, 2]
    for trial, lists in zip(trials, held["lists"], strict=True):
        assert lists[trial.row] == [[at_s for at_s, _ in trial.firings]]
        assert len(lists) == len(trial.prediction.settings_db)
