"""The JSON of a follow-up."""

from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import follow
from audiolevel.ground.records import to_object
from audiolevel.report.followup.json import as_json, corrected_plan_json
from tests.followup.made_log import log_of, plan_of, spread_over


def test_an_upper_limit_cannot_be_told_from_fewer() -> None:
    plan = plan_of(per_day=None, method="upper limit", by_hour=None)
    result = follow(expectation_of(plan), [(log_of(spread_over(300)), 75.0)])
    assert result.verdict == "cannot tell"
    assert result.last.expected_per_day.best is None
    assert as_json(result)["expected_per_day"] is None


def test_a_corrected_plan_says_why() -> None:
    result = follow(expectation_of(plan_of()), [(log_of(spread_over(980)), 75.0)])
    plan = corrected_plan_json(result)
    assert "more firings than the limit" in plan["reason"]
    # keys in their order, one more at the end
    assert list(plan) == [*to_object(plan_of()), "followed"]
