"""The picture of a privacy review shows what the review holds, and says it in words."""

import numpy as np

from audiolevel.privacy.audibility import DISTANCES_M, UNDERSTOOD_INDEX
from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.report.privacy_figure import intelligibility_by_distance
from tests.privacy.made_review import review_of


def test_each_curve_is_that_of_its_vocal_effort() -> None:
    review = review_of()
    picture = intelligibility_by_distance(review, "school road")
    left, right = picture.figure.axes
    curves = {str(line.get_label()).split(":")[0]: line for line in left.lines}
    for one in review.at_gain(review.gain_db):
        assert np.array_equal(np.asarray(curves[one.effort].get_ydata()), one.quiet)
        assert np.array_equal(np.asarray(curves[one.effort].get_xdata()), DISTANCES_M)
    typical = [np.asarray(line.get_ydata()) for line in right.lines]
    assert any(np.array_equal(one, review.at_gain(review.gain_db)[0].typical) for one in typical)


def test_the_words_name_every_radius() -> None:
    words = intelligibility_by_distance(review_of(), "school road").alternative
    assert all(f"{effort} voice" in words for effort in EFFORTS)
    assert f"{UNDERSTOOD_INDEX:.2f}" in words
