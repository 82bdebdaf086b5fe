"""Stated chances of detection against drawn events, mixed as waveforms over a real street."""

from pathlib import Path

import numpy as np
import pytest

from tests.studies import detection_study


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=() if i < 2 else pytest.mark.slow)
        for i, name in enumerate(detection_study.SOUNDS)
    ],
)
def test_the_sum_over_offsets_is_what_drawing_events_gives(recordings: Path, name: str) -> None:
    triggers, said, share = detection_study.brute_force(str(recordings), name, 2000)
    assert len(triggers) == 7
    # 2,000 draws are good to 2.2 points, the placements to 1
    assert [one.probability for one in said] == pytest.approx(share, abs=0.03)
    # no chance among them is a matter of course
    assert min(share) < 0.5 < max(share)


@pytest.mark.parametrize("cases", [12, pytest.param(100, marks=pytest.mark.slow)])
def test_stated_intervals_hold_the_share_of_sounds_recorded_by_others(
    recordings: Path, sound_theme: Path, cases: int
) -> None:
    inside = []
    for case in range(cases):
        said, share = detection_study.held(str(recordings), str(sound_theme), case, 300)
        # a share of 300 events is itself known to some per cent only
        inside += [
            one.low - 0.02 <= true <= one.high + 0.02
            for one, true in zip(said, share.tolist(), strict=True)
        ]
    assert np.mean(inside) >= 0.9
