"""The picture of a trial adds up its firings."""

import numpy as np
import pytest

from audiolevel.planning.trial import trials_of
from audiolevel.report.trial_figure import firings_over_time
from tests.made_street import SITE, survey


def test_each_line_climbs_by_one_at_each_firing() -> None:
    trials = trials_of(survey(), SITE.trigger.trigger("rise", 15.0))
    picture = firings_over_time(trials, survey().scale)
    (axes,) = picture.figure.axes
    assert len(axes.lines) == len(trials)
    for line, one in zip(axes.lines, trials, strict=True):
        minutes, climbed = (np.asarray(part) for part in line.get_data())
        times = np.array([time for time, _ in one.firings])
        for at in (0.0, 30.0, 90.0, 179.0):
            shown = climbed[np.searchsorted(minutes * 60, at, "right") - 1]
            assert shown == np.count_nonzero(times <= at)
        assert minutes[-1] * 60 == pytest.approx(180.0)


def test_the_words_and_labels_hold_counts_with_their_interval() -> None:
    trials = trials_of(survey(), SITE.trigger.trigger("rise", 15.0))
    picture = firings_over_time(trials, survey().scale)
    for one, line in zip(trials, picture.figure.axes[0].lines, strict=True):
        assert f"lane.wav at {one.gain.gain_db:+g} dB: {len(one.firings)} in 3 min" in (
            picture.alternative
        )
        assert str(line.get_label()).endswith("a day)")
        assert " to " in str(line.get_label())
