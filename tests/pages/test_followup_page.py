"""A follow-up as a page: the same words as the text, every date and hour once."""

import html
import re

import pytest

from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import follow
from audiolevel.pages.followup_page import followup_page
from audiolevel.report.followup_figure import pictures_of
from audiolevel.report.wording import decision_text
from tests.followup.made_log import log_of, plan_of, spread_over


def _words(page: str) -> str:
    body = page.partition("<main>")[2].partition("<script")[0]
    text = re.sub(r"<svg.*?</svg>", " ", body, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


@pytest.mark.parametrize(
    ("count", "verdict"), [(280, "as the plan expected"), (980, "more firings")]
)
def test_the_verdict_comes_first_and_every_date_and_hour_is_there(count: int, verdict: str) -> None:
    result = follow(
        expectation_of(plan_of(by_hour=(40 / 24,) * 24)), [(log_of(spread_over(count)), 75.0)]
    )
    said = _words(followup_page(result, "<i>lane</i>", pictures_of(result)))
    assert said.startswith("Follow-up of <i>lane</i> What the camera did Verdict " + verdict)
    assert decision_text(result.decision) in said
    for one in (*result.last.by_day, *result.last.by_hour):
        interval = f"{one.expected.low:.0f} to {one.expected.high:.0f} {one.observed}"
        assert f"{one.name} {one.covered_h:.1f} {one.expected.best:.0f} {interval}" in said


def test_an_upper_limit_has_no_best_estimate_on_the_page() -> None:
    plan = plan_of(per_day=None, method="upper limit", by_hour=None)
    result = follow(expectation_of(plan), [(log_of(spread_over(300)), 75.0)])
    said = _words(followup_page(result, "lane", pictures_of(result)))
    assert "no best estimate" in said
    assert "cannot tell" in said
