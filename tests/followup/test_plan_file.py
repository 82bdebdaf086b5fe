"""Plans read, refused and corrected."""

import math
from pathlib import Path

import pytest

from audiolevel.errors import SettingError
from audiolevel.followup.plan_file import expectation_of, read_plan
from audiolevel.followup.verdict import corrected_plan, follow
from tests.followup.made_log import log_of, plan_of, spread_over


def test_a_corrected_plan_is_a_plan_with_another_setting() -> None:
    plan = plan_of(by_hour=[40 / 24] * 24)
    result = follow(expectation_of(plan), [(log_of(spread_over(980)), 75.0)])
    corrected = corrected_plan(result)
    assert corrected.keys() >= plan.keys()
    option, before = corrected["recommended"], plan["recommended"]
    assert option.keys() == before.keys()
    assert option["level_db"] == math.ceil(result.best_db * 2) / 2
    # the camera's own scale goes up one for one, by the option 12 dB higher
    assert option["display_level"] == 50.0 + option["level_db"] - 75.0
    expected = option["expected"]
    assert expected["rate_low_per_day"] < expected["per_day"] < expected["rate_high_per_day"]
    assert expected["per_day"] == pytest.approx(40, rel=0.25)
    assert sum(expected["by_hour"]) == pytest.approx(expected["per_day"], rel=0.01)
    assert plan["recommended"]["level_db"] == 75.0  # the plan given is left as it was


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "is not JSON"),
        ("[]", "is not a plan"),
        ('{"recommended": null, "curves": []}', "recommends nothing"),
        ('{"recommended": {"mode": "threshold"}, "curves": []}', "of another version"),
    ],
)
def test_what_is_no_plan_is_refused_by_name(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "plan.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SettingError, match=words) as refused:
        read_plan(path)
    assert "plan.json" in str(refused.value)
