"""The page of a follow-up: what to set now, expected against observed, before and after.

Entry point: `followup_page`.
"""

from collections.abc import Mapping, Sequence

from audiolevel.followup.comparison import PeriodComparison
from audiolevel.followup.verdict import Followup
from audiolevel.pages.document import document, facts, picture, section, table
from audiolevel.pages.html import Content, Html, named, tag
from audiolevel.report.figures import Picture
from audiolevel.report.followup_text import (
    expected_text,
    limit_text,
    observed_text,
    p_value_text,
    read_as,
    set_text,
    verdict_text,
)
from audiolevel.report.sentences import notice_text
from audiolevel.report.wording import decision_text


def followup_page(result: Followup, plan_name: str, pictures: Mapping[str, Picture]) -> str:
    """A follow-up as one HTML file.

    Parameters
    ----------
    result : Followup
    plan_name : str
        Of the site, or of the plan's file.
    pictures : mapping of str to Picture
        "followup", by date and hour, and "levels_known", before and after the logs.
    """
    last, known = result.last, limit_text(result)
    cautions = [tag("li", named(notice_text(one))) for one in result.notices]
    rows: list[tuple[str, Content]] = [
        ("Verdict", tag("b", verdict_text(result))),
        ("Set now", tag("b", set_text(result))),
        ("Because", decision_text(result.decision)),
        ("Expected", expected_text(last, result.expectation.confidence)),
        ("Observed", observed_text(last)),
        ("By chance", p_value_text(last.p_value)),
    ]
    return document(
        f"Follow-up of {plan_name}",
        section("verdict", "What the camera did", facts(rows, "facts setting"), class_="lead"),
        section("sample", "Take care", tag("ul", cautions, class_="warn")) if cautions else None,
        _pictured(pictures, f"{known[0].upper()}{known[1:]}."),
        section("dates", "By date", _periods("date", last.by_day)),
        section("hours", "By hour of the day", _periods("hour", last.by_hour)),
        _logs(result),
        command="followup",
        scripts=("common", "sortable"),
    )


def _pictured(pictures: Mapping[str, Picture], known: str) -> Html:
    dates = (
        "Bars are what was expected, dots what was seen; a ring marks what chance does not explain."
    )
    levels = (
        "Firings a day at each setting, as they were known before the logs and as they are now."
    )
    return section(
        "expected",
        "Expected and observed",
        picture(pictures["followup"], "dates", dates),
        tag("h3", "Before and after"),
        tag("p", known),
        picture(pictures["levels_known"], "levels", levels),
    )


def _periods(label: str, periods: Sequence[PeriodComparison]) -> Html:
    rows: list[list[Content]] = []
    for one in periods:
        best = "" if one.expected.best is None else f"{one.expected.best:.0f}"
        notes = (("stands out", one.stands_out), ("not heard before", one.carried_over))
        said = ", ".join(note for note, holds in notes if holds)
        interval = f"{one.expected.low:.0f} to {one.expected.high:.0f}"
        rows.append([one.name, f"{one.covered_h:.1f}", best, interval, f"{one.observed}", said])
    head = (label, "hours covered", "expected", "interval", "observed", "note")
    return table(head, rows, class_="sortable")


def _logs(result: Followup) -> Html:
    said = [tag("li", named(read_as(one.log))) for one in result.comparisons]
    rows: list[list[Content]] = [
        [named(one.log.name), f"{one.at_db:g}", f"{one.count}", f"{one.exposure:.1f}"]
        for one in result.comparisons
    ]
    head = ("log", f"setting, {result.expectation.unit}", "firings", "days")
    return section("logs", "The logs, as they were read", tag("ul", said), table(head, rows))
