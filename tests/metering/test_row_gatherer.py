"""What is gathered of level rows, whatever the blocks they come in."""

import numpy as np
import pytest

from audiolevel.metering.meter import Meter
from audiolevel.metering.row_gatherer import RowGatherer, Span, rows_per_s

RATE_HZ = 8000


def _gathered(block_s: float, span: Span | None = None) -> RowGatherer:
    wave = np.random.default_rng(8).normal(0, 0.05, 20 * RATE_HZ).astype(np.float32)
    wave[7 * RATE_HZ : 7 * RATE_HZ + 400] *= 8
    meter, rows = Meter(RATE_HZ, 1), RowGatherer(None, span, keep_levels=True)
    size = round(block_s * RATE_HZ)
    for first in range(0, len(wave), size):
        rows.add(meter.feed(wave[first : first + size, None]).rows)
    return rows


def test_blocks_of_any_length_give_the_same() -> None:
    whole, pieces = _gathered(20.0), _gathered(0.37)
    for one, other in zip(whole.seconds(), pieces.seconds(), strict=True):
        assert one == pytest.approx(other, abs=1e-4)
        assert len(one) == 20
    assert whole.laf is not None
    assert pieces.laf is not None
    assert np.abs(whole.laf - pieces.laf).max() <= 1
    assert whole.rises() == pieces.rises()


def test_every_second_has_its_ends() -> None:
    rows = _gathered(20.0)
    peak, highest, lowest = rows.seconds()
    assert rows.laf is not None
    by_second = rows.laf.reshape(20, 100) / 100
    assert lowest == pytest.approx(by_second.min(axis=1), abs=0.006)
    assert (highest >= by_second.max(axis=1) - 0.006).all()
    # the burst is in the seventh second and nowhere else
    assert int(peak.argmax()) == 7


def test_a_span_counts_its_own_seconds_only() -> None:
    span = _gathered(20.0, Span(5, 12))
    assert span.summary.rows == 700
    assert len(span.seconds()[0]) == 7


@pytest.mark.parametrize(("row_s", "rows"), [(0.01, 100), (0.125, 8), (0.3, 3), (1.0, 1), (2.0, 1)])
def test_rows_of_about_a_second(row_s: float, rows: int) -> None:
    assert rows_per_s(row_s) == rows
