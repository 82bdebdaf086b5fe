"""A plan whose numbers cannot be meant is refused with the key; those of the program pass."""

from dataclasses import replace
from typing import Any

import pytest

from audiolevel.followup.plan_checks import check_plan
from audiolevel.ground.errors import SettingError
from audiolevel.planning.plan_record import PlanRecord, QuantilesRecord
from tests.followup.made_log import plan_of


def _expecting(**changes: Any) -> PlanRecord:
    plan = plan_of()
    assert plan.recommended is not None
    expected = replace(plan.recommended.expected, **changes)
    return replace(plan, recommended=replace(plan.recommended, expected=expected))


def _curve(**changes: Any) -> PlanRecord:
    plan = plan_of()
    return replace(plan, curves=(replace(plan.curves[0], **changes),))


def test_what_the_program_writes_passes() -> None:
    check_plan(plan_of())
    check_plan(_expecting(by_hour=(None,) * 24, per_day=None))


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (replace(plan_of(), false_triggers_per_day_limit=0.0), "false_triggers_per_day_limit"),
        (_expecting(confidence=7.0), "recommended.expected.confidence: must be above 0.5 and"),
        (_expecting(by_hour=(1.0,) * 23), "recommended.expected.by_hour: must be 24 rates"),
        (_expecting(by_hour=(-1.0,) * 24), "recommended.expected.by_hour"),
        (_expecting(hours_not_heard=(24,)), "hours_not_heard: must be hours of the day"),
        (_expecting(rate_quantiles=QuantilesRecord(shares=(0.5,), per_day=(1.0,))), "quantiles"),
        (
            _expecting(rate_quantiles=QuantilesRecord(shares=(0.5, 0.1), per_day=(1.0, 2.0))),
            "for each of two or more rising shares",
        ),
        (
            _expecting(rate_quantiles=QuantilesRecord(shares=(0.1, 0.5), per_day=(None, 2.0))),
            "rate_quantiles.per_day: must be rates of 0 or more",
        ),
        (_curve(settings_db=()), r"curves\[0\].settings_db"),
        (_curve(per_day=(1.0,)), r"curves\[0\].per_day: must be as many as settings_db"),
        (_curve(method=("counted",) * 9), r"curves\[0\].method: must be as many as settings_db"),
    ],
)
def test_what_cannot_be_meant_is_refused_by_its_key(plan: PlanRecord, said: str) -> None:
    with pytest.raises(SettingError, match=said):
        check_plan(plan)
