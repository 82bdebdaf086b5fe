"""The page of a trial: what one trigger did at each gain, its firings to be heard and labelled.

Entry point: `trial_page`.
"""

from collections.abc import Sequence
from itertools import groupby

from audiolevel.notices import Notice
from audiolevel.pages.document import document, picture, section, table
from audiolevel.pages.html import Content, Html, named, tag
from audiolevel.pages.listening import LISTENING, listening_section, trial_object
from audiolevel.planning.survey import Survey
from audiolevel.planning.trial import Trial
from audiolevel.report.figures import Picture
from audiolevel.report.sentences import notice_text
from audiolevel.report.text import expected, setting
from audiolevel.report.trial_text import not_counted
from audiolevel.report.wording import percent, span


def trial_page(
    survey: Survey, trials: Sequence[Trial], notices: Sequence[Notice], drawn: Picture
) -> str:
    """Trials as one HTML file.

    Parameters
    ----------
    survey : Survey
    trials : sequence of Trial
        By gain, then by recording.
    notices : sequence of Notice
        What the reader should be careful about.
    drawn : Picture
        Of the firings over time.
    """
    first = trials[0]
    what = setting(first.trigger, first.gain.gain_db, survey.scale)
    said = [tag("li", named(notice_text(one))) for one in notices]
    gains = [f"{db:+g} dB" for db, _ in groupby(trials, key=lambda trial: trial.gain.gain_db)]
    caption = "The level over time, and the firings at each gain on a rail of their own."
    return document(
        f"Trial: {what}",
        section("fired", "What fired", *_gains(trials), class_="lead"),
        section("sample", "Take care", tag("ul", said, class_="warn")) if said else None,
        section("over-time", "Over time", picture(drawn, "trial", caption)),
        listening_section(survey, gains),
        command="trial",
        data={"listening": trial_object(survey, trials)},
        scripts=("common", *LISTENING),
    )


def _gains(trials: Sequence[Trial]) -> list[Html]:
    """Each gain's firings by recording, and what is expected of them all together."""
    parts = []
    for gain_db, group in groupby(trials, key=lambda trial: trial.gain.gain_db):
        at_gain = list(group)
        rows: list[list[Content]] = [
            [
                named(trial.measurement.path.name),
                f"{len(trial.firings)}{not_counted(trial)}",
                span(trial.measurement.duration_s),
                percent(trial.gain.clipped_share),
            ]
            for trial in at_gain
        ]
        parts += [
            tag("h3", f"At {gain_db:+g} dB" if gain_db else "As recorded"),
            table(("recording", "fired", "in", "clipped"), rows),
            # of all recordings together, so it is said once
            tag("p", f"Expected: {expected(at_gain[0].expected)}"),
        ]
    return parts
