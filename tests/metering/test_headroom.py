"""Margins of a gain by hand, and the tail of a wave whose distribution is known."""

import numpy as np
import pytest

from audiolevel.metering.headroom import amplitude_tail, gain_margins
from audiolevel.metering.own_noise import OwnNoise


def test_tail_of_a_laplacian_wave_is_extrapolated_exactly() -> None:
    # P(|x| > a) = exp(−a/b): shares at 1 and 0.5 give any other
    b = 0.4
    tail = amplitude_tail(np.exp(-1 / b), np.exp(-0.5 / b))
    assert tail is not None
    assert tail.shape == pytest.approx(1.0)
    assert tail.share_beyond(3.0) == pytest.approx(np.exp(-3 / b))
    assert tail.amplitude_of(0.001) == pytest.approx(-b * np.log(0.001))
    assert amplitude_tail(0.0, 0.1) is None


def test_room_by_hand() -> None:
    judged = gain_margins(
        6.0,
        clipped_share=0.0004,
        sample_peak_db=-2.0,
        percentiles_db={"L10": -30.0, "L90": -55.0},
        noise=OwnNoise(None, -80.0),
        clipped_share_limit=0.001,
    )
    assert (judged.headroom_db, judged.headroom_l10_db, judged.footroom_db) == (-4.0, 24.0, 31.0)
    assert judged.usable
    in_noise = gain_margins(
        -24.0,
        clipped_share=0.0,
        sample_peak_db=-2.0,
        percentiles_db={"L10": -30.0, "L90": -55.0},
        noise=OwnNoise(None, -80.0),
        clipped_share_limit=0.001,
    )
    assert in_noise.footroom_db == 1.0
    assert not in_noise.usable
