"""Where both cannot be had: what is said would change it is planned again, and must hold."""

from dataclasses import replace

import pytest

from audiolevel.ground.notices import Fact
from audiolevel.planning.detection_range import Carried, range_curves
from audiolevel.planning.option import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.planning.trade import _longest_run
from audiolevel.report.plan.document import plan_document
from audiolevel.report.text import brief
from audiolevel.site.sections import Display, Site, TriggerSection, Wanted
from tests.made_street import MARKS, SITE, plan

HORN = Wanted(sound="vehicle horn", distance_m=12.0)
# a threshold alone, and a horn that what keeps the limit catches once in three times
FORKED = replace(
    SITE,
    trigger=TriggerSection(modes=("threshold",), rearm_s=2.0),
    limits=replace(SITE.limits, false_triggers_per_day=1000.0),
    wanted=(HORN,),
)


def _told(made: SitePlan, code: str) -> dict[str, Fact]:
    (found,) = [one.facts for one in (*made.advice, *made.warnings) if one.code == code]
    return dict(found)


def _set(option: Option | None) -> tuple[float, float] | None:
    return None if option is None else (option.gain_db, option.trigger.at_db)


def _brief(made: SitePlan) -> str:
    return " ".join(brief(plan_document(made, "lane"), "--full").split())


def _limited(site: Site, per_day: float) -> Site:
    return replace(site, limits=replace(site.limits, false_triggers_per_day=per_day))


def _caught(option: Option) -> float:
    return min(float(one.probability[option.row]) for one in option.curve.required)


def test_the_first_line_says_what_cannot_be_had_and_others_stand_below() -> None:
    made = plan(FORKED)
    assert made.choice.is_trade
    lines = brief(plan_document(made, "lane"), "--full").splitlines()
    assert lines[2].startswith(
        "NOT BOTH    No setting keeps 1000 a day and catches vehicle horn at 12"
    )
    assert len(lines) <= 20
    told = [line.split()[0] for line in lines[3:] if not line.startswith(" ")]
    assert told[0] == "SET"
    assert told.count("OR") == len(made.choice.alternatives) >= 1
    assert "next" in told
    # from fewer firings to more, and from a smaller chance to a larger
    caught = [_caught(one) for one in made.choice.alternatives]
    assert caught == sorted(caught)
    assert caught[-1] >= 0.8


def test_what_catches_next_to_nothing_is_never_set() -> None:
    made = plan(_limited(FORKED, 300.0))
    assert made.recommended is None
    assert made.choice.case == "silent"
    assert _caught(made.choice.by_mode[0]) < 0.1
    assert _caught(made.choice.alternatives[-1]) > 0.5
    said = _brief(made)
    assert "catches next to nothing" in said
    assert "SET nothing: take one of these" in said


def test_nearer_as_it_says_both_are_had() -> None:
    made = plan(FORKED)
    within_m = float(str(_told(made, "nearer")["within"]).split()[0])
    assert within_m < 12.0
    nearer = plan(replace(FORKED, wanted=(replace(HORN, distance_m=within_m),)))
    assert nearer.choice.case == "both"


def test_with_the_limit_that_is_told_both_are_had() -> None:
    per_day = float(_told(plan(FORKED), "another limit")["per_day"] or 0)
    assert per_day > 1000.0
    had = plan(_limited(FORKED, 1.02 * per_day))
    assert had.choice.case == "both"
    assert had.recommended is not None
    assert had.recommended.basis == "safe"


def test_another_mode_does_what_is_told_of_it() -> None:
    found = [one for one in plan(FORKED).advice if one.code == "another mode"]
    for one in found:
        mode = str(one.facts["mode"])
        other = plan(replace(FORKED, trigger=replace(FORKED.trigger, modes=(mode,)))).recommended
        assert other is not None
        assert other.keeps_limit
        assert other.trigger.at_db == one.facts["at_db"]
        assert _caught(other) == pytest.approx(one.facts["share"])
    assert found


def test_a_sound_out_of_reach_is_put_aside_and_named_with_its_distance() -> None:
    far = Wanted(sound="breaking glass", distance_m=400.0)
    site = _limited(replace(FORKED, wanted=(replace(HORN, distance_m=4.0),)), 300.0)
    alone, both = plan(site), plan(replace(site, wanted=(*site.wanted, far)))
    assert _set(both.recommended) == _set(alone.recommended)
    told = _told(both, "out of reach")
    assert told["sound"] == "breaking glass"
    # the whole curve of distances, worked out for the picture, passes the share there
    option = both.choice.by_mode[0]
    ((_, glass),) = range_curves(both.survey, [option])
    assert told["within_m"] is glass[option.row].reaches_m(0.8) is None
    # the search finds where the curve is, within its steps of 16 %
    searched = Carried(both.survey, option.gain_db, [(option.trigger, [option.trigger.at_db])])
    assert searched.caught_within_m(1, 0.05) == pytest.approx(
        glass[option.row].reaches_m(0.05), rel=0.16
    )
    assert "TOO FAR breaking glass at 400 m" in _brief(both)


def test_what_need_not_be_caught_has_no_say_and_is_counted() -> None:
    near, faint = replace(HORN, distance_m=4.0), replace(HORN, distance_m=15.0, must=False)
    site = _limited(FORKED, 300.0)
    alone = plan(replace(site, wanted=(near,)))
    both = plan(replace(site, wanted=(near, faint)))
    assert _set(both.recommended) == _set(alone.recommended)
    assert both.recommended is not None
    placed = [one for one in both.recommended.curve.detections if one.distance_m is not None]
    assert [one.distance_m for one in placed] == [4.0, 15.0]
    assert not [one for one in both.warnings if one.code == "out of reach"]


def test_the_gain_stays_where_nothing_that_matters_is_lost() -> None:
    # the scale was not read: then nothing is lost at the gain of the recording
    for per_day in (300.0, 1000.0, 3000.0):
        option = plan(replace(_limited(FORKED, per_day), display=Display())).choice.by_mode[0]
        assert option.gain_db == 0.0


def test_a_level_that_the_camera_s_scale_does_not_reach_moves_the_gain() -> None:
    site = replace(FORKED, wanted=(replace(HORN, distance_m=4.0),))
    at_db = plan(replace(site, display=Display())).choice.by_mode[0].trigger.at_db
    # read from 30 to 8 dB below the level as recorded: 12 dB less gain brings it inside
    scale = Display(readings=((20.0, at_db - 30.0), (42.0, at_db - 8.0)))
    made = plan(replace(site, display=scale))
    assert made.recommended is not None
    assert made.recommended.gain_db == -12.0
    assert made.gain_moved_by == "scale"
    assert "own scale was not read" in _brief(made)
    kept = plan(replace(site, display=scale, gain=replace(SITE.gain, keep=True)))
    assert kept.recommended is not None
    assert kept.recommended.gain_db == 0.0


@pytest.mark.parametrize(
    ("by_hour", "limit", "run"),
    [
        ([1.0] * 24, 5.0, (0, 5)),
        ([0.0] * 8 + [2.0] * 12 + [0.0] * 4, 5.0, (8, 2)),
        # a run crosses midnight
        ([0.5] * 4 + [9.0] * 18 + [0.5] * 2, 5.0, (22, 6)),
        ([9.0] * 24, 5.0, (0, 0)),
        ([0.1] * 24, 5.0, (0, 24)),
    ],
)
def test_the_longest_run_of_hours_that_keeps_a_limit(
    by_hour: list[float], limit: float, run: tuple[int, int]
) -> None:
    assert _longest_run(by_hour, limit) == run


def test_marks_stand_in_where_the_site_file_names_no_sound() -> None:
    made = plan(replace(FORKED, wanted=()))
    assert [one.sound for one in made.choice.by_mode[0].curve.required] == [MARKS[0].sound]
