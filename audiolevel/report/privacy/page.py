"""The page of a privacy review: its sheet, the minutes of other settings to try, the assessment.

Entry point: `review_page`.
"""

from collections.abc import Mapping
from dataclasses import replace

from audiolevel.ground.intervals import Interval
from audiolevel.ground.records import Object, significant
from audiolevel.planning.option import Option
from audiolevel.privacy.recorded_time import recorded_time
from audiolevel.privacy.review import Review
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.instrument import CHART, EXPLORING, controls, explored, with_answers
from audiolevel.report.page import page, pictured
from audiolevel.report.plan.json import tried_objects


def review_page(
    review: Review, made: Document, pictures: Mapping[str, Picture], asked: Document
) -> str:
    """A review as one HTML file, with the assessment to fill in behind it.

    Parameters
    ----------
    review : Review
    made, asked : Document
        The sheet of the review, and the assessment.
    pictures : mapping of str to Picture
    """
    parts = [replace(one, title=f"Assessment: {one.title}", folded=True) for one in asked.sections]
    together = replace(made, sections=(*made.sections, *parts))
    shown = pictured(pictures)
    option = review.plan.recommended
    if option is None:
        return page(together, "privacy", shown)
    # at its gain alone, for which the distances hold
    options = review.plan.beside(option)
    gains, modes = [(option.gain_db, option.gain.setting)], [one.trigger.mode for one in options]
    tried = controls(gains, modes, review.plan.display is not None)
    shown |= {"chart": CHART, "explore": with_answers(tried)}
    data = {"plan": _explored(review, options)}
    return page(together, "privacy", shown, data=data, scripts=("common", *EXPLORING))


def _explored(review: Review, options: list[Option]) -> Object:
    """What the scripts read, as a plan's JSON has it, with the minutes of every setting."""
    survey, each = review.plan.survey, []
    for one in options:
        made = one.curve.prediction, one.row, one.curve.detections
        tried, curve = tried_objects(survey, one.gain_db, one.trigger, *made)
        each.append((tried, {**curve, **_minutes(review, one)}))
    return explored(survey.scale.unit, review.plan.limit_per_day, each)


def _minutes(review: Review, option: Option) -> Object:
    """Minutes a day at every setting of an option's curve: recorded, and of speech where known."""
    share = None if review.recorded is None or review.recorded.speech is None else review.share
    rows, site = range(len(option.curve.prediction.settings_db)), review.plan.survey.site
    each = [recorded_time(option, site, share, row=row) for row in rows]
    speech = [one.speech for one in each if one.speech is not None]
    return {"recorded": _swept([one.recorded for one in each]), "speech": _swept(speech)}


def _swept(minutes: list[Interval]) -> Object:
    # the page rounds once more: six figures leave it the same number
    return {
        end: [significant(getattr(one, end), 6) for one in minutes]
        for end in ("best", "low", "high")
    }
