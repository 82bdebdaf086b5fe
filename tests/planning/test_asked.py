"""A setting that somebody insists on is told what a trial would tell of it."""

from dataclasses import replace

import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.planning.asked import Asked, asked_option
from audiolevel.planning.plan_record import FollowedRecord
from audiolevel.planning.trial import trials_of
from audiolevel.report.plan.json import plan_record
from audiolevel.site.sections import Display, Limits, Site, Wanted
from tests.made_street import SITE, heard, plan, survey


@pytest.mark.parametrize("gain", ["low", "mid", "high"])
@pytest.mark.parametrize(("mode", "at"), [("threshold", 76.3), ("rise", 12.5)])
def test_an_asked_setting_is_the_trial_of_it(gain: str, mode: str, at: float) -> None:
    asked = (
        Asked(gain, mode, level_db=at) if mode == "threshold" else Asked(gain, mode, None, None, at)
    )
    option = asked_option(survey(), plan().gains, asked)
    trials = trials_of(survey(), SITE.trigger.trigger(mode, at))
    trial = next(one for one in trials if one.gain.gain_db == SITE.gain_db_of(gain))
    assert option.trigger.at_db == pytest.approx(trial.trigger.at_db)
    assert option.expected == trial.expected
    assert option.expected.seen > 0


def test_a_number_on_the_camera_s_scale_is_the_level_it_was_read_at() -> None:
    # read in the site file: 40 is shown at −40 dB FS, one more a decibel
    by_number = asked_option(survey(), plan().gains, Asked(None, shown=43.0))
    assert by_number.trigger.at_db == pytest.approx(-37.0)
    by_level = asked_option(survey(), plan().gains, Asked(None, level_db=110.0 - 37.0))
    assert by_number.expected == by_level.expected


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (Asked("loud", level_db=80.0), "gain setting loud: the site file has low, mid, high"),
    ],
)
def test_what_is_not_there_is_refused(asked: Asked, words: str) -> None:
    with pytest.raises(SettingError, match=words):
        asked_option(survey(), plan().gains, asked)


@pytest.mark.parametrize(
    ("mode", "given", "words"),
    [
        ("threshold", {}, "give its level by --level, or by --shown"),
        ("rise", {"level_db": 80.0}, "--mode rise: give its step, like --change 12"),
        ("rise", {"level_db": 80.0, "change_db": 12.0}, "--level and --shown are of a threshold"),
        ("rise", {"shown": 8.0, "change_db": 12.0}, "--level and --shown are of a threshold"),
        ("threshold", {"level_db": 80.0, "change_db": 12.0}, "--change: is of --mode rise"),
        ("threshold", {"level_db": 80.0, "shown": 8.0}, "both say the level; give one of them"),
    ],
)
def test_what_is_not_said_or_said_in_vain_is_refused(
    mode: str, given: dict[str, float], words: str
) -> None:
    with pytest.raises(SettingError, match=words):
        Asked(None, mode, **given)


def test_a_number_without_readings_is_refused() -> None:
    blind = replace(survey(), site=replace(SITE, display=Display()))
    with pytest.raises(SettingError, match=r"add display\.readings to the site file"):
        asked_option(blind, plan().gains, Asked(None, shown=43.0))


def test_a_gain_that_clips_too_much_is_refused() -> None:
    from audiolevel.planning.plan import plan_of
    from audiolevel.planning.survey import survey_of

    strict: Site = replace(SITE, limits=Limits(clipped_share=0.0001))
    made = survey_of([heard(strict)], strict)
    with pytest.raises(SettingError, match=r"gain high: .* % of the samples would clip"):
        plan_of(made, Asked("high", level_db=80.0))


def test_what_logs_have_taught_of_a_setting_is_told_of_it_ever_after() -> None:
    """Four times as many as the sample said: so many more, at every other setting too."""
    before = plan_record(plan())
    option = before.recommended
    assert option is not None
    assert option.expected.per_day is not None
    logged = replace(
        option.expected,
        per_day=4 * option.expected.per_day,
        rate_low_per_day=3 * option.expected.rate_low_per_day,
        rate_high_per_day=2 * option.expected.rate_high_per_day,
        high_per_day=2.5 * option.expected.high_per_day,
    )
    followed = FollowedRecord(planned=option, days=())
    told = replace(before, recommended=replace(option, expected=logged), followed=followed)
    found = plan().speaking_of(told)
    assert found.recommended is not None
    expected = found.recommended.expected
    assert expected.rate.best == pytest.approx(logged.per_day, rel=1e-3)
    assert expected.rate.low == pytest.approx(logged.rate_low_per_day, rel=1e-3)
    assert expected.rate.high == pytest.approx(logged.rate_high_per_day, rel=1e-3)
    assert expected.count.high == pytest.approx(logged.high_per_day, rel=1e-3)
    for one, as_sampled in zip(found.options, plan().options, strict=True):
        sampled = as_sampled.expected.rate.best
        assert one.expected.rate.best == (None if sampled is None else pytest.approx(4 * sampled))
    assert plan().speaking_of(before).options == plan().options


def test_a_sound_put_aside_stays_aside_when_its_plan_is_spoken_of() -> None:
    # the same sound stands nearer, too
    far = Wanted(sound="vehicle horn", distance_m=900.0)
    made = plan(replace(SITE, wanted=(*SITE.wanted, far)))
    assert made.recommended is not None
    for option in (
        made.recommended,
        made.speaking_of(plan_record(made)).recommended,
        plan(made.survey.site, Asked(None, level_db=76.0)).asked,
    ):
        assert option is not None
        assert [(one.sound, one.distance_m) for one in option.curve.required] == [
            ("vehicle horn", 4.0)
        ]
