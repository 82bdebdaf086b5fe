"""Planning from Python: plan, trial and prediction agree, and each recording has its caution."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.site.sections import Microphone
from tests.made_street import RATE_HZ, SITE, wave_of

MORNING = datetime(2026, 3, 3, 10, 0)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A street, one of two channels with nothing in the first, and a clipped one."""
    where = tmp_path_factory.mktemp("planning")
    sf.write(where / "lane.wav", wave_of(60.0, 1), RATE_HZ)
    both = np.column_stack([0 * wave_of(60.0, 1), wave_of(60.0, 1)])
    sf.write(where / "both.wav", both, RATE_HZ)
    sf.write(where / "loud.wav", np.clip(40 * wave_of(60.0, 2), -1, 1), RATE_HZ)
    (where / "marks.csv").write_text("start_s,end_s,sound\n20,24,shout\n")
    return where


@pytest.fixture(scope="module")
def made(folder: Path) -> al.Plan:
    visit = al.Visit(folder / "lane.wav", start=MORNING, marks=folder / "marks.csv")
    return al.plan(visit, site=SITE)


@pytest.mark.parametrize("mode", ["threshold", "rise"])
def test_the_trial_of_a_plan_s_option_expects_what_the_plan_expects(
    folder: Path, made: al.Plan, mode: str
) -> None:
    for at, option in enumerate(made):
        if option.trigger.mode != mode:
            continue
        visit = al.Visit(folder / "lane.wav", start=MORNING, marks=[al.Mark(20.0, 24.0, "shout")])
        tried = al.trial(visit, option.trigger, site=SITE)
        told = tried.to_object()["trials"][0]["expected"]
        planned = made.to_object()["options"][at]["expected"]
        assert told == planned
        assert tried[0].trigger == option.trigger
        measured = al.measure(visit, site=SITE)
        assert al.predict(measured, option.trigger) == tried[0].expected
        assert measured.firings(option.trigger) == pytest.approx(tried[0].firings_s)


def test_a_plan_that_cannot_be_tried_is_named_by_its_file(
    folder: Path, made: al.Plan, tmp_path: Path
) -> None:
    sf.write(tmp_path / "off.wav", np.zeros(20 * RATE_HZ), RATE_HZ)
    nothing = al.plan(tmp_path / "off.wav").save_json(tmp_path / "nothing.json")
    with pytest.raises(al.AudioLevelError, match=r"nothing\.json: has nothing to set"):
        al.trial(folder / "lane.wav", nothing)
    # made with a calibration that is not given here
    calibrated = made.save_json(tmp_path / "made.json")
    with pytest.raises(al.AudioLevelError, match=r"made\.json: its levels are dB SPL"):
        al.trial(folder / "lane.wav", calibrated)


def test_a_prediction_is_the_trial_of_the_recording_as_it_is(folder: Path) -> None:
    trigger = al.Trigger.threshold(level_db=75.0, rearm_s=2.0)
    measured = al.measure(folder / "lane.wav", site=SITE, start=MORNING)
    tried = al.trial([folder / "lane.wav"], trigger, site=SITE, starts=[MORNING])
    assert al.predict(measured, trigger) == tried[0].expected
    assert al.predict(measured, trigger).seen == len(measured.firings(trigger)) > 3


@pytest.mark.always
@pytest.mark.parametrize("calibrated", [True, False])
def test_what_a_plan_says_is_in_its_unit_and_predicted_again(
    folder: Path, calibrated: bool
) -> None:
    site = SITE if calibrated else replace(SITE, microphone=Microphone(), wanted=())
    plan = al.plan(folder / "lane.wav", site=site, starts=[MORNING])
    setting = plan.recommended
    assert setting is not None
    trigger, record = setting.trigger, plan.to_object()["recommended"]
    assert plan.unit == trigger.unit == setting.unit == ("dB SPL" if calibrated else "dB FS")
    # what it prints, what its JSON has and what its trigger holds are one number
    assert f"{trigger.at_db:g} {plan.unit}" in repr(plan)
    assert (trigger.at_db, setting.gain_db) == (record["level_db"], record["gain_db"])
    measured = al.measure(folder / "lane.wav", site=site, start=MORNING)
    predicted = al.predict(measured, trigger)
    assert predicted.seen == setting.expected.seen == len(measured.firings(trigger))
    for one, other in ((predicted.rate, setting.expected.rate),):
        assert (one.low, one.high) == pytest.approx((other.low, other.high))


def test_asking_a_plan_carries_no_sound_to_other_distances(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = al.plan(folder / "lane.wav", site=SITE, starts=[MORNING])
    with monkeypatch.context() as forbidden:
        # it takes as long as the rest of a plan, and only what is written tells of it
        forbidden.delattr("audiolevel.planning.plan.range_curves")
        asked = plan.record
        assert plan.limit_per_day == SITE.limits.false_triggers_per_day
    written = al.Plan.from_json(plan.to_json()).record
    assert asked.recommended == written.recommended
    assert asked.curves[0].per_day == written.curves[0].per_day
    assert {"caught_within_m"} == {
        name
        for mine, theirs in zip(asked.curves, written.curves, strict=True)
        for one, other in zip(mine.detection or (), theirs.detection or (), strict=True)
        for name in vars(one)
        if getattr(one, name) != getattr(other, name)
    }


def test_a_level_of_another_unit_or_gain_is_refused(folder: Path) -> None:
    path = folder / "lane.wav"
    calibrated, plain = al.measure(path, site=SITE), al.measure(path)
    spl = al.Trigger.threshold(level_db=80.0, unit="dB SPL")
    fs = al.Trigger.threshold(level_db=-30.0, unit="dB FS", gain_db=-6.0)
    for wrong, said in (
        (lambda: plain.firings(spl), "its level is in dB SPL, those here are in dB FS"),
        (lambda: al.predict(calibrated, fs), "its level is in dB FS, those here are in dB SPL"),
        (lambda: al.trial(path, fs, gains_db=[0.0]), "for a gain of -6 dB, not"),
        (lambda: al.Trigger.threshold(level_db=80.0, unit="dBA"), "it is dB FS or dB SPL"),
    ):
        with pytest.raises(al.AudioLevelError, match=said):
            wrong()
    # 6 dB less gain: the same sound reads 6 dB less
    as_recorded = plain.firings(al.Trigger.threshold(level_db=-24.0))
    assert plain.firings(fs).tolist() == as_recorded.tolist()
    # a sound pressure is the same at every gain
    assert (
        calibrated.firings(replace(spl, gain_db=-6.0)).tolist() == calibrated.firings(spl).tolist()
    )


def test_the_second_channel_is_planned_as_if_it_were_alone(folder: Path, made: al.Plan) -> None:
    second = al.plan(al.Visit(folder / "both.wav", start=MORNING, channel=2), site=SITE)
    alone = al.plan([folder / "lane.wav"], site=SITE, starts=[MORNING])
    one, two = second.to_object(), alone.to_object()
    assert one["options"] == two["options"]
    assert one["gains"] == two["gains"]
    # and it is said that the other channel is dead
    assert "channel dead" in {w["code"] for w in one["warnings"]}
    assert "channel dead" not in {w["code"] for w in two["warnings"]}


def test_each_caution_names_its_own_recording(folder: Path) -> None:
    paths = [folder / "lane.wav", folder / "loud.wav", folder / "both.wav"]
    tried = al.trial(paths, al.Trigger.rise(change_db=10))
    named = {(one.code, one.source) for one in tried.notices if one.source}
    assert ("clipped", "loud.wav") in named
    assert ("channel dead", "both.wav") in named
    assert {source for code, source in named if code == "clipped"} == {"loud.wav"}
    text = " ".join(tried.to_text().split())
    assert "clipped: loud.wav:" in text
    assert text.count("short:") == text.count("uncalibrated:") == 1
    planned = al.plan(paths[:2])
    assert ("clipped", "loud.wav") in {(one.code, one.source) for one in planned.base.warnings}


def test_a_plan_is_named_by_its_site_or_its_recordings(folder: Path, made: al.Plan) -> None:
    assert made.name == "Quarry Lane"
    assert repr(made).startswith("<Plan for Quarry Lane: gain ")
    assert al.plan([folder / "lane.wav", folder / "both.wav"]).name == "lane.wav, both.wav"


def test_a_plan_and_a_trial_save_their_pictures(
    folder: Path, made: al.Plan, tmp_path: Path
) -> None:
    names = {path.name for path in made.save(tmp_path)}
    assert names == {"plan.json", "plan.txt", "plan.png", "ranges.png", "plan.html"}
    tried = al.trial([folder / "lane.wav"], al.Trigger.rise(change_db=10))
    assert {path.name for path in tried.save(tmp_path)} == {
        *("trial.json", "trial.txt", "trial.png", "trial.html"),
    }
    assert all((tmp_path / name).stat().st_size for name in names)


def test_one_start_for_two_recordings_is_refused(folder: Path) -> None:
    paths = [folder / "lane.wav", folder / "both.wav"]
    with pytest.raises(al.AudioLevelError, match="starts: 1 for 2 recordings"):
        al.plan(paths, starts=[MORNING])


@pytest.mark.parametrize(
    "asked",
    [
        lambda: al.plan([]),
        lambda: al.trial([], al.Trigger.rise(change_db=10)),
        lambda: al.trial(al.Visit([]), al.Trigger.rise(change_db=10)),
        lambda: al.predict([], al.Trigger.rise(change_db=10)),
        lambda: al.review_privacy([]),
        lambda: al.measure_all([]),
        lambda: al.follow_up("plan.json", []),
    ],
)
def test_nothing_to_work_on_is_refused(asked: Callable[[], object]) -> None:
    with pytest.raises(al.AudioLevelError, match="none is given; give one or more"):
        asked()


def test_one_recording_needs_no_list(folder: Path) -> None:
    trigger = al.Trigger.threshold(level_db=75.0, rearm_s=2.0)
    path = folder / "lane.wav"
    told = al.trial([path], trigger, site=SITE, starts=[MORNING]).to_object()
    alone = al.trial(str(path), trigger, site=SITE, starts=MORNING)
    assert alone.to_object() == told
    with pytest.raises(al.AudioLevelError, match=r"^nowhere\.wav: no such file"):
        al.plan("nowhere.wav")


def test_gains_and_seeds_that_make_no_sense_are_refused(folder: Path) -> None:
    trigger = al.Trigger.threshold(level_db=-30.0)
    for given, said in (
        ({"gains_db": [float("nan")]}, r"gain \+nan dB from the recording's: must lie between"),
        ({"gains_db": []}, "gains_db: none is given; 0 is the recorded gain"),
        ({"seed": -1}, "seed: -1 must not be negative"),
    ):
        with pytest.raises(al.AudioLevelError, match=said):
            al.trial([folder / "lane.wav"], trigger, **given)
