"""How much quieter it is when the camera is on than when somebody listened.

A visit is made by day, a camera is often on at night, and quiet is what lets talk be understood.
For active hours that nobody listened in the noise is taken from how much quieter such hours are on
real streets: L90 of every hour of a year against that of the same day's 9 to 17 h, at four city
streets (open data; the figures are made by `python -m tests.studies.night_noise`).

Entry points: `Listened`, `listened_in`.
"""

from dataclasses import dataclass

import numpy as np

from audiolevel.ground.arrays import Array
from audiolevel.ground.intervals import Interval
from audiolevel.metering.silence import within
from audiolevel.planning.survey import Survey

# dB by which L90 of each hour lies above that of the same day's 9 to 17 h: mean over the streets'
# days, and what one day in twenty lies below
MEAN_DB = np.array(
    [
        [-4.4, -5.9, -7.2, -7.9, -8.8, -9.0, -7.5, -4.2, -1.1, -1.3, -0.2, 0.2],
        [0.3, 0.6, 0.0, 0.2, 0.1, 0.3, 0.6, 0.3, -0.4, -1.1, -1.9, -3.1],
    ]
).ravel()
QUIET_DAY_DB = np.array(
    [
        [-13.6, -15.2, -16.0, -16.2, -16.0, -15.0, -12.7, -8.5, -6.5, -4.6, -2.9, -1.5],
        [-1.6, -1.2, -2.1, -2.1, -2.9, -2.9, -2.9, -3.6, -4.6, -5.9, -7.1, -9.6],
    ]
).ravel()
# a minute of an hour is not the hour
_HEARD_S = 300.0


@dataclass(frozen=True)
class Listened:
    """What was heard of the hours in which the camera is on.

    Attributes
    ----------
    everywhen : bool
        Somebody listened for five minutes or more in every active hour.
    hours : tuple of int
        Active hours that were heard.
    quieter_db : Interval
        By how much the quietest active hour is quieter than the quiet moments heard: best estimate,
        0, and what one day in twenty exceeds. An hour that was heard is quieter on another day.
    """

    everywhen: bool
    hours: tuple[int, ...]
    quieter_db: Interval


def listened_in(survey: Survey) -> Listened:
    """What the recordings of a survey tell of the hours in which the camera is on."""
    share = survey.conditions.active_or_all
    on = np.flatnonzero(share > 0)
    heard_s = _heard_s(survey)
    # without start times nobody knows what was heard; by day is what people do
    reference = 0.0
    if heard_s.any():
        # the noise of the recordings is that of their hours, by length
        reference = float(MEAN_DB @ heard_s / heard_s.sum())
    here = on[heard_s[on] >= _HEARD_S]
    missing = np.setdiff1d(on, here)
    if not missing.size:
        most = float((MEAN_DB - QUIET_DAY_DB)[on].max())
        return Listened(True, tuple(here.tolist()), Interval(0.0, 0.0, most))
    # the quietest hour decides from how far talk is understood
    best = max(0.0, reference - float(MEAN_DB[missing].min()))
    most = max(best, reference - float(QUIET_DAY_DB[on].min()))
    return Listened(False, tuple(here.tolist()), Interval(best, 0.0, most))


def _heard_s(survey: Survey) -> Array:
    """Seconds heard of each hour of the day, shape (24,)."""
    heard = np.zeros(24)
    for one in survey.measurements:
        if one.start is None:
            continue
        begin = one.start.hour * 3600 + one.start.minute * 60 + one.start.second
        edges = np.arange(begin, begin + one.duration_s, 1.0)
        silent = within(one.unheard, one.rows)
        # nobody listened in digital silence; the row of each second, the last for a rest
        edges = edges[~silent[np.minimum((edges - begin) / one.row_s, one.rows - 1).astype(int)]]
        heard += np.bincount((edges // 3600).astype(np.int64) % 24, minlength=24)
    return heard
