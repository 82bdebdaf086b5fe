"""One setting in rows: every count with its interval, every level with its unit."""

import html
import re
from dataclasses import replace

from audiolevel.pages.option_facts import caught_table, does_facts, set_facts
from audiolevel.report.text import count
from audiolevel.site.sections import Display
from tests.made_street import SITE, plan


def _words(made: object) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", str(made)))


def test_what_to_set_is_said_with_the_cameras_own_number() -> None:
    option = next(one for one in plan().options if one.trigger.mode == "threshold")
    level = plan().survey.scale.shown(option.trigger.at_db, option.gain_db)
    said = _words(set_facts(option, plan()))
    assert f"{level:g} dB SPL" in said
    shown = plan().shown(option)
    assert f"{shown.value:.3g}" in said
    assert f"± {shown.uncertainty:.2g}" in said


def test_a_rise_has_a_window_and_no_number_of_the_camera() -> None:
    option = next(one for one in plan().options if one.trigger.mode == "rise")
    said = " ".join(_words(set_facts(option, plan())).split())
    assert f"{option.trigger.at_db:g} dB within 1 s" in said
    assert "own scale" not in said


def test_without_readings_the_scale_is_not_known() -> None:
    site = replace(SITE, display=Display())
    other = replace(plan(), survey=replace(plan().survey, site=site))
    option = next(one for one in other.options if one.trigger.mode == "threshold")
    assert "not known yet" in _words(set_facts(option, other))


def test_no_count_without_its_interval() -> None:
    for option in plan().options:
        said, one = _words(does_facts(option, plan())), option.expected
        if one.rate.best is None:
            assert f"fewer than {count(one.rate.high)}" in said
        else:
            assert f"{count(one.rate.low)} to {count(one.rate.high)} on average" in said
            assert f"{count(one.count.low)} to {count(one.count.high)} on a single day" in said


def test_chances_of_placed_and_marked_sounds_are_told_apart() -> None:
    said = _words(caught_table(plan().options[0]))
    assert "at 4 m" in said
    assert "marked in the recording" in said
    bare = replace(plan().options[0], curve=replace(plan().options[0].curve, detections=()))
    assert caught_table(bare) is None
