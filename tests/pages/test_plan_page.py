"""The parts of a plan's page, in plans that lack some of them."""

import html
import re
from dataclasses import replace

import numpy as np

from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import recording_of_array
from audiolevel.pages.plan_page import plan_page
from audiolevel.planning.asked import Asked
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.report.plan_figure import pictures_of
from audiolevel.report.plan_json import as_json
from audiolevel.report.sentences import notice_text
from audiolevel.site.sections import Site
from tests.made_street import RATE_HZ, plan, wave_of


def _page(of: SitePlan) -> str:
    return plan_page(of, "Quarry Lane", as_json(of), pictures_of(of, "Quarry Lane"))


def _words(page: str) -> str:
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return html.unescape(" ".join(re.sub(r"<[^>]+>", " ", text).split()))


def _plan_of(wave: np.ndarray) -> SitePlan:
    """Of a camera nobody knows anything of."""
    site = Site()
    return plan_of(
        survey_of(
            [measure(recording_of_array(wave, RATE_HZ, "a.wav"), gains=gains_to_simulate(site))],
            site,
        )
    )


def test_it_is_the_same_each_time() -> None:
    assert _page(plan()) == _page(plan())


def test_cautions_and_advice_stand_on_it() -> None:
    said = _words(_page(plan()))
    assert plan().warnings
    for one in plan().warnings:
        assert " ".join(notice_text(one).split()) in said
    assert "What would help most" in said


def test_silence_gives_a_page_that_sets_nothing() -> None:
    said = _words(_page(_plan_of(np.zeros(60 * RATE_HZ))))
    assert "Set nothing yet" in said
    assert "digital silence" in said
    assert "Try another setting" not in said


def test_without_a_site_file_levels_are_of_the_scale_and_nothing_is_caught() -> None:
    said = _words(_page(_plan_of(wave_of())))
    assert "levels in dB FS" in said
    assert "No wanted sound is named" in said
    assert "dB SPL" not in said


def test_what_was_asked_for_stands_beside_what_is_recommended() -> None:
    asked = plan(asked=Asked(None, "threshold", level_db=80.0))
    assert "Asked for" in _words(_page(asked))
    assert "Asked for" not in _words(_page(plan()))


def test_a_fork_is_told_with_its_other_prong() -> None:
    option = next(one for one in plan().options if one.trigger.mode == "threshold")
    forked = replace(plan(), choice=replace(plan().choice, alternatives=(option,)))
    said = _words(_page(forked))
    assert "Or instead" in said
    shown = "On the camera's own scale"
    assert said.count(shown) == _words(_page(plan())).count(shown) + 1
