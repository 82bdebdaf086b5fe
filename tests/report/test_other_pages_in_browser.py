"""The pages of a trial, a follow-up, a batch, a review and the record, opened from the disk."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from audiolevel.batch.faults import Fault, Heard
from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import follow
from audiolevel.ground.notices import notice
from audiolevel.planning.trial import trials_of
from audiolevel.privacy.recorded_time import recorded_time
from audiolevel.report.batch.document import Told, batch_page
from audiolevel.report.followup.figure import pictures_of
from audiolevel.report.followup.page import followup_page
from audiolevel.report.plan.page import record_page
from audiolevel.report.privacy.assessment import assessment
from audiolevel.report.privacy.document import review_document
from audiolevel.report.privacy.page import review_page
from audiolevel.report.privacy.rings import rings
from audiolevel.report.trial.figure import firings_over_time
from audiolevel.report.trial.page import trial_page
from audiolevel.report.words.quantities import minutes_a_day
from audiolevel.triggers.trigger import Trigger
from tests.batch.test_overview import record_with
from tests.followup.made_log import log_of, plan_of, spread_over
from tests.made_street import plan
from tests.privacy.made_review import review_of
from tests.report.conftest import HOSTILE, Open, Watched, next_frame, serious_faults

WIDTHS = (360, 768, 1440)


def _trial() -> str:
    survey = plan().survey
    trials = trials_of(survey, Trigger.threshold(level_db=80.0, rearm_s=2.0))
    drawn = firings_over_time(trials, survey.scale)
    return trial_page(survey, trials, [notice("silent").of(HOSTILE)], drawn)


def _followup() -> str:
    expectation = expectation_of(plan_of(by_hour=(40 / 24,) * 24))
    result = follow(expectation, [(log_of(spread_over(280)), 75.0)])
    return followup_page(result, HOSTILE, pictures_of(result))


def _batch(many: int = 30) -> str:
    def records() -> Iterator[dict[str, Any]]:
        for k in range(many):
            clipping = {"verdict": "none", "clipped_share": 0.0}
            yield record_with(f"{k} {HOSTILE}", -30.0 - k, site=HOSTILE, clipping=clipping)

    return batch_page(
        HOSTILE,
        Told(lambda: (Heard(one, {}) for one in records()), [(HOSTILE, HOSTILE)], {}),
        totals="30 recordings",
        findings=[HOSTILE],
        found=[Fault(f"2 {HOSTILE}", "clipped", "bad")],
        moved=[HOSTILE],
        pictures={},
    )


def _written(folder: Path, made: str) -> Path:
    """A page on the disk, as somebody would open it."""
    file = folder / "page.html"
    file.write_text(made, encoding="utf-8")
    return file


def _privacy() -> str:
    review = review_of()
    pictures = {"rings": rings(review, HOSTILE)}
    asked = assessment(review, HOSTILE, "2026-03-03")
    return review_page(review, review_document(review, HOSTILE, "2026-03-03"), pictures, asked)


def _record() -> str:
    return record_page(plan(), HOSTILE)


PAGES = {
    "trial": _trial,
    "followup": _followup,
    "batch": _batch,
    "privacy": _privacy,
    "record": _record,
}


@pytest.mark.parametrize("name", PAGES)
def test_it_opens_at_every_width_without_complaint_request_or_serious_fault(
    name: str, tmp_path: Path, open_page: Open, watched: Watched, node_modules: Path
) -> None:
    file = _written(tmp_path, PAGES[name]())
    for width in WIDTHS:
        page = open_page(file, width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.title() != "taken"
    assert HOSTILE in page.locator("body").inner_text()
    assert watched.complaints == []
    asked = {url for url in watched.asked_for if not url.startswith(("data:", "blob:"))}
    assert asked == {file.as_uri()}
    assert serious_faults(open_page(file, 360), node_modules) == []


def test_the_minutes_of_a_review_follow_the_level(
    tmp_path: Path, open_page: Open, watched: Watched
) -> None:
    page = open_page(_written(tmp_path, _privacy()))
    review = review_of()
    option = review.plan.recommended
    assert option is not None
    share = review.share if review.recorded and review.recorded.speech else None
    said = []
    for row in (option.row - 8, option.row, option.row + 8):
        page.locator("#explore-at").fill(str(row))
        expected = recorded_time(option, review.plan.survey.site, share, row=row).recorded
        said.append(_answer(page, "Recorded"))
        assert said[-1] == minutes_a_day(expected)
    assert len(set(said)) == 3
    page.locator("#explore-back").click()
    assert _answer(page, "Recorded") == said[1]
    assert watched.complaints == []


def _answer(page: Any, name: str) -> str:
    rows = page.locator("#explore-facts dl > div").all()
    found = {row.locator("dt").inner_text(): row.locator("dd").inner_text() for row in rows}
    return str(found[name])


def test_a_batch_sorts_by_level_when_its_heading_is_pressed(
    tmp_path: Path, open_page: Open
) -> None:
    page = open_page(_written(tmp_path, _batch()))
    page.locator("#recordings thead button", has_text="LAeq").click()
    rows = page.locator("#recordings tbody tr").all()
    levels = [float(row.locator("td").nth(5).inner_text()) for row in rows]
    assert levels == sorted(levels)
    assert len(levels) == 30


def test_a_batch_of_300_is_a_few_screens_and_its_rows_can_be_chosen(
    tmp_path: Path, open_page: Open
) -> None:
    page = open_page(_written(tmp_path, _batch(300)), 1440)
    assert page.evaluate("document.documentElement.scrollHeight") <= 4000
    page.locator("#recordings-table-filter").fill("329.0")
    rows = page.locator("#recordings-table tbody tr:visible")
    assert rows.count() == 1
    assert page.locator("#recordings-table-filter-said").inner_text() == "1 of 300"
    # a finding leads to its row
    assert page.locator("#findings-table a").get_attribute("href") == "#row-2"


def test_a_trial_plays_the_firings_of_the_gain_that_is_chosen(
    tmp_path: Path, open_page: Open, watched: Watched
) -> None:
    page = open_page(_written(tmp_path, _trial()))
    trials = trials_of(plan().survey, Trigger.threshold(level_db=80.0, rearm_s=2.0))
    for trial in trials:
        page.locator(f"input[name=gain][value='{trial.gain.gain_db:g}']").check()
        page.locator("#explore-at").fill(str(trial.row))
        next_frame(page)
        assert page.locator("#listen-list tbody tr").count() == len(trial.firings)
    assert watched.complaints == []
