"""The decision fits a small terminal whatever there is to say, and no figure loses its interval."""

import inspect
import re
import unicodedata
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audiolevel.counting.day_parts import ByPart, PartSetting
from audiolevel.metering.decibels import SILENCE_DB
from audiolevel.notices import Fact, Notice, notice
from audiolevel.planning.asked import Asked
from audiolevel.planning.choice import Choice, Option
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import survey_of
from audiolevel.report import plan_wording, sentences
from audiolevel.report.plan_brief import LINES, in_brief
from audiolevel.report.plan_text import as_text
from audiolevel.site.sections import Display, Site
from tests.made_street import SITE, heard, plan

REST = "--full or --out FOLDER"
LONG = "the loudest of all the sounds that anybody at this site has ever wished to have caught"
# what a fact may be for its sentence to take it: a number, a word, or a number as text
_FACTS: dict[str, Fact] = {
    "blocks": "evening 19 23;night 23 7",
    "hour": 17,
    "start": "2026-03-03 12:00",
}
_WORDS = {"sound", "modes", "gains", "kinds", "column", "setting", "at"}


def _lines(made: SitePlan, name: str = "lane") -> list[str]:
    lines = in_brief(made, name, REST).split("\n")
    assert len(lines) <= LINES == 24
    assert max(map(len, lines)) <= 80
    return lines


def _said(made: SitePlan, name: str = "lane") -> str:
    return " ".join(" ".join(_lines(made, name)).split())


def _option(made: SitePlan) -> Option:
    option = made.recommended
    assert option is not None
    return option


def _with(made: SitePlan, option: Option, **more: object) -> SitePlan:
    choice = replace(made.choice, recommended=option)
    return replace(made, choice=choice, **more)  # type: ignore[arg-type]  # fields by name


def _caught(option: Option, names: list[str]) -> Option:
    """An option with these wanted sounds, each caught seldomer than the one before."""
    settings_db = option.curve.prediction.settings_db
    curves = []
    for i, name in enumerate(names):
        share = np.full(len(settings_db), 1 - (i + 1) / (len(names) + 1))
        curves.append(DetectionCurve(name, 2.0, share, 0.9 * share, 0.5 + 0.5 * share))
    return replace(option, curve=replace(option.curve, detections=tuple(curves)))


def _notice(key: tuple[str, str], word: str) -> Notice:
    """A notice with facts that its sentence takes."""
    takes = inspect.signature({**sentences._SENTENCES, **plan_wording._ADVICE}[key]).parameters
    facts: dict[str, Fact] = {
        one: _FACTS.get(one, word if one in _WORDS else 12.0) for one in takes if one != "held"
    }
    if "held" in takes:
        facts |= {"days_kept": 12.0, "low_days": 5.0, "high_days": 30.0, "recorded_share": 0.1}
    return Notice(*key, facts=facts)


def test_the_decision_is_said_in_its_order() -> None:
    lines = _lines(plan())
    labels = [line[:12].strip() for line in lines if line[:12].strip()]
    does = ["SET", "because", "expect", "active", "catches", "marked", "card"]
    assert labels == ["Plan for lan", *does, "take care", "next", "left out"]
    asked = _lines(plan(asked=Asked("mid", level_db=76.5)))
    assert [line[:9] for line in asked].index("ASKED FOR") > asked.index(
        next(line for line in lines if line.startswith("card"))
    )
    assert lines[0] == "Plan for lane: 3 min heard; levels in dB SPL"


def test_its_figures_are_those_of_the_full_text() -> None:
    brief, full = _said(plan()), " ".join(as_text(plan(), "lane").split())
    for label in ("SET", "expect"):
        part = re.search(rf"{label} (.*?) (?:because|active)", brief)
        assert part is not None
        assert part[1] in full
    assert re.search(r"catches vehicle horn at 4 m \d+ % \(\d+ to \d+\)", brief)
    cautions, steps = len(plan().warnings) - 2, len(plan().advice) - 1
    assert cautions <= 0
    assert brief.endswith(f"left out {steps} hints, each gain and mode: see {REST}")


def test_a_plan_that_has_nothing_to_set_says_so_and_what_would_help() -> None:
    silent = np.full(8000 * 180, 10 ** (SILENCE_DB / 20))
    for site in (SITE, Site()):
        said = _said(plan_of(survey_of([heard(site, wave=silent)], site)))
        assert "SET nothing yet because no setting can be defended" in said
        assert "take care silent: holds only digital silence" in said
        assert "next record again, louder or longer" in said


def test_of_many_sounds_those_caught_least_are_named_and_the_rest_is_counted() -> None:
    names = [f"sound {number}" for number in range(20)]
    said = _said(_with(plan(), _caught(_option(plan()), names)))
    # of 20 evenly spread chances the last is 1 of 21
    assert "catches sound 19 at 2 m 5 % (4 to 52); sound 18 at 2 m 10 % (9 to 55);" in said
    shown = len(re.findall(r"sound \d+ at 2 m", said))
    assert 2 <= shown < 20
    assert f"{20 - shown} more, each at least as often" in said


def test_of_many_cautions_the_weightiest_stand_and_the_rest_is_counted() -> None:
    keys = [("uncalibrated", ""), ("not placed", ""), ("gain control", "found"), ("silent", "")]
    made = replace(plan(), warnings=tuple(_notice(key, "x") for key in keys))
    said = _said(made)
    assert said.index("silent: holds only") < said.index("gain control: the camera turns its own")
    assert "uncalibrated" not in said
    assert "left out 2 cautions, " in said


def test_another_recording_comes_before_the_setting() -> None:
    other = notice("other recording", other_share=1.0, card_gb=64.0, other_days=1.5)
    lines = _lines(replace(plan(), warnings=(other,)))
    assert lines[2].startswith("FIRST       something else keeps recording 100 % of the time")
    assert not any(line.startswith("take care") for line in lines)


def test_a_number_for_the_camera_is_told_or_how_to_get_one() -> None:
    assert "(the camera's own scale: " in _said(plan())
    blind = plan(replace(SITE, display=Display()))
    assert "(the camera's own scale is not known: audiolevel calibrate)" in _said(blind)


def _by_part() -> ByPart:
    parts = [
        PartSetting(name, 8.0, 20.0, -44.0, -47.0, -41.0, 4.0, 5.0)
        for name in ("day", "evening", "night")
    ]
    return ByPart(-40.0, tuple(parts), pays=True)


@lru_cache(maxsize=1)
def _everything() -> SitePlan:
    """A plan with each part there can be."""
    made = plan(asked=Asked("mid", level_db=76.5))
    option = _caught(_option(made), [f"{number} {LONG}" for number in range(20)])
    marked = replace(option.curve.detections[0], distance_m=None)
    curve = replace(option.curve, by_part=_by_part(), detections=(*option.curve.detections, marked))
    option = replace(option, curve=curve, gain=replace(option.gain, setting=LONG))
    other = replace(option, gain=replace(option.gain, gain_db=-12.0))
    return replace(
        made,
        choice=Choice("limit only", option, (other,), (option,)),
        warnings=tuple(_notice(key, LONG).of(LONG) for key in sentences.known_notices()),
        advice=tuple(_notice(key, LONG) for key in plan_wording._ADVICE),
        reliable=False,
        asked=replace(other, basis="none"),
    )


def test_everything_at_once_still_fits() -> None:
    said = _said(_everything(), LONG * 4)
    for label in ("FIRST", "SET", "because", "expect", "catches", "OR INSTEAD", "ASKED FOR"):
        assert f" {label} " in said
    assert "day " in said
    assert "Not reliable yet" in said
    assert re.search(r"left out \d+ cautions, \d+ hints, each gain and mode", said)


_NOTICES = [*sentences._SENTENCES, *plan_wording._ADVICE]
_TEXT = st.text(min_size=1, max_size=120).filter(str.strip)


@settings(max_examples=150, deadline=None)
@given(
    name=_TEXT,
    sounds=st.lists(_TEXT, max_size=20),
    warned=st.lists(st.sampled_from(sorted(sentences._SENTENCES)), max_size=30),
    advised=st.lists(st.sampled_from(sorted(plan_wording._ADVICE)), max_size=12),
    word=_TEXT,
    has=st.tuples(*[st.booleans()] * 5),
)
def test_it_always_fits_and_no_share_stands_without_its_interval(
    name: str,
    sounds: list[str],
    warned: list[tuple[str, str]],
    advised: list[tuple[str, str]],
    word: str,
    has: tuple[bool, ...],
) -> None:
    forked, asked, parted, reliable, setting = has
    full = _everything()
    option = _caught(_option(full), sounds)
    curve = replace(option.curve, by_part=_by_part() if parted else None)
    gain = replace(option.gain, setting=word if setting else None)
    option = replace(option, curve=curve, gain=gain, highest_catching_db=None)
    other = replace(option, gain=replace(gain, gain_db=-12.0))
    made = replace(
        full,
        choice=Choice("limit only", option, (other,) if forked else (), (option,)),
        warnings=tuple(_notice(key, word).of(word) for key in warned),
        advice=tuple(_notice(key, word) for key in advised),
        reliable=reliable,
        asked=other if asked else None,
    )
    lines = _lines(made, name)
    assert not any(unicodedata.category(one) == "Cc" for one in "".join(lines))
    told = [line for line in lines if line.startswith("catches")]
    assert bool(told) == bool(sounds)
    catches = re.search(r"\ncatches(.*?)\n\S", "\n".join(lines), re.S)
    if catches is not None:
        flat = " ".join(catches[1].split())
        assert len(re.findall(r" m \d+ %", flat)) == len(re.findall(r" m \d+ % \(\d+ to", flat)) > 0


@pytest.mark.parametrize("key", _NOTICES, ids=" ".join)
def test_any_caution_can_be_the_one_that_is_told(key: tuple[str, str]) -> None:
    if key in plan_wording._ADVICE:
        made = replace(plan(), advice=(_notice(key, "shout"),))
    else:
        made = replace(plan(), warnings=(_notice(key, "shout"),))
    said = _said(made)
    told = "next" if key in plan_wording._ADVICE else "FIRST" if key[0] == "other recording" else ""
    assert (told or f"take care {key[0]}") in said
