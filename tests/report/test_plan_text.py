"""A plan in lines of 80 columns: what to set, with what is expected and in which unit."""

from dataclasses import replace

import pytest

from audiolevel.metering.calibration import Scale
from audiolevel.planning.asked import Asked
from audiolevel.planning.choice import Choice
from audiolevel.report.plan_json import as_json
from audiolevel.report.plan_text import as_text, in_a_line
from audiolevel.site.sections import Microphone
from tests.made_street import SITE, plan

BLIND = replace(SITE, microphone=Microphone(), wanted=())


@pytest.mark.parametrize(
    "name",
    ["Quarry Lane", ", ".join(f"visit_{number}.wav" for number in range(12))],
    ids=["short", "long"],
)
def test_no_line_is_longer_than_80_columns(name: str) -> None:
    for made in (plan(), plan(BLIND), plan(asked=Asked("mid", level_db=76.5))):
        lines = as_text(made, name).splitlines()
        assert max(map(len, lines)) <= 80
        assert lines[0].startswith("Plan for ")
        assert " ".join(" ".join(lines).split()).startswith(f"Plan for {name}: 3 min heard")


def test_the_recommended_setting_is_said_as_its_json_says_it() -> None:
    told, text = as_json(plan())["recommended"], " ".join(as_text(plan(), "lane").split())
    assert told["mode"] == "threshold"
    assert f"threshold at {told['level_db']:g} dB SPL" in text
    assert f"gain {told['gain_setting']} " in text
    assert f"(the camera's own scale: {told['display_level']:.3g} ±" in text
    assert "95 % sure: " in text
    horn = next(one for one in told["detection"] if one["sound"] == "vehicle horn")
    assert f"vehicle horn at 4 m {100 * horn['probability']:.0f} %" in text
    assert "08:00-20:00: a day counts these hours" in text
    assert "08-12, 13-20 h not heard" in text
    assert "Not reliable yet" in text  # of three minutes nothing else could be said
    assert in_a_line(plan()) in text


def test_what_is_not_reliable_is_the_recommended_setting_and_not_the_asked_one() -> None:
    lines = as_text(plan(asked=Asked("mid", level_db=76.5)), "lane").splitlines()
    labels = [line[:12].strip() for line in lines]
    (at,) = [i for i, line in enumerate(lines) if "Not reliable yet" in line]
    assert labels.index("SET") < at < labels.index("ASKED FOR")
    # an empty line parts the two
    assert "" in lines[at : labels.index("ASKED FOR")]


def test_without_a_calibration_levels_are_re_full_scale_and_nothing_is_caught() -> None:
    made = plan(BLIND)
    assert made.survey.scale == Scale()
    text = " ".join(as_text(made, "lane").split())
    assert "levels in dB FS" in text
    assert "dB SPL" not in text.split("Take care")[0]
    assert "No wanted sound is named" in text or "marked in the recording" in text


def test_a_plan_that_has_nothing_to_set_says_so() -> None:
    nothing = replace(plan(), choice=Choice("silent", None, (), ()))
    text = as_text(nothing, "lane")
    assert "SET         nothing yet" in text
    assert in_a_line(nothing) == "nothing to set yet"
    assert max(map(len, text.splitlines())) <= 80


def test_the_gain_test_is_told_whatever_it_found() -> None:
    untested = as_text(plan(), "road")
    assert "gain control: not tested (audiolevel calibrate --steady)" in untested
    held = replace(SITE, microphone=replace(SITE.microphone, gain_control="none found"))
    assert "gain control: none found" in as_text(plan(held), "road")
    bent = replace(SITE, microphone=replace(SITE.microphone, gain_control="found"))
    made = plan(bent)
    assert "the camera turns its own gain" in " ".join(as_text(made, "road").split())
    assert not made.reliable
