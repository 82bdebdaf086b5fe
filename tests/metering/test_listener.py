"""One reading of a recording serves all who listen."""

from typing import Any

import numpy as np
import pytest

from audiolevel.metering.gain import Gains
from audiolevel.metering.listener import Listener, Request
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.row_gatherer import Span

RATE_HZ = 8000


def _request(span: Span | None = None, gains: Gains | None = None, **more: Any) -> Request:
    given: dict[str, Any] = dict.fromkeys(("channel", "start", "history", "on_block", "progress"))
    given |= {"second_core": False, "keep_levels": False} | more
    return Request(span=span, gains=gains, **given)


def _heard(wave: np.ndarray, request: Request) -> Listener:
    heard = Listener(recording_of_array(wave, RATE_HZ, "a.wav"), request)
    heard.listen()
    return heard


def test_all_that_was_read_is_heard_by_all() -> None:
    wave = np.random.default_rng(2).uniform(-0.9, 0.9, (10 * RATE_HZ, 2))
    told: list[int] = []
    blocks: list[np.ndarray] = []
    request = _request(
        gains=Gains((0.0, 6.0)), progress=told.append, on_block=lambda b: blocks.append(b.copy())
    )
    heard = _heard(wave, request)
    assert heard.duration_s == 10.0
    assert sum(told) == 10_000
    np.testing.assert_allclose(np.concatenate(blocks), wave, atol=1e-6)
    assert heard.rows.summary.rows == 1000
    # of a uniform wave up to 0.9 the share beyond a half is 4/9
    assert heard.half_scale_share == pytest.approx(4 / 9, abs=0.01)
    assert [one.gain_db for one in heard.simulator.result()] == [0.0, 6.0]


def test_one_channel_is_heard_alone() -> None:
    wave = np.zeros((4 * RATE_HZ, 2))
    wave[:, 1] = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(4 * RATE_HZ) / RATE_HZ)
    heard = _heard(wave, _request(channel=2))
    # a sine of half the amplitude is 6.02 dB below full scale
    assert heard.rows.summary.levels().laeq_db == pytest.approx(-6.02, abs=0.05)
    assert heard.channels == 1
    assert heard.simulator is None


def test_a_span_is_as_long_as_what_of_it_was_there() -> None:
    wave = np.random.default_rng(3).normal(0, 0.01, 30 * RATE_HZ)
    inside = _heard(wave, _request(Span(first_s=10, stop_s=20)))
    assert inside.duration_s == 10.0
    # the recording ends within it
    last = _heard(wave, _request(Span(first_s=20, stop_s=40)))
    assert last.duration_s == 10.0
