"""A trial as a page."""

import html
import re

from audiolevel.notices import notice
from audiolevel.pages.trial_page import trial_page
from audiolevel.planning.trial import trials_of
from audiolevel.report.trial_figure import firings_over_time
from audiolevel.triggers.trigger import Trigger
from tests.made_street import plan


def test_every_gain_has_its_firings_and_one_expectation() -> None:
    survey = plan().survey
    trials = trials_of(survey, Trigger.threshold(level_db=80.0, rearm_s=2.0))
    drawn = firings_over_time(trials, survey.scale)
    page = trial_page(survey, trials, [notice("silent")], drawn)
    said = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page.partition("<main")[2])).split())
    assert "Trial: threshold at 80 dB SPL" in said
    for trial in trials:
        marked = " (1 in a marked stretch, not counted)"
        assert f"lane.wav {len(trial.firings)}{marked} 3 min" in said
    assert said.count("Expected:") == len(trials) == 3
    assert "digital silence" in said
    assert "As recorded" in said
