"""The page of a trial: the setting that was tried among all others at its gains.

Entry point: `trial_page`.
"""

from collections.abc import Sequence
from itertools import groupby

from audiolevel.ground.notices import Notice
from audiolevel.ground.records import Object
from audiolevel.planning.survey import Survey
from audiolevel.planning.trial import Trial
from audiolevel.report.figures import Picture
from audiolevel.report.instrument import CHART, EXPLORING, controls, explored, with_answers
from audiolevel.report.listening import LISTENING, listening_part, trial_object
from audiolevel.report.page import page, pictured
from audiolevel.report.plan.json import tried_objects
from audiolevel.report.trial.document import trial_document


def trial_page(
    survey: Survey, trials: Sequence[Trial], notices: Sequence[Notice], drawn: Picture
) -> str:
    """Trials as one HTML file, with other settings to try and the firings of each to be heard."""
    firsts = [next(of) for _, of in groupby(trials, key=lambda trial: trial.gain.gain_db)]
    gains = ((one.gain.gain_db, survey.site.setting_of(one.gain.gain_db)) for one in firsts)
    modes, has_display = [firsts[0].trigger.mode], bool(survey.site.display.readings)
    shown = {
        **pictured({"trial": drawn}),
        "chart": CHART,
        "explore": with_answers(controls(gains, modes, has_display)),
    }
    heard = listening_part(survey)
    if heard is not None:
        shown["listen"] = heard
    return page(
        trial_document(survey, trials, notices),
        "trial",
        shown,
        data={"plan": _explored(survey, firsts), "listening": trial_object(survey, trials)},
        scripts=("common", *LISTENING, *EXPLORING),
    )


def _explored(survey: Survey, firsts: Sequence[Trial]) -> Object:
    """What the scripts read, as a plan's JSON has it, of one trial a gain."""
    each = [
        tried_objects(survey, one.gain.gain_db, one.trigger, one.prediction, one.row)
        for one in firsts
    ]
    return explored(survey.scale.unit, survey.site.limits.false_triggers_per_day, each)
