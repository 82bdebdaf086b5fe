"""Rings around the microphone have the radii of the review."""

import numpy as np
import pytest

from audiolevel.privacy.intelligibility import EFFORTS
from audiolevel.report.privacy.rings import rings
from tests.privacy.made_review import review_of


def test_each_ring_is_as_wide_as_the_farther_radius_on_a_logarithmic_scale() -> None:
    review = review_of()
    words, sentences = rings(review, "school road").figure.axes
    for axes, name in ((words, "words_m"), (sentences, "sentences_m")):
        drawn = [line for line in axes.lines if line.get_linewidth() == 2]
        for line, one in zip(drawn, review.at_gain(review.gain_db), strict=True):
            radius = np.hypot(np.asarray(line.get_xdata()), np.asarray(line.get_ydata()))
            # from half a metre on, and nothing beyond what is claimed
            metres = min(max(getattr(one.farthest, name), 0.5), 300.0)
            assert radius == pytest.approx(np.log10(metres / 0.5))


def test_who_does_not_see_it_is_told_every_voice() -> None:
    words = rings(review_of(), "school road").alternative
    assert all(f"{effort} voice" in words for effort in EFFORTS)
    assert words.startswith("school road.")
