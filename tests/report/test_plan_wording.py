"""Why a setting was chosen, in words that follow from the option's own figures."""

from dataclasses import replace

import numpy as np
import pytest

from audiolevel.counting.day_parts import ByPart, PartSetting
from audiolevel.notices import notice
from audiolevel.planning.choice import Choice, Option
from audiolevel.planning.evidence import Evidence
from audiolevel.planning.plan import SitePlan
from audiolevel.report.plan_wording import (
    advice_text,
    by_part_lines,
    evidence_line,
    hours_not_heard,
    of_ten,
    reason,
)
from audiolevel.sounds.variation import Variation
from tests.made_street import plan


def _with(**changes: object) -> SitePlan:
    made = plan()
    option = made.recommended
    assert option is not None
    changed: Option = replace(option, **changes)  # type: ignore[arg-type]  # fields by name
    return replace(made, choice=replace(made.choice, recommended=changed))


def test_hours_are_told_as_runs() -> None:
    assert hours_not_heard([0]).startswith("00-01 h not heard")
    assert hours_not_heard([0, 1, 2, 5, 22, 23]).startswith("00-03, 05-06, 22-24 h not heard")
    assert hours_not_heard(range(24)).startswith("00-24 h not heard")


def test_nothing_to_set_is_said() -> None:
    nothing = replace(plan(), choice=Choice("silent", None, (), ()))
    assert reason(nothing) == "no setting can be defended from this recording"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"basis": "safe", "margin_db": 4.25, "highest_catching_db": -20.0, "caught": "surely"},
            "even at worst, with 4.2 dB to spare",
        ),
        (
            {"basis": "safe", "highest_catching_db": -20.0, "caught": "best"},
            "80 % of the time by the best estimate, though less is possible",
        ),
        ({"basis": "safe", "margin_db": 4.0, "highest_catching_db": None}, "the lowest that does"),
        ({"basis": "best", "margin_db": 1.0}, "by the best estimate, not yet with 90 % certainty"),
        (
            {"basis": "safe", "margin_db": -3.0, "highest_catching_db": -np.inf},
            "no setting keeps it and catches each wanted sound 80 % of the time too",
        ),
    ],
)
def test_the_reason_follows_the_margin(changes: dict[str, object], said: str) -> None:
    assert said in reason(_with(**changes))
    assert reason(_with(**changes)).startswith("It keeps 300 a day")


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (1.0, "nearly all"),
        (0.96, "about 19 of 20"),
        (0.56, "about six of ten"),
        (0.1, "about one of ten"),
        (0.05, "about one of 20"),
        (0.001, "hardly any"),
    ],
)
def test_a_chance_is_said_as_people_count(share: float, said: str) -> None:
    assert of_ten(share) == said


def test_what_marked_sounds_taught_is_one_line() -> None:
    before = Variation(0.0, 4.7, 3.0)
    offsets = (-6.0, -5.0, -4.02)
    told = evidence_line(Evidence("horn", offsets, before, before.taught(offsets), False))
    # precisions 1/9 and 3/22.09: the mean moves by 0.55 of −5.01, known to ±2 · 2.01
    assert told == (
        "horn, 3 marked: -5.0 dB from the level worked out; its mean level is moved by -2.8 dB "
        "and known to ±4.0 dB (without the marks to ±6.0)"
    )
    leaning = before.taught(offsets, lean=True)
    told = evidence_line(Evidence("horn", offsets, before, leaning, True))
    assert "moved by -5.0 dB, by the marks alone, and known to ±5.4 dB" in told


def test_what_is_given_up_is_the_sound_caught_least() -> None:
    made = plan()
    option = made.recommended
    assert option is not None
    horn = option.curve.detections[0]
    half = replace(horn, probability=np.full(len(horn.probability), 0.5))
    curve = replace(option.curve, detections=(half,))
    told = reason(_with(curve=curve))
    assert "Given up: vehicle horn (4 m off) is caught 50 % of the time" in told
    none = replace(option.curve, detections=())
    assert "No wanted sound is named" in reason(_with(curve=none))


def test_parts_of_the_day_are_lower_or_higher_than_the_whole() -> None:
    night = PartSetting("night", 8.0, 20.0, -44.0, -47.0, -41.0, 4.0, 5.0)
    day = replace(night, part="day", best_db=-39.0, gain_db=-1.0)
    low, high = by_part_lines(ByPart(-40.0, (night, day), pays=True), "dB FS")
    assert low.startswith("night: -44.0 dB FS (-47.0 to -41.0), 4.0 dB lower than -40.0")
    assert high.startswith("day: -39.0 dB FS (-47.0 to -41.0), 1.0 dB higher than -40.0")


def test_advice_names_the_hours_and_the_distance() -> None:
    told = advice_text(notice("hours not heard", blocks="evening 19 23;night 23 7"))
    assert told.endswith("the evening (19 to 23 h), the night (23 to 7 h)")
    nearer = advice_text(notice("nearer", sound="shout", lacking_db=6.02, distance_m=5.0))
    assert "shout would have to arrive 6.0 dB louder, as from 5 m;" in nearer
