"""The picture of a privacy review shows what the review holds, and says it in words."""

import numpy as np

from audiolevel.privacy.audibility import DISTANCES_M, FOLLOWED_INDEX
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.report.privacy.figure import radii_and_index
from tests.privacy.made_review import review_of


def test_each_curve_is_that_of_its_vocal_effort() -> None:
    review = review_of()
    picture = radii_and_index(review, "school road")
    bars, index = picture.figure.axes
    curves = {str(line.get_label()): line for line in index.lines}
    for one in review.at_gain(review.gain_db):
        assert np.array_equal(np.asarray(curves[one.effort].get_ydata()), one.cleaned)
        assert np.array_equal(np.asarray(curves[one.effort].get_xdata()), DISTANCES_M)
    # two bars a voice, each with its thin end
    assert len(bars.lines) == 4 * len(EFFORTS)
    normal = review.at_gain(review.gain_db)[0]
    ends = [float(np.asarray(line.get_xdata())[-1]) for line in bars.lines[:4]]
    radii = [normal.active.words_m, normal.farthest.words_m]
    radii += [normal.active.sentences_m, normal.farthest.sentences_m]
    assert ends == [min(radius, 300.0) for radius in radii]


def test_the_words_name_every_radius() -> None:
    words = radii_and_index(review_of(), "school road").alternative
    assert all(f"{effort} voice" in words for effort in EFFORTS)
    assert f"{FOLLOWED_INDEX:.2f}" in words
