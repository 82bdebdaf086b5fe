"""Verdicts, several settings one after another, and the level to set."""

import json
from typing import Any

import numpy as np
import pytest

from audiolevel.followup.plan_file import Expectation, expectation_of
from audiolevel.followup.verdict import corrected_plan, follow
from audiolevel.ground.records import json_text, to_object
from audiolevel.planning.plan_record import plan_of_object
from audiolevel.report.followup.document import verdict_text
from audiolevel.report.words.cautions import notice_text
from tests.followup.made_log import log_of, plan_of, spread_over


def _follow(count: Any, expectation: Expectation | None = None, days: float = 7.0) -> Any:
    return follow(
        expectation or expectation_of(plan_of()), [(log_of(spread_over(count, days), days), 75.0)]
    )


def _codes(result: Any) -> Any:
    return [one.code for one in result.notices]


@pytest.mark.always
@pytest.mark.parametrize(
    ("count", "verdict"), [(280, "as expected"), (1000, "more"), (60, "fewer"), (0, "stuck")]
)
def test_verdicts(count: int, verdict: str) -> None:
    result = _follow(count)
    assert result.verdict == verdict
    assert result.last.observed_per_day == pytest.approx(count / 7)
    assert result.last.expected_per_day.best == 40.0
    assert 40 in result.last.expected_per_day
    assert (result.last.p_value < 0.05) == (verdict != "as expected")


def test_none_when_few_were_to_come_cannot_be_told() -> None:
    result = follow(expectation_of(plan_of(rate=0.3)), [(log_of([]), 75.0)])
    assert result.verdict == "cannot tell"
    assert "silent" in _codes(result)
    assert verdict_text(result).endswith("; no firing in the active hours")


def test_none_where_many_were_to_come_is_not_said_to_be_as_few_as_expected() -> None:
    # 280 were to come in the week
    (said,) = (notice_text(one) for one in _follow(0).notices if one.code == "silent")
    assert said.startswith("no firing: the detector may be dead")


def test_the_level_for_the_limit_is_the_ratio_over_the_slope() -> None:
    # by hand: 140 a day where 40 are allowed, ln(3.5)/0.42 = 2.98 dB; of a plan that knew little
    log = log_of(spread_over(980))
    level = follow(expectation_of(plan_of(sd=2.0)), [(log, 75.0)]).decision.level
    assert level.best == pytest.approx(75 + 2.98, abs=0.35)
    assert 75 + 2.98 in level
    # one week is not the months to come: of a plan as sure as weeks differ half is believed
    assert _follow(980).decision.level.best == pytest.approx(75 + 2.98 / 2, abs=0.6)
    # a third as many: the sample counted 40 a day at 75 dB, so no log takes the level far below
    assert _follow(93).decision.level.best == pytest.approx(75 - 1.4, abs=1.0)


def _width(result: Any) -> float:
    return float(result.decision.level.high - result.decision.level.low)


def test_several_settings_narrow_the_level() -> None:
    one = follow(expectation_of(plan_of(sd=1.5)), [(log_of(spread_over(300, 1.0), 1.0), 75.0)])
    two = follow(
        expectation_of(plan_of(sd=1.5)),
        [(log_of(spread_over(300, 1.0), 1.0), 75.0), (log_of(spread_over(55, 1.0), 1.0), 80.0)],
    )
    assert _width(two) < _width(one)
    # by hand: 55 a day at 80 dB, 40 wanted: ln(55/40)/0.42 = 0.8 dB more, less what the plan
    # (whose level is 75) holds against two days of one week
    assert two.decision.level.best == pytest.approx(80.4, abs=0.5)


def test_one_after_the_other_by_corrected_plans_is_the_same() -> None:
    first, second = log_of(spread_over(300, 2.0), 2.0), log_of(spread_over(90, 2.0, seed=4), 2.0)
    written = json_text(to_object(plan_of(sd=1.0)))  # to four figures, as a file has it
    expectation = expectation_of(plan_of_object(json.loads(written)))
    result = follow(expectation, [(first, 75.0)])
    plan = plan_of_object(json.loads(json_text(to_object(corrected_plan(result)))))
    assert plan.recommended is not None
    set_db = plan.recommended.setting_db
    chained = follow(expectation_of(plan), [(second, set_db)])
    together = follow(expectation, [(first, 75.0), (second, set_db)])
    assert chained.decision.level.best == pytest.approx(together.decision.level.best, abs=1e-9)
    assert chained.decision.level.low == pytest.approx(together.decision.level.low, abs=1e-9)
    again = corrected_plan(chained)
    assert again.followed is not None
    assert again.followed.planned.level_db == 75.0
    assert len(again.followed.days) == 4


def test_what_is_stuck_says_nothing_about_the_site() -> None:
    result = follow(
        expectation_of(plan_of()),
        [(log_of(np.arange(2000) * 10.0), 75.0), (log_of(spread_over(280)), 75.0)],
    )
    assert result.verdict == "as expected"
    assert len(result.days) == 7


def test_kinds_that_cannot_be_told_apart_are_said_with_what_follows() -> None:
    result = follow(
        expectation_of(plan_of()), [(log_of(spread_over(980), kinds_known=False), 75.0)]
    )
    text = next(notice_text(c) for c in result.notices if c.code == "not told apart")
    assert "the level to set is no higher than said" in text
