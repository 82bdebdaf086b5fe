"""The record that stays with whoever is responsible."""

import html
import re
from dataclasses import replace
from datetime import date

from audiolevel.pages.record_page import record_page
from audiolevel.planning.choice import Choice
from audiolevel.planning.plan import SitePlan
from tests.made_street import SITE, plan


def _words(page: str) -> str:
    body = page.partition("<body")[2]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


def _calibrated(on: date | None) -> SitePlan:
    site = replace(SITE, microphone=replace(SITE.microphone, calibrated_on=on))
    return replace(plan(), survey=replace(plan().survey, site=site))


def test_it_says_what_was_set_what_is_expected_and_what_is_missed() -> None:
    said = _words(record_page(plan(), "Quarry Lane"))
    for part in ("Set", "Expected", "Missed", "People's speech", "Next visit", "signature"):
        assert part in said
    placed = [one for one in plan().recommended.curve.detections if one.distance_m is not None]
    (horn,) = placed
    row = plan().recommended.row
    # what is not caught of a hundred, by hand
    missed = f"{100 - 100 * horn.probability[row]:.0f} of 100"
    assert f"vehicle horn at 4 m : {missed}" in said


def test_the_age_of_the_calibration_is_that_at_the_recording() -> None:
    """The street was recorded on 3 March 2026."""
    assert "11 days old when" in _words(record_page(_calibrated(date(2026, 2, 20)), "Q"))
    assert "1 day after the recording" in _words(record_page(_calibrated(date(2026, 3, 4)), "Q"))
    assert "not known (microphone.calibrated_on)" in _words(record_page(_calibrated(None), "Q"))


def test_nothing_recommended_is_nothing_set() -> None:
    nothing = replace(plan(), choice=Choice("silent", None, (), ()))
    assert "nothing is recorded as set" in _words(record_page(nothing, "Q"))
