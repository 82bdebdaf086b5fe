"""Spreads of a sound's level, and what heard events teach of its mean."""

import numpy as np
import pytest
from scipy import stats

from audiolevel.sounds.variation import CERTAIN, Variation


def test_spreads_of_independent_things_add_as_squares() -> None:
    assert Variation(event_db=3.0, unknown_db=4.0).predictive_db == pytest.approx(5.0)
    assert CERTAIN.predictive_db == 0.0


@pytest.mark.parametrize("offsets", [[-5.0], [-4.0, -6.0, -5.5], list(np.linspace(-9, 3, 20))])
def test_the_update_is_the_product_of_prior_and_likelihood(offsets: list[float]) -> None:
    """Against the product of the densities on a fine grid, normalised by summing."""
    prior = Variation(1.0, 4.7, 3.4)
    mean = np.linspace(-40, 40, 80_001)
    density = stats.norm.logpdf(mean, prior.mean_db, prior.unknown_db)
    for offset in offsets:
        density += stats.norm.logpdf(offset, mean, prior.event_db)
    weight = np.exp(density - density.max())
    weight /= weight.sum()
    after = prior.taught(offsets)
    assert after.mean_db == pytest.approx(weight @ mean, abs=1e-4)
    assert after.unknown_db == pytest.approx(
        np.sqrt(weight @ (mean - weight @ mean) ** 2), abs=1e-4
    )
    assert after.event_db == prior.event_db


def test_leaning_on_events_forgets_what_was_known() -> None:
    prior = Variation(0.0, 4.0, 3.0)
    after = prior.taught([-12.0, -14.0, -13.0, -13.0], lean=True)
    assert after.mean_db == -13.0
    assert after.unknown_db == pytest.approx(4.0 / 2)  # of the mean of four


def test_nothing_heard_teaches_nothing() -> None:
    prior = Variation(0.0, 4.0, 3.0)
    assert prior.taught([]) == prior
    assert CERTAIN.taught([3.0]) == CERTAIN
