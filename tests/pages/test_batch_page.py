"""The index of a batch: findings first, every recording once, no more than can be looked at."""

import html
import re
from collections.abc import Iterator
from typing import Any

from audiolevel.batch.overview import by_site_and_hour
from audiolevel.pages import batch_page as pages
from tests.batch.test_overview import record_with

_NO_CLIPPING = {"verdict": "none", "clipped_share": 0.0}


def _page(many: int, **changed: Any) -> str:
    def records() -> Iterator[dict[str, Any]]:
        return (
            record_with(
                f"{k:04d} <i>.wav", -30.0 - k, site="lane", clipping=_NO_CLIPPING, **changed
            )
            for k in range(many)
        )

    return pages.batch_page(
        "Recordings in <b>march</b>",
        totals=f"{many} recordings",
        findings=["lane: L90 drifts by +4.0 dB"],
        moved=["a.wav: LAeq +6.0 dB"],
        failures=[("broken.wav", "breaks off")],
        sites=by_site_and_hour(records()),
        records=records,
        pictures={},
    )


def _words(page: str) -> str:
    text = page.partition("<main")[2].partition("<script")[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_findings_come_first_then_failures_then_the_table() -> None:
    said = _words(_page(3))
    order = ["What stands out", "Not measured", "What moved", "Sites", "Press a heading"]
    places = [said.index(one) for one in order]
    assert places == sorted(places)
    for text in ("drifts by +4.0 dB", "broken.wav", "breaks off", "LAeq +6.0 dB", "0002 <i>.wav"):
        assert text in said


def test_names_are_no_html_and_levels_are_those_of_the_records() -> None:
    page = _page(2)
    assert "<i>" not in page
    assert "<b>march" not in page
    assert "-31.0" in _words(page)


def test_a_long_table_says_what_it_leaves_out() -> None:
    said = _words(_page(pages.MOST_ROWS + 7))
    assert "7 more stand in results.csv" in said
    assert f"{pages.MOST_ROWS:04d} <i>.wav" not in said
    assert "more stand in" not in _words(_page(3))
