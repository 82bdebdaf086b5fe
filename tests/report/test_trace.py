"""The thinned level history of a page, against the history itself."""

import base64

import numpy as np
import pytest

from audiolevel.report.trace import MOST_PAIRS, pairs_of, played_firings, stride_of, trace_object
from tests.made_street import heard


@pytest.mark.parametrize("stride", [1, 7, 50, 1000])
def test_every_level_lies_between_the_two_of_its_stretch(stride: int) -> None:
    laf = np.random.default_rng(3).integers(-9000, 0, 1003).astype(np.int16)
    pairs = pairs_of(laf, stride)
    for i, (low, high) in enumerate(pairs):
        piece = laf[i * stride : (i + 1) * stride]
        assert (low, high) == (piece.min(), piece.max())
    assert len(pairs) == -(-1003 // stride)


def test_nothing_heard_is_an_empty_trace() -> None:
    assert pairs_of(np.zeros(0, dtype=np.int16), 5).shape == (0, 2)


@pytest.mark.parametrize(
    ("rows", "seconds"), [(120_000, 1.0), (8_640_000, 1.0), (86_400_000, 10.0)]
)
def test_a_page_never_holds_more_pairs_than_it_can_draw(rows: int, seconds: float) -> None:
    """20 min, a day and ten days of rows every 10 ms; never finer than a second."""
    stride = stride_of(rows, 0.01)
    assert stride * 0.01 == pytest.approx(seconds)
    assert rows / stride <= MOST_PAIRS


def test_beyond_all_round_strides_it_still_fits() -> None:
    assert 10**10 / stride_of(10**10, 0.01) <= MOST_PAIRS


def test_the_page_holds_the_levels_of_the_measurement() -> None:
    measured = heard()
    (held,) = trace_object([measured])
    pairs = np.frombuffer(base64.b64decode(held["pairs"]), dtype="<i2").reshape(-1, 2)
    # three minutes: each second is a pair of its own
    assert measured.laf is not None
    seconds = measured.laf.reshape(-1, 100)
    np.testing.assert_array_equal(pairs[:, 0], seconds.min(axis=1))
    np.testing.assert_array_equal(pairs[:, 1], seconds.max(axis=1))
    assert (held["name"], held["start"], held["step_s"]) == (
        "lane.wav",
        "2026-03-03T12:00:00",
        1.0,
    )
    assert held["files"] == [{"name": "lane.wav", "duration_s": 180.0}]


def test_firings_are_told_at_the_end_of_their_row_and_too_many_not_at_all() -> None:
    first = [np.array([9, 199]), np.arange(5)]
    second = [np.array([0]), np.arange(6)]
    assert played_firings([first, second], 0.01, most=10) == [[[0.1, 2.0], [0.01]], None]
