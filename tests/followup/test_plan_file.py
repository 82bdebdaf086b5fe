"""Plans read, refused and corrected."""

import json
import math
from pathlib import Path

import pytest

from audiolevel.followup.plan_file import expectation_of, read_plan
from audiolevel.followup.verdict import corrected_plan, follow
from audiolevel.ground.errors import SettingError
from audiolevel.ground.records import json_text, to_object
from audiolevel.planning.plan_record import plan_of_object
from audiolevel.report.followup.document import set_text
from tests.followup.made_log import log_of, plan_of, spread_over


def test_a_corrected_plan_is_a_plan_with_another_setting() -> None:
    plan = plan_of(by_hour=(40 / 24,) * 24)
    result = follow(expectation_of(plan), [(log_of(spread_over(980)), 75.0)])
    corrected = corrected_plan(result)
    option, before = corrected.recommended, plan.recommended
    assert option is not None
    assert before is not None
    assert option.level_db == result.decision.set_db
    # the camera's own scale goes up one for one
    assert option.display_level == 50.0 + option.setting_db - 75.0
    # and its uncertainty by a tenth a decibel from where it was read
    by_hand = 1.0 + 0.1 * (option.setting_db - 75.0)
    assert option.display_uncertainty == pytest.approx(by_hand)
    assert f"± {by_hand:.2g}" in set_text(result)
    expected = option.expected
    assert expected.per_day is not None
    assert expected.rate_low_per_day is not None
    assert expected.rate_high_per_day is not None
    assert expected.rate_low_per_day < expected.per_day < expected.rate_high_per_day
    # 140 a day were counted at 75 dB, where the curve falls by 0.42 neper a decibel
    by_hand = 140 * math.exp(-0.42 * (option.setting_db - 75.0))
    assert expected.per_day == pytest.approx(by_hand, rel=0.25)
    assert expected.by_hour is not None
    assert sum(rate or 0.0 for rate in expected.by_hour) == pytest.approx(
        expected.per_day, rel=0.01
    )
    # written and read again it is the same plan
    again = plan_of_object(json.loads(json_text(to_object(corrected))))
    assert to_object(again) == to_object(corrected)


def test_a_setting_that_is_kept_keeps_what_was_worked_out_for_it() -> None:
    result = follow(expectation_of(plan_of()), [(log_of(spread_over(250)), 75.0)])
    assert result.decision.keep
    option = corrected_plan(result).recommended
    assert option is not None
    assert option.level_db == 75.0
    assert option.display_level == 50.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "is not JSON"),
        ("[]", "is not a plan"),
        ('{"recommended": null, "curves": []}', "of another version"),
        ('{"recommended": {}, "curves": [], "schema": 4}', "audiolevel: is missing"),
    ],
)
def test_what_is_no_plan_is_refused_by_name(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "plan.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingError, match=words) as refused:
        read_plan(path)
    assert "plan.json" in str(refused.value)


def test_a_corrected_plan_keeps_the_weather_of_its_days() -> None:
    expectation = expectation_of(plan_of(sd=1.0))
    first, second = log_of(spread_over(300, 2.0), 2.0), log_of(spread_over(90, 2.0, seed=4), 2.0)
    result = follow(expectation, [(first, 75.0)], [True])
    plan = plan_of_object(json.loads(json_text(to_object(corrected_plan(result)))))
    assert plan.followed is not None
    # by hand: 1.386 dB louder than the mean day, as in test_belief
    assert plan.followed.louder_db == (1.386, 1.386)
    assert plan.recommended is not None
    set_db = plan.recommended.setting_db
    chained = follow(expectation_of(plan), [(second, set_db)], [False])
    together = follow(expectation, [(first, 75.0), (second, set_db)], [True, False])
    assert chained.decision.level.best == pytest.approx(together.decision.level.best, abs=0.01)


def test_days_and_their_weather_must_be_as_many() -> None:
    result = follow(expectation_of(plan_of()), [(log_of(spread_over(300)), 75.0)], [True])
    plan = to_object(corrected_plan(result))
    plan["followed"]["louder_db"] = [1.98]
    with pytest.raises(SettingError, match=r"followed\.louder_db: must have a number for each"):
        expectation_of(plan_of_object(plan))
